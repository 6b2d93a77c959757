"""One piece: what it is, what it cost, what to charge for it, and what can be done with it next."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from costing.cost_sheets.printed_sheet import printed_sheet
from costing.cost_sheets.queries import cost_sheet, layers_of
from costing.locations.queries import LENT, STUDIO, Whereabouts, where_is
from costing.locations.wording import where_in_words
from costing.papers.queries import sizes_in_cm, sizes_in_inches
from costing.pieces.actions.pieces import add_labour, describe_piece, move_on, set_price, split_piece
from costing.pieces.calculations import (
    ALLOWED,
    DISPOSED,
    ENDS,
    RUINED,
    SELLABLE,
    WORKABLE,
    State,
    Way,
    steps_from,
)
from costing.pieces.forms.pieces import DescriptionForm, MinutesForm, PriceForm, StepForm
from costing.pieces.models import DESCRIPTION, Piece
from costing.pieces.queries import (
    photos_of_pours,
    poured_over_by,
    price_history,
    ready_on,
    standing_pieces,
    with_colours,
    with_parts,
)
from costing.pieces.tables import (
    LowestPriceTable,
    PlacementTable,
    PriceChangeTable,
    PriceToTakeTable,
    ProceedsTable,
    SimilarPieceTable,
)
from costing.pricing.arithmetic import sum_with_markup, sums_by_channel
from costing.pricing.models import PriceRules
from costing.pricing.queries import price_advice
from costing.selling.models import SaleLine
from costing.selling.queries import standing_line, standing_sale
from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.undo import minutes_left
from inventory.ledger.views.undo import undo_button
from inventory.sessions.queries.pour_history import cost_corrections_of
from studio.accounts.models import User
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.edit_conflicts import read_change_number
from studio.auditing.queries import last_change_number
from studio.issued.queries import issued_state
from studio.pages.forms import AskingForm, StudioForm
from studio.pages.papers import SmallPaperForm
from studio.pages.photo_form import PhotoForm
from studio.pages.reference import EditView
from studio.pages.saving import acted, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.money import LARGEST_AMOUNT
from studio.values.numbers import read_small_whole

PER_CENT = 10_000  # millionths
MOST_MARKUP = 1_000  # per cent of cost
# What the button of each mere step says. Finishing has a page of its own, for what it takes.
STEPS = {
    (State.WET, State.DRY): gettext_lazy("Mark as dry"),
    (State.DRY, State.WET): gettext_lazy("Mark as still wet"),
    (State.FINISHED, State.FOR_SALE): gettext_lazy("Offer for sale"),
    (State.FINISHED, State.DRY): gettext_lazy("Mark as not finished"),
    (State.FOR_SALE, State.FINISHED): gettext_lazy("Withdraw from sale"),
    (State.RESERVED, State.FOR_SALE): gettext_lazy("Cancel the reservation"),
}


def piece_or_404(pk: int) -> Piece:
    return get_object_or_404(with_parts(Piece.objects.all()), pk=pk)


def recorded(request: HttpRequest, form: StudioForm) -> dict[str, Any]:
    """What a valid form about a piece says, as an action takes it: its facts, and a submission for its day."""
    facts = dict(form.cleaned_data)
    on, key = facts.pop("on", None), facts.pop("key", "")
    facts.pop("confirmed", None)  # what the page carries of it; the form knows the tick too
    confirmed = form.confirmations if isinstance(form, AskingForm) else frozenset()
    return {**facts, "submission": submission_from(request, on=on, key=key, confirmed=confirmed)}


@require_safe
@role_required(*EVERYONE)
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    return piece_page(request, piece_or_404(pk))


class PieceEdit(EditView):
    """What is said of a piece, whatever has become of it."""

    queryset = with_parts(Piece.objects.all())
    model, form_class = Piece, DescriptionForm
    roles = WORKERS
    edit_name = page_name = "costing:piece"
    section, can_delete = "costing:pieces", False
    action = staticmethod(describe_piece)


@require_POST
@role_required(*WORKERS)
def step(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    form = StepForm(request.POST, prefix="step", studio=current_studio(request))
    if not saved(form, lambda: move_on(piece=piece, **recorded(request, form))):
        return piece_page(request, piece, status=422, step=form)
    state = State(piece.state).words
    done = _("“{title}” is now {state}.", title=piece.title, state=state)
    messages.success(request, _with_price_list(done) if _may_be_listed(piece, request) else done)
    return redirect("costing:piece", pk=pk)


def _may_be_listed(piece: Piece, request: HttpRequest) -> bool:
    return piece.state == State.FOR_SALE and current_user(request).sees_money


def _with_price_list(done: str) -> str:
    """What was done, and the next step: a list to hang up beside the pieces that are for sale."""
    link = ' <a href="{}">{}</a>'
    return format_html("{}" + link, done, reverse("costing:price-list"), _("Print the price list"))


@require_POST
@role_required(*WORKERS, money=True)
def price(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    form = PriceForm(request.POST, prefix="price", studio=current_studio(request))
    if not saved(form, lambda: set_price(piece=piece, **recorded(request, form))):
        return piece_page(request, piece, status=422, price=form)
    is_set = piece.price is not None
    messages.success(request, _("Asking price saved.") if is_set else _("Asking price removed."))
    return redirect("costing:piece", pk=pk)


@require_POST
@role_required(*WORKERS)
def minutes(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    form = MinutesForm(request.POST, prefix="minutes", studio=current_studio(request))
    labour = saved(form, lambda: add_labour(piece=piece, **recorded(request, form)))
    if not labour:
        return piece_page(request, piece, status=422, minutes=form)
    messages.success(
        request, _("{minutes} minutes added to “{title}”.", minutes=labour.minutes, title=piece.title)
    )
    return redirect("costing:piece", pk=pk)


@require_POST
@role_required(*WORKERS)
def split(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a piece apart; its pours are pours again, on the page of their session."""
    piece = get_object_or_404(Piece, pk=pk)
    session = piece.parts.values_list("pour__session", flat=True).order_by("pk").first()
    seen = read_change_number(request.POST.get("seen", ""))
    done = _("“{title}” has been split: its pours are free again.", title=piece.title)
    if not acted(
        request, lambda: split_piece(piece=piece, seen=seen, submission=submission_from(request)), done
    ):
        return redirect("costing:piece", pk=pk)
    return redirect("inventory:session", pk=session) if session else redirect("costing:pieces")


def piece_page(request: HttpRequest, piece: Piece, *, status: int = 200, **sent: StudioForm) -> HttpResponse:
    """The page of a piece; a form that was sent and refused stands in it as it was typed."""
    user, studio = current_user(request), current_studio(request)
    seen = last_change_number(Piece, piece.pk)
    piece.refresh_from_db(
        fields=["price", "photo", "thumbnail", *DESCRIPTION]
    )  # nothing older than what was seen
    with_colours([piece])
    comma, where = Formatter.of(studio).decimal_comma, where_is(piece)
    is_standing = standing_pieces().filter(pk=piece.pk).exists()
    size = sizes_in_cm(piece.pours, decimal_comma=comma)
    context: dict[str, Any] = {
        "title": piece.title,
        "lead": f"{piece.label}, {size}",
        "back_url": reverse("costing:pieces"),
        "back_label": _("Pieces"),
        "piece": piece,
        "size": size,
        "where": where_in_words(where, Formatter.of(studio), names_people=user.may_write),
        "placements": PlacementTable(
            piece.placements.select_related("location", "recorded_by").order_by("-pk"), request
        ),
        "inches": sizes_in_inches(piece.pours, decimal_comma=comma),
        "history": piece.steps.select_related("recorded_by").order_by("-pk"),
        "is_standing": is_standing,
        "poured_over_by": poured_over_by(piece),
        "ready_on": ready_on(piece, studio) if piece.state in (State.WET, State.DRY) else None,
        "today": timezone.localdate(),
        "section": "costing:pieces",
        "paper_form": SmallPaperForm.offered(
            studio, piece.title, piece.series, piece.edition, auto_id="paper_%s"
        ),
        "issued": issued_state("certificate", piece.pk, user),
    }
    if user.sees_money:
        context |= _money(request, piece, may_price=user.may_write and is_standing)
    if user.may_write and is_standing:
        context["offered"] = [] if piece.photo else photos_of_pours(piece)
        line = standing_line(piece)
        taken = read_small_whole(request.GET.get("ask", ""))
        context |= _possible(piece, user, line) | _forms(piece, studio, seen, sent, taken=taken)
        context["is_price_taken"] = taken is not None
        context["place_links"] = _place_links(piece, where)
        context["undo"] = _undo_of(line) if line and line.sale.corrects_id is None else None
    return render(request, "pieces/detail.html", context, status=status)


def _possible(piece: Piece, user: User, line: SaleLine | None) -> dict[str, Any]:
    """What this person can do with the piece from where it is."""
    here, order = State(piece.state), list(State)
    ways, may_work, is_dry, money = ALLOWED[here], here in WORKABLE, here is State.DRY, user.sees_money
    may_give = ways.get(State.GIVEN) is Way.DISPOSAL and money
    may_write_off = ways.get(State.WRITTEN_OFF) is Way.DISPOSAL
    more = _("Add another coat or fitting")
    links = (
        (is_dry, "piece-finish", piece, _("Finish it"), ""),
        (here in SELLABLE, "sell", piece, _("Sell it"), ""),
        (line is not None, "sale", line and line.sale, _("See its sale"), "is-quiet"),
        (line is not None, "sale-return", line, _("Record a return"), "is-quiet"),
        (here in (DISPOSED if money else RUINED), "piece-bring-back", piece, _("Bring it back"), "is-quiet"),
    )
    work_links = (
        (may_work, "piece-pack", piece, _("Pack it"), "is-quiet"),
        (may_work and not is_dry, "piece-finish", piece, more, "is-quiet"),
    )
    disposal_links = (
        (may_give, "piece-give", piece, _("Give it away or keep it"), "is-quiet"),
        (may_write_off, "piece-write-off", piece, _("Write it off"), "is-quiet"),
        (may_write_off, "piece-scrape", piece, _("Scrape it to pour over it"), "is-quiet"),
    )
    edit = {"url": reverse("costing:piece-edit", args=[piece.pk]), "label": _("Edit"), "kind": "is-quiet"}
    session = piece.pours[0].session_id
    of_session = [
        {"url": _repeat_url(piece), "label": _("Repeat exactly"), "kind": "is-plain"},
        {
            "url": reverse("costing:pieces-of-session", args=[session]),
            "label": _("All pieces of its session"),
            "kind": "is-plain",
        },
    ]
    opening = Posting.objects.filter(kind=PostingKind.OPENING, session=session).first()
    steps = [to for to in steps_from(here) if (here, to) in STEPS]
    is_onward = bool(steps) and order.index(steps[0]) > order.index(here)
    return {
        "links": [*_links(links), edit, *([] if opening else of_session)],
        "work_links": _links(work_links),
        "disposal_links": _links(disposal_links),
        "steps": [
            (to.value, STEPS[here, to], "" if is_onward and to is steps[0] else "is-quiet") for to in steps
        ],
        "is_onward": is_onward,
        "opening": opening,
        "may_work": here not in ENDS,
        "may_price": here not in ENDS and money,
    }


def _place_links(piece: Piece, where: Whereabouts) -> list[dict[str, str]]:
    """Where the piece can go from where it is, without leaving for good."""
    here = State(piece.state)
    if here in ENDS:
        return []
    back_or_on = _("Move it") if where.kind != LENT else _("Record its return")
    reserve = _("Change the reservation") if here is State.RESERVED else _("Reserve it")
    may_reserve = here is State.RESERVED or ALLOWED[here].get(State.RESERVED) is Way.STEP
    move = {
        "url": f"{reverse('costing:pieces-move')}?piece={piece.pk}",
        "label": back_or_on,
        "kind": "is-quiet",
    }
    links = (
        (may_reserve, "piece-reserve", piece, reserve, "is-quiet"),
        (where.kind == STUDIO, "piece-lend", piece, _("Lend it"), "is-quiet"),
    )
    return [move, *_links(links)]


def _repeat_url(piece: Piece) -> str:
    """The page that plans the piece once more as it was poured."""
    named = [("name", piece.title), *(("pour", pour.pk) for pour in piece.pours)]
    return f"{reverse('inventory:plan-repeat')}?{urlencode(named)}"


def _links(links: Iterable[tuple[bool, str, Any, str, str]]) -> list[dict[str, str]]:
    return [
        {"url": reverse(f"costing:{name}", args=[row.pk]), "label": label, "kind": kind}
        for may, name, row, label, kind in links
        if may
    ]


def _undo_of(line: SaleLine) -> dict[str, Any] | None:
    """The button that undoes a sale while it is fresh."""
    minutes = minutes_left(line.posting.recorded_at, at=timezone.now())
    return undo_button(reverse("costing:sale-undo", args=[line.sale_id]), minutes, what=_("Sale"))


def _forms(
    piece: Piece, studio: Studio, seen: int, sent: dict[str, StudioForm], *, taken: int | None
) -> dict[str, StudioForm]:
    """The forms of the page; `taken` is a suggested price to begin with, in millionths."""
    priced = {"price": piece.price if taken is None else min(taken, LARGEST_AMOUNT), "seen": seen}
    return {
        "step_form": sent.get("step") or StepForm(prefix="step", studio=studio),
        "minutes_form": sent.get("minutes") or MinutesForm(prefix="minutes", studio=studio),
        "photo_form": sent.get("photo") or PhotoForm(prefix="photo", studio=studio, initial={"seen": seen}),
        "price_form": sent.get("price") or PriceForm(prefix="price", studio=studio, initial=priced),
    }


def _asked_markup(request: HttpRequest) -> int:
    """The markup on cost that the page was asked for, in millionths; the studio's own without one that can be read."""
    field = forms.DecimalField(min_value=0, max_value=MOST_MARKUP, decimal_places=4)
    try:
        percent: Decimal = field.clean(request.GET.get("profit", ""))
    except ValidationError:
        return PriceRules.current().markup
    return int(percent * PER_CENT)


def _money(request: HttpRequest, piece: Piece, *, may_price: bool) -> dict[str, Any]:
    studio, sheet = current_studio(request), cost_sheet(piece)
    context: dict[str, Any] = {
        "sheet": printed_sheet(sheet, Formatter.of(studio)),
        "corrections": cost_corrections_of(layers_of([piece])[piece.pk].all),
        "sale": standing_sale(piece, sheet.summary.whole),
        "disposal": sheet.disposal,
    }
    if piece.state not in ENDS:
        markup = _asked_markup(request)
        advice = price_advice(piece, on=timezone.localdate(), markup=markup)
        context |= {
            "markup_typed": str(Decimal(markup) / PER_CENT),
            "markup": Formatter.of(studio).percent(markup),
            "advice": advice,
            "with_markup": sum_with_markup(advice, Formatter.of(studio)),
            "price_sums": sums_by_channel(advice.channels, Formatter.of(studio)),
            "lowest_prices": (PriceToTakeTable if may_price else LowestPriceTable)(advice.channels, request),
            "proceeds": ProceedsTable(
                advice.channels, request, without=() if advice.tax and advice.tax.value else ("tax",)
            ),
            "price_changes": PriceChangeTable(price_history(piece), request),
            "similar_pieces": SimilarPieceTable(advice.siblings, request),
        }
    return context
