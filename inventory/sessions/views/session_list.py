"""The list of sessions: filtered, newest first, page by page."""

from dataclasses import dataclass

from django.core.paginator import Paginator
from django.db.models import Count, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.ledger.models import Entry, Place
from inventory.sessions.models import Pour, Session, Technique
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.query_values import whole_number, year_of

PER_PAGE = 50


@dataclass(frozen=True, slots=True)
class SessionFilter:
    """What the list was asked to show; anything unreadable is left out."""

    technique: int | None
    year: int | None
    words: str

    @classmethod
    def of(cls, query: QueryDict) -> "SessionFilter":
        return cls(
            whole_number(query.get("technique", "")),
            year_of(query.get("year", "")),
            query.get("words", "").strip()[:100],
        )

    def __bool__(self) -> bool:
        return bool(self.technique or self.year or self.words)

    def chosen(self) -> QuerySet[Session]:
        """The sessions that fit, newest first."""
        found = Session.objects.all()
        pours = Pour.objects.all()
        if self.technique:
            found = found.filter(pk__in=pours.filter(technique=self.technique).values("session"))
        if self.year:
            found = found.filter(held_on__year=self.year)
        for word in self.words.split():
            fitting = pours.filter(
                Q(surface__name__icontains=word) | Q(notes__icontains=word) | Q(arm__icontains=word)
            )
            found = found.filter(
                Q(title__icontains=word)
                | Q(notes__icontains=word)
                | Q(mixes__version__recipe__name__icontains=word)
                | Q(pk__in=fitting.values("session"))
            )
        return found.distinct().order_by("-held_on", "-pk")


@dataclass(frozen=True, slots=True)
class ShownSession:
    """One line of the list."""

    session: Session
    techniques: str
    pours: int
    failed: int
    cost: int


@require_safe
@role_required(*EVERYONE)
def sessions(request: HttpRequest) -> HttpResponse:
    user, asked = current_user(request), SessionFilter.of(request.GET)
    chosen = asked.chosen().select_related("posting__reversed_by")
    page_obj = Paginator(chosen, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page_obj": page_obj,
        "rows": shown_sessions(list(page_obj)),
        "asked": asked,
        "techniques": Technique.objects.all(),
        "years": [day.year for day in Session.objects.dates("held_on", "year", order="DESC")],
        "may_log": user.may_write,
        "repeat": repeat_url(latest_session()),
    }
    return render(request, "sessions/list.html", context)


def latest_session() -> Session | None:
    """The last session that stands."""
    latest: Session | None = Session.objects.standing().order_by("-held_on", "-pk").first()
    return latest


def repeat_url(session: Session | None) -> str:
    """The address that writes a session into a new form; empty when there is none."""
    return f"{reverse('inventory:session-new')}?repeat={session.pk}" if session else ""


def shown_sessions(found: list[Session]) -> list[ShownSession]:
    """What the list says of each session, in three queries however many there are."""
    numbers = [session.pk for session in found]
    pours = Pour.objects.filter(session__in=numbers).order_by()
    counts = {
        session: (pours_in_all, failed)
        for session, pours_in_all, failed in pours.values_list("session_id").annotate(
            pours=Count("pk"), failed=Count("pk", filter=Q(outcome=Pour.Outcome.FAILED))
        )
    }
    named: dict[int, list[str]] = {}
    for session, name in (
        pours.values_list("session_id", "technique__name").distinct().order_by("technique__name")
    ):
        named.setdefault(session, []).append(name)
    costs = dict(
        Entry.objects.filter(posting__in=[session.posting_id for session in found], place=Place.WORK)
        .order_by()
        .values_list("posting_id")
        .annotate(total=Sum("money"))
    )
    return [
        ShownSession(
            session,
            ", ".join(named.get(session.pk, [])),
            *counts.get(session.pk, (0, 0)),
            costs.get(session.posting_id, 0),
        )
        for session in found
    ]
