"""The pieces of a session at once: named, dried, finished, packed, priced and offered on one page."""

from collections.abc import Collection, Mapping, Sequence
from functools import reduce
from itertools import count
from operator import or_

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from costing.pieces.actions.together import work_on_pieces
from costing.pieces.forms.pieces import FOR_FINISHING, FOR_PACKING, used_rows
from costing.pieces.forms.together import MOST_PIECES, Candidate, TogetherForm, among_rows
from costing.pieces.models import Piece, PiecePour
from costing.pieces.queries import photos_of_session, pieces_of_session, pours_without_piece, usual_materials
from inventory.ledger.models import EntryRole
from inventory.materials.models import Kind
from inventory.sessions.models import Pour, Session, SessionPhoto
from inventory.sessions.queries.session_costs import costs_of_pours
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.formsets import Rows
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.models import Studio
from studio.translation import _, ngettext

MOST_DIGITS = 6  # of a number that counts pieces of one name


def candidates_of(session: Session) -> list[Candidate]:
    """What of a session can be taken on: its good pours in no piece yet, and its pieces that have not left."""
    of_session = PiecePour.objects.filter(pour__session=session)
    seen = last_change_number(
        Piece, *of_session.values_list("piece", flat=True)
    )  # before the pieces themselves
    by_pour, table = photos_of_session(session)
    loose = list(pours_without_piece().filter(session=session))
    charged = costs_of_pours(session.pours.values_list("pk", flat=True))
    pours = [
        Candidate([pour], photos=by_pour.get(pour.pk) or table, title=title, charged=charged.get(pour.pk, 0))
        for pour, title in zip(loose, _titles(session, loose), strict=True)
    ]
    pieces = [
        Candidate(
            piece.pours,
            piece=piece,
            photos=[] if piece.photo else _photos(piece, by_pour) or table,
            seen=seen,
            charged=sum(charged.get(pour.pk, 0) for pour in piece.pours),
        )
        for piece in pieces_of_session(session)
    ]
    return [*pours, *pieces][:MOST_PIECES]


def _titles(session: Session, pours: Sequence[Pour]) -> list[str]:
    """The session's title or the technique, numbered as the pours are, or on from the pieces that have that name."""
    own = _title_of_its_own(session, pours)
    names = [own or pour.technique.name for pour in pours]
    taken = _numbers_by_name(set(names))
    clashing = {name for name, pour in zip(names, pours, strict=True) if pour.number in taken[name]}
    following = {name: count(max(taken[name]) + 1) for name in clashing}
    return [
        f"{name} {next(following[name]) if name in clashing else pour.number}"[:160]
        for name, pour in zip(names, pours, strict=True)
    ]


def _numbers_by_name(names: Collection[str]) -> dict[str, set[int]]:
    """Which numbers pieces of each name have: 1 and 3 of "Low water 1" and "Low water 3". One query."""
    numbers: dict[str, set[int]] = {name: set() for name in names}
    begins = reduce(or_, (Q(title__startswith=f"{name} ") for name in names), Q(pk__in=()))
    for title in Piece.objects.filter(begins).values_list("title", flat=True):
        name, _space, end = title.rpartition(" ")
        if name in numbers and end.isdecimal() and len(end) < MOST_DIGITS:
            numbers[name].add(int(end))
    return numbers


def _title_of_its_own(session: Session, pours: Sequence[Pour]) -> str:
    """What the session was called, unless that is what a plan made of its surfaces: "2 × Canvas 30 × 30 cm, Ring"."""
    title = session.title.strip()
    is_made_up = any(f" × {pour.surface.name}" in title for pour in pours)
    return "" if is_made_up else title


def _photos(piece: Piece, by_pour: Mapping[int, list[SessionPhoto]]) -> list[SessionPhoto]:
    photos = [photo for pour in piece.pours for photo in by_pour.get(pour.pk, [])]
    return list(dict.fromkeys(photos))


def _work_rows(data: QueryDict | None, candidates: Sequence[Candidate], studio: Studio) -> tuple[Rows, Rows]:
    """Rows of what finishing and packing take, at first with what pieces as these usually took."""
    ticked = [each for each in candidates if not each.is_offered]
    unfinished = [pour for each in ticked if each.is_unfinished for pour in each.pours]
    unpacked = [pour for each in ticked for pour in each.pours]

    def rows(prefix: str, kinds: tuple[Kind, ...], role: EntryRole, pours: list[Pour]) -> Rows:
        usual = [] if data or not pours else usual_materials(pours, role)
        return used_rows(data, studio=studio, kinds=kinds, usual=usual, prefix=prefix)

    return (
        rows("used", FOR_FINISHING, EntryRole.FINISH, unfinished),
        rows("packed", FOR_PACKING, EntryRole.PACKING, unpacked),
    )


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def of_session(request: HttpRequest, pk: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.standing(), pk=pk)
    data, studio = request.POST or None, current_studio(request)
    candidates = candidates_of(session)
    among = among_rows(
        data,
        request.FILES or None,
        studio=studio,
        candidates=candidates,
        sees_money=current_user(request).sees_money,
    )
    form = TogetherForm(data, studio=studio)
    used, packed = _work_rows(data, candidates, studio)

    def act() -> list[Piece]:
        sent = form.cleaned_data
        return work_on_pieces(
            facts=form.facts(among=among, used=used, packed=packed),
            submission=submission_from(request, on=sent["on"], key=sent["key"]),
            anyway=sent["anyway"],
            confirm_gain=sent["confirm_gain"],
        )

    pieces = saved(form, act, among=among, used=used, packed=packed)
    if pieces is not None:
        messages.success(
            request,
            ngettext(
                "{count} piece saved. Write its number on the back.",
                "{count} pieces saved. Write their numbers on the backs.",
                len(pieces),
                count=len(pieces),
            ),
        )
        return redirect(f"{reverse('costing:pieces')}?session={session.pk}")
    context = {
        "title": _("Pieces of {session}", session=session),
        "back_url": reverse("inventory:session", args=[session.pk]),
        "back_label": str(session),
        "session": session,
        "form": form,
        "among": among,
        "used": used,
        "packed": packed,
        "formsets": [(_("Piece"), among), (_("Finishing"), used), (_("Packing"), packed)],
        "has_row_errors": any(rows.total_error_count() for rows in (among, used, packed) if rows.is_bound),
        "has_lost_photos": bool(request.FILES),
        "section": "costing:pieces",
    }
    return render(request, "pieces/of_session.html", context, status=form_status(form))
