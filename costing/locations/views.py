"""Where pieces are: the places and what each holds; moving several at once, lending one, reserving one."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from costing.locations.actions import add_location, lend_piece, move_pieces, reserve_piece
from costing.locations.forms import LocationForm, MoveForm, NewLocationForm, PersonForm
from costing.locations.models import Location, LocationKind
from costing.locations.queries import current_placements, held_by_place, pieces_at, where_are
from costing.locations.tables import LocationTable, PlacedPiece, PlacedPieceTable
from costing.locations.wording import place_of
from costing.pieces.calculations import ENDS
from costing.pieces.filters import PieceFilter
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces, with_parts
from costing.pieces.views.piece import piece_or_404, recorded
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.reference_rows import set_columns
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import form_page, saved, submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.translation import _, ngettext
from studio.values.numbers import read_small_whole

LOCATIONS, PIECES = "costing:locations", "costing:pieces"
MOST_LISTED = 300  # on one page; the filter finds the others


@require_safe
@role_required(*EVERYONE)
def locations(request: HttpRequest) -> HttpResponse:
    rows = held_by_place()
    totals = {"pieces": sum(row.count for row in rows), "value": sum(row.value for row in rows)}
    return list_page(request, "locations/list.html", LocationTable(rows, request, totals=totals), {})


@require_safe
@role_required(*EVERYONE)
def location(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Location.objects.select_related("channel", "contact"), pk=pk)
    pieces = {piece.pk: piece for piece in with_parts(pieces_at(row))}
    placements = current_placements().filter(piece__in=pieces).order_by("on", "pk")
    rows = [PlacedPiece(pieces[each.piece_id], each) for each in placements]
    total = sum(each.piece.price or 0 for each in rows)
    context = {
        "title": row.name,
        "location": row,
        "back_url": reverse(LOCATIONS),
        "back_label": _("Locations"),
        "section": LOCATIONS,
    }
    table = PlacedPieceTable(rows, request, totals={"price": total} if rows else {})
    return list_page(request, "locations/page.html", table, context)


class LocationEdit(EditView):
    model, form_class = Location, LocationForm
    roles = WORKERS
    edit_name, page_name, list_name = "costing:location", "costing:location", LOCATIONS
    list_label, add_title = gettext_lazy("Locations"), gettext_lazy("Add a location")


class LocationNew(LocationEdit):
    form_class = NewLocationForm

    def get_initial(self) -> dict[str, Any]:
        """A gallery where the address asks for one."""
        kind = self.request.GET.get("kind", "")
        return super().get_initial() | ({"kind": kind} if kind in LocationKind.values else {})

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"may_add_channel": current_user(self.request).is_owner}

    def written(self, form: NewLocationForm) -> Location:
        return add_location(
            form.instance,
            terms=form.terms,
            adds_contact=form.cleaned_data["adds_contact"],
            submission=submission_from(self.request),
        )


class LocationDelete(DeleteView):
    model = Location
    roles = WORKERS
    edit_name, list_name = "costing:location", LOCATIONS
    note = gettext_lazy(
        "Only a location where no piece has been can be deleted; any other can be deactivated."
    )


@require_POST
@role_required(*WORKERS)
def location_activity(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a location, or offer it again: which of them, the button says."""
    is_active = request.POST.get("active") == "yes"
    row = get_object_or_404(Location, pk=pk)
    set_columns(row, submission=submission_from(request), is_active=is_active)
    if is_active:
        messages.success(request, _("“{name}” is offered again.", name=row))
    else:
        messages.success(request, _("“{name}” is no longer offered.", name=row))
    return redirect("costing:location", pk=pk)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def move(request: HttpRequest) -> HttpResponse:
    """Tick pieces of the list, filtered as it was, and say where they go."""
    filters = PieceFilter(request.GET, standing_pieces(), request=request)
    found = list(with_parts(filters.qs.exclude(state__in=ENDS)[:MOST_LISTED]))
    where = where_are(found)
    chosen = read_small_whole(request.GET.get("piece", ""))
    form = MoveForm(
        request.POST or None,
        studio=current_studio(request),
        listed=[(piece, place_of(piece, where[piece.pk])) for piece in found],
        initial={"pieces": [chosen] if chosen else []},
    )

    def act() -> list[Any]:
        sent = form.cleaned_data
        ticked = [piece for piece in found if piece.pk in sent["pieces"]]
        submission = submission_from(request, on=sent["on"], key=sent["key"])
        return move_pieces(pieces=ticked, to=sent["to"], note=sent["note"], submission=submission)

    moved = saved(form, act)
    if moved is not None:
        count = len(moved)
        done = ngettext("{n} piece moved.", "{n} pieces moved.", count, n=count)
        messages.success(request, done if count else _("They were there already."))
        to = form.cleaned_data["to"]
        return redirect("costing:location", pk=to.pk) if to else redirect(LOCATIONS)
    return form_page(
        request,
        form,
        "locations/move.html",
        title=_("Move pieces"),
        filters=filters,
        back_url=reverse(PIECES),
        back_label=_("Pieces"),
        section=PIECES,
    )


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def lend(request: HttpRequest, pk: int) -> HttpResponse:
    done = _("“{title}” is lent. Move it back to the studio when it returns.")
    return _for_somebody(request, pk, lend_piece, _("Lend it"), done)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def reserve(request: HttpRequest, pk: int) -> HttpResponse:
    return _for_somebody(request, pk, reserve_piece, _("Reserve it"), _("“{title}” is reserved."))


def _for_somebody(
    request: HttpRequest, pk: int, action: Callable[..., object], title: str, done: str
) -> HttpResponse:
    piece: Piece = piece_or_404(pk)
    form = PersonForm(request.POST or None, studio=current_studio(request))
    if saved(form, lambda: action(piece=piece, **recorded(request, form))):
        messages.success(request, done.format(title=piece.title))
        return redirect("costing:piece", pk=pk)
    return form_page(
        request,
        form,
        title=f"{title}: {piece.title}",
        back_url=reverse("costing:piece", args=[pk]),
        back_label=piece.title,
        section=PIECES,
    )
