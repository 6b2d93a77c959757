"""The list of postings: filtered, newest first, page by page."""

from dataclasses import dataclass
from datetime import date

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from inventory.ledger.models import Entry, Place, Posting, PostingKind, Reason
from inventory.materials.models import Material
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.query_values import whole_number

PER_PAGE = 50


@dataclass(frozen=True, slots=True)
class PostingFilter:
    """What the list was asked to show; anything unreadable is left out."""

    kind: str
    first: date | None
    last: date | None
    material: int | None
    place: str
    reason: int | None
    words: str

    @classmethod
    def of(cls, query: QueryDict) -> "PostingFilter":
        kind, place = query.get("kind", ""), query.get("place", "")
        return cls(
            kind if kind in PostingKind.values else "",
            day_of(query.get("first", "")),
            day_of(query.get("last", "")),
            whole_number(query.get("material", "")),
            place if place in Place.values else "",
            whole_number(query.get("reason", "")),
            query.get("words", "").strip()[:100],
        )

    def __bool__(self) -> bool:
        return any((self.kind, self.first, self.last, self.material, self.place, self.reason, self.words))

    @property
    def is_narrow(self) -> bool:
        """Whether one of the folded filters is in use."""
        return any((self.place, self.reason, self.first, self.last))

    def chosen(self) -> QuerySet[Posting]:
        """The postings that fit, newest first."""
        found = Posting.objects.all()
        if self.kind:
            found = found.filter(kind=self.kind)
        if self.first:
            found = found.filter(effective_on__gte=self.first)
        if self.last:
            found = found.filter(effective_on__lte=self.last)
        if self.material or self.place or self.reason:
            found = found.filter(pk__in=self._entries().values("posting"))
        for word in self.words.split():
            fits = Q(note__icontains=word) | Q(recorded_by__username__icontains=word)
            if (number := whole_number(word)) is not None:
                fits |= Q(number=number)
            found = found.filter(fits)
        return found.order_by("-number")

    def _entries(self) -> QuerySet[Entry]:
        entries = Entry.objects.all()
        if self.material:
            entries = entries.filter(material=self.material)
        if self.place:
            entries = entries.filter(place=self.place)
        if self.reason:
            entries = entries.filter(reason=self.reason)
        return entries


def day_of(text: str) -> date | None:
    """A day from an address, or nothing."""
    try:
        return parse_date(text)
    except ValueError:
        return None


@require_safe
@role_required(*EVERYONE)
def postings(request: HttpRequest) -> HttpResponse:
    asked = PostingFilter.of(request.GET)
    chosen = asked.chosen().select_related("recorded_by", "reverses", "reversed_by")
    context = {
        "page_obj": Paginator(chosen, PER_PAGE).get_page(request.GET.get("page")),
        "asked": asked,
        "kinds": PostingKind.choices,
        "places": Place.choices,
        "materials": Material.objects.filter(is_free=False).values_list("pk", "name"),
        "reasons": Reason.objects.values_list("pk", "name"),
    }
    return render(request, "ledger/list.html", context)
