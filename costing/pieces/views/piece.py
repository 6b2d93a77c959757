"""One piece: what it is, what it really cost, what may be asked for it, and what can be done with it next."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from costing.cost_sheets.printed_sheet import printed_sheet
from costing.papers.queries import sizes_in_cm, sizes_in_inches, techniques, with_parts
from costing.pieces.actions.photos import photos_of_pours
from costing.pieces.actions.pieces import add_labour, move_on, ready_on, set_price, standing_pieces
from costing.pieces.calculations import ALLOWED, ENDS, SELLABLE, WAYS_OUT, WORKABLE, State, Way, steps_from
from costing.pieces.forms.pieces import MinutesForm, PhotoForm, PriceForm, StepForm
from costing.pieces.models import Piece
from costing.pieces.tables import LowestPriceTable, ProceedsTable, SimilarPieceRow, SimilarPieceTable
from costing.pricing.queries import USUAL_PROFIT, price_advice
from costing.selling.models import Sale
from costing.selling.queries import cost_sheet_with_sale
from inventory.ledger.undo import minutes_left
from inventory.ledger.views.undo import undo_button
from inventory.sessions.models import Pour
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.forms import StudioForm
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

PER_CENT = 10_000  # millionths
MOST_PROFIT = 1_000  # per cent of cost
# What the button of each mere step says. Finishing has a page of its own, for what it takes.
STEPS = {
    (State.WET, State.DRY): gettext_lazy("Mark as dry"),
    (State.DRY, State.WET): gettext_lazy("Mark as still wet"),
    (State.FINISHED, State.FOR_SALE): gettext_lazy("Offer for sale"),
    (State.FINISHED, State.RESERVED): gettext_lazy("Reserve it"),
    (State.FINISHED, State.DRY): gettext_lazy("Mark as not finished"),
    (State.FOR_SALE, State.RESERVED): gettext_lazy("Reserve it"),
    (State.FOR_SALE, State.FINISHED): gettext_lazy("Withdraw from sale"),
    (State.RESERVED, State.FOR_SALE): gettext_lazy("Cancel the reservation"),
}


def piece_or_404(pk: int) -> Piece:
    return get_object_or_404(with_parts(Piece.objects.all()), pk=pk)


@require_safe
@role_required(*EVERYONE)
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    return piece_page(request, piece_or_404(pk))


@require_POST
@role_required(*WORKERS)
def step(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = StepForm(request.POST, prefix="step", studio=current_studio(request))
    if form.is_valid():
        said = form.cleaned_data
        try:
            move_on(
                piece=found,
                to=said["to"],
                note=said["note"],
                submission=submission_from(request, on=said["on"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request, _("“{title}” is now {state}.", title=found.title, state=State(said["to"]).words)
            )
            return redirect("costing:piece", pk=pk)
    return piece_page(request, found, status=422, step=form)


@require_POST
@role_required(*WORKERS, money=True)
def price(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = PriceForm(request.POST, prefix="price", studio=current_studio(request))
    if form.is_valid():
        try:
            set_price(piece=found, submission=submission_from(request), **form.cleaned_data)
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            is_set = found.price is not None
            messages.success(request, _("Asking price saved.") if is_set else _("Asking price removed."))
            return redirect("costing:piece", pk=pk)
    return piece_page(request, found, status=422, price=form)


@require_POST
@role_required(*WORKERS)
def minutes(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = MinutesForm(request.POST, prefix="minutes", studio=current_studio(request))
    if form.is_valid():
        said = form.cleaned_data
        try:
            add_labour(
                piece=found,
                work=said["work"],
                minutes=said["minutes"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(
                request,
                _("{minutes} minutes added to “{title}”.", minutes=said["minutes"], title=found.title),
            )
            return redirect("costing:piece", pk=pk)
    return piece_page(request, found, status=422, minutes=form)


def piece_page(request: HttpRequest, found: Piece, *, status: int = 200, **sent: StudioForm) -> HttpResponse:
    """The page of a piece; a form that was sent and refused stands in it as it was typed."""
    user, studio = current_user(request), current_studio(request)
    seen = last_change_number(Piece, found.pk)
    found.refresh_from_db(fields=["price", "photo", "thumbnail"])  # nothing older than what was seen
    pours = [part.pour for part in found.parts.all()]
    formatter = Formatter.of(studio)
    is_standing = standing_pieces().filter(pk=found.pk).exists()
    context: dict[str, Any] = {
        "piece": found,
        "pours": pours,
        "size": sizes_in_cm(pours, decimal_comma=formatter.decimal_comma),
        "inches": sizes_in_inches(pours, decimal_comma=formatter.decimal_comma),
        "technique": techniques(pours),
        "is_round": all(pour.surface.is_round for pour in pours),
        "history": found.steps.select_related("recorded_by").order_by("-pk"),
        "is_standing": is_standing,
        "ready_on": ready_on(found, studio) if found.state in (State.WET, State.DRY) else None,
        "today": timezone.localdate(),
        "section": "costing:pieces",
    }
    if user.may_write and is_standing:
        context["offered"] = [] if found.photo else photos_of_pours(found)
        context["undo"] = _undo_of_sale(found, user)
        context |= _possible(found, user) | _forms(found, studio, seen, sent)
    if user.sees_money:
        context |= _money(request, found, pours, formatter)
    return render(request, "pieces/detail.html", context, status=status)


def _possible(found: Piece, user: User) -> dict[str, Any]:
    """What this person can do with the piece from where it is."""
    here = State(found.state)
    ways = ALLOWED[here]
    return {
        "steps": [
            (to.value, STEPS[here, to], _is_onward(here, to))
            for to in steps_from(here)
            if (here, to) in STEPS
        ],
        "may_finish": here in WORKABLE,
        "is_finished": here in WORKABLE and here is not State.DRY,
        "may_work": here not in ENDS,
        "may_sell": here in SELLABLE and user.sees_money,
        "may_give": ways.get(State.GIVEN) is Way.WAY_OUT and user.sees_money,
        "may_write_off": ways.get(State.WRITTEN_OFF) is Way.WAY_OUT,
        "may_bring_back": here in WAYS_OUT,
        "to_return": _standing_sale(found) if here is State.SOLD and user.sees_money else None,
        "may_price": here not in ENDS and user.sees_money,
    }


def _undo_of_sale(found: Piece, user: User) -> dict[str, Any] | None:
    """One touch takes a sale back while it is fresh."""
    sale = _standing_sale(found) if found.state == State.SOLD and user.sees_money else None
    if sale is None:
        return None
    minutes = minutes_left(sale.posting.recorded_at, at=timezone.now())
    return undo_button(reverse("costing:sale-undo", args=[sale.pk]), minutes, what=_("Sale"))


def _is_onward(here: State, to: State) -> bool:
    order = list(State)
    return order.index(to) > order.index(here)


def _forms(found: Piece, studio: Studio, seen: int, sent: dict[str, StudioForm]) -> dict[str, StudioForm]:
    today = {"on": timezone.localdate()}
    return {
        "step_form": sent.get("step") or StepForm(prefix="step", studio=studio, initial=today),
        "minutes_form": sent.get("minutes") or MinutesForm(prefix="minutes", studio=studio, initial=today),
        "photo_form": sent.get("photo") or PhotoForm(prefix="photo", studio=studio, initial={"seen": seen}),
        "price_form": sent.get("price")
        or PriceForm(prefix="price", studio=studio, initial={"price": found.price, "seen": seen}),
    }


def _money(request: HttpRequest, found: Piece, pours: list[Pour], formatter: Formatter) -> dict[str, Any]:
    sheet = cost_sheet_with_sale(found)
    facts: dict[str, Any] = {
        "sheet": printed_sheet(sheet, formatter),
        "sale": sheet.sale,
        "way_out": sheet.way_out,
        "sales": found.sales.select_related("channel").order_by("-pk"),
    }
    if found.state not in ENDS:
        profit = wanted_profit(request)
        advice = price_advice(found, profit_rate=profit * PER_CENT)
        without = () if current_studio(request).tax_rate else ("tax",)
        facts |= {
            "profit": profit,
            "advice": advice,
            "lowest_prices": LowestPriceTable(advice.channels, request),
            "proceeds": ProceedsTable(advice.channels, request, without=without),
            "similar_pieces": SimilarPieceTable(
                [SimilarPieceRow(piece, piece.piece_id == found.pk) for piece in advice.siblings], request
            ),
        }
    return facts


def wanted_profit(request: HttpRequest) -> int:
    """The profit wanted on top of the cost, in per cent, from the address."""
    asked = whole_number(request.GET.get("profit", ""))
    return USUAL_PROFIT // PER_CENT if asked is None else min(asked, MOST_PROFIT)


def _standing_sale(found: Piece) -> Sale | None:
    return found.sales.filter(returned_on__isnull=True).select_related("posting").first()
