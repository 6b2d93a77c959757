"""Ledger pages: the list, one posting, its reversal, and where every penny is."""

from datetime import date
from typing import cast
from urllib.parse import urlencode

from django.contrib import messages
from django.db.models import QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.dateparse import parse_date
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.ledger.accounts import AccountReference
from inventory.ledger.filters import PostingFilter
from inventory.ledger.forms import ReversalForm
from inventory.ledger.models import Entry, EntryRole, Place, Posting, Reason
from inventory.ledger.movements import RecordedMovement, movements_seen, names_in, posted_movements
from inventory.ledger.reversals import may_reverse, refuse_without_right
from inventory.ledger.reversals import reverse as reverse_posting
from inventory.ledger.summaries import reversal_obstacle, summary_of
from inventory.ledger.tables import (
    LossTable,
    MovementRow,
    PostingMovementTable,
    PostingTable,
    WorthLine,
    WorthTable,
)
from inventory.ledger.undo import standing_corrections
from inventory.ledger.views.one_posting import origin_of, origin_url, posting_or_404
from inventory.ledger.views.undo import undo_of
from inventory.materials.models import Kind
from inventory.purchasing.correction_history import correction_of_posting
from inventory.recipes.models import Mix
from inventory.stock.actions.opening_stock import opening_stock
from inventory.stock.opening_history import opening_figures
from inventory.stock.valuation import Worth, worth_by_place
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.saving import form_page, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.allocation import allocate
from studio.values.money import rounding_left_over

PER_PAGE = 50
LEDGER = {
    "section": "inventory:postings",
    "back_url": reverse_lazy("inventory:postings"),
    "back_label": gettext_lazy("Ledger"),
}

# Whole phrases, because not every language writes a noun inside a line in small letters.
ON_THE_SHELF = {
    Kind.PAINT: gettext_lazy("In stock: paint"),
    Kind.MEDIUM: gettext_lazy("In stock: medium"),
    Kind.ADDITIVE: gettext_lazy("In stock: additive"),
    Kind.MIX: gettext_lazy("In stock: mixed colour"),
    Kind.SURFACE: gettext_lazy("In stock: surface"),
    Kind.FINISH: gettext_lazy("In stock: finish"),
    Kind.SUNDRY: gettext_lazy("In stock: sundry"),
    Kind.PACKAGING: gettext_lazy("In stock: packaging"),
}
WAYS_OUT = {
    Reason.Kind.LOSS: gettext_lazy("loss"),
    Reason.Kind.NORMAL: gettext_lazy("normal loss, a cost of making"),
    Reason.Kind.GIFT: gettext_lazy("gift"),
    Reason.Kind.OWN_USE: gettext_lazy("own use"),
    Reason.Kind.SAMPLE: gettext_lazy("sample"),
    Reason.Kind.COUNT: gettext_lazy("stocktake difference"),
}


@require_safe
@role_required(*EVERYONE)
def postings(request: HttpRequest) -> HttpResponse:
    listed = Posting.objects.select_related("recorded_by", "reverses", "reversed_by")
    filters = PostingFilter(request.GET, listed, request=request)
    if filters.is_of_losses:
        return _losses(request, filters)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {"title": _("Ledger"), "page_obj": page_obj, "filters": filters, "what": _("postings")}
    return list_page(request, "ledger/list.html", PostingTable(page_obj, request, filters), context)


def _losses(request: HttpRequest, filters: PostingFilter) -> HttpResponse:
    """What was lost, given away or found, entry by entry, with the total of all pages."""
    by_day = filters.order.endswith("day")
    descending = "-" if filters.order.startswith("-") else ""
    order = [f"{descending}{name}" for name in (["effective_on"] if by_day else []) + ["posting_id", "line"]]
    page_obj = page_of(request, filters.entries.order_by(*order), PER_PAGE)
    lost = filters.entries.aggregate(sum=Sum("money"))["sum"] or 0
    has_total = current_user(request).sees_money and len(page_obj) > 0
    rows = movements_seen(cast("QuerySet[Entry]", page_obj.object_list))
    table = LossTable(rows, request, filters, totals={"money": -lost} if has_total else {})
    context = {"title": _("Ledger"), "page_obj": page_obj, "filters": filters, "what": _("movements")}
    return list_page(request, "ledger/list.html", table, context)


@require_safe
@role_required(*EVERYONE)
def posting(request: HttpRequest, number: int) -> HttpResponse:
    row, user, formatter = (
        posting_or_404(number),
        current_user(request),
        Formatter.of(current_studio(request)),
    )
    movements = posted_movements(row)
    summary = summary_of(movements)
    obstacle = reversal_obstacle(row)
    context = {
        "posting": row,
        "title": _("Posting {number}", number=row.number),
        "lead": row.note,
        "reversal": getattr(row, "reversed_by", None),
        "summary": summary,
        "rounding": summary.rounding(current_studio(request).currency),
        "origin": origin_of(row),
        "corrections": row.corrected_by.select_related("recorded_by").order_by("number"),
        "figures": [
            *correction_of_posting(row, formatter, sees_money=user.sees_money),
            *opening_figures(row, formatter, sees_money=user.sees_money),
        ],
        "mixes": row.mixes.select_related("version__recipe", "lot"),
        "may_reverse": may_reverse(user, row),
        "obstacle": obstacle,
        "undo": undo_of(request, row),
        **LEDGER,
    }
    if user.is_owner and not hasattr(row, "reversed_by") and opening_stock().filter(pk=row.pk).exists():
        context["second_url"] = reverse("inventory:opening-stock-correct", args=[row.pk])
        context["second_label"] = _("Correct this opening stock")
    same_day = all(each.effective_on == row.effective_on for each in movements)
    table = PostingMovementTable(_rows(movements), request, without=["day"] if same_day else [])
    return list_page(request, "ledger/posting.html", table, context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def posting_reverse(request: HttpRequest, number: int) -> HttpResponse:
    row = posting_or_404(number)
    refuse_without_right(current_user(request), row)
    form = ReversalForm(request.POST if request.method == "POST" else None, studio=current_studio(request))
    obstacle = reversal_obstacle(row)
    mirror = None
    # One already reversed goes on to the writer, which knows the same request again.
    if not obstacle or hasattr(row, "reversed_by"):
        mirror = saved(form, lambda: _reverse(request, row, form))
    if mirror is not None:
        messages.success(
            request,
            _("Posting {number} was reversed by posting {mirror}.", number=row.number, mirror=mirror.number),
        )
        return redirect(origin_url(row))
    return form_page(
        request,
        form,
        "ledger/reverse.html",
        posting=row,
        title=_("Reverse posting {number}?", number=row.number),
        lead=f"{row.get_kind_display()}: {row.note}" if row.note else row.get_kind_display(),
        obstacle=obstacle,
        back_url=origin_url(row),
        back_label=_("Cancel"),
        corrected=standing_corrections(row),
        shelf=summary_of(posted_movements(row)).in_place(Place.LOT),
        pours=row.session.pours.count() if hasattr(row, "session") else 0,
        section="inventory:postings",
    )


def _reverse(request: HttpRequest, row: Posting, form: ReversalForm) -> Posting:
    submission = submission_from(request, key=form.cleaned_data["key"])
    return reverse_posting(posting=row, note=form.cleaned_data["reason"], submission=submission)


def _rows(movements: list[RecordedMovement]) -> list[MovementRow]:
    names = names_in(movements)
    mixed = {account.mix for each in movements for account in (each.source, each.destination)} - {None}
    mixes = Mix.objects.select_related("version__recipe").in_bulk(mixed) if mixed else {}
    return [
        MovementRow(
            *_account(each.source, names.of(each.source), mixes),
            *_account(each.destination, names.of(each.destination), mixes),
            each,
            str(EntryRole(each.role).label) if each.role else "",
        )
        for each in movements
    ]


def _account(account: AccountReference, name: str, mixes: dict[int, Mix]) -> tuple[str, str]:
    """An account in words and the address of its page."""
    if account.lot is not None:
        return _("Lot {label}", label=name), reverse("inventory:lot", args=[account.lot])
    if account.pour is not None:
        return _("Pour {label}", label=name), reverse("inventory:pour", args=[account.pour])
    if account.mix is not None:
        mix = mixes[account.mix]
        address = reverse("inventory:lot", args=[mix.lot_id])
        return _("Cup of {recipe}", recipe=mix.version.recipe), address
    return name, ""


@require_safe
@role_required(*EVERYONE, money=True)
def worth(request: HttpRequest) -> HttpResponse:
    as_of, formatter = _day_of(request.GET.get("on", "")), Formatter.of(current_studio(request))
    worth = worth_by_place(as_of)
    until = {"last": as_of.isoformat()} if as_of else {}
    came_in, went_to = _came_in(worth, until), _went_to(worth, until)
    received, spent = (sum(line.money for line in lines) for lines in (came_in, went_to))
    context = {
        "title": _("Where the money is"),
        "lead": _(
            "Everything spent on materials is accounted for: in stock, in unsold work, in cost of sales, or lost "
            "for a recorded reason."
        ),
        "worth": worth,
        "as_of": as_of,
        "table": WorthTable([*came_in, *went_to], request, totals={"received": received, "went_to": spent}),
        "caption": _caption(formatter.money(received), formatter.day(as_of)),
        **_shares(went_to, formatter),
        **LEDGER,
    }
    return render(request, "ledger/value.html", context)


def _day_of(text: str) -> date | None:
    """A day from an address, or nothing."""
    try:
        return parse_date(text)
    except ValueError:
        return None


def _caption(came_in: str, day: str) -> str:
    if day:
        return _("{money} received. Where it is at the end of {day}:", money=came_in, day=day)
    return _("{money} received. Where it is now:", money=came_in)


def _came_in(worth: Worth, until: dict[str, str]) -> list[WorthLine]:
    received, gains = _("Received, including carriage and duty"), _("Stocktake gains")
    return [
        WorthLine(Place.OUTSIDE, received, worth.received, _entries(until, place=Place.OUTSIDE)),
        WorthLine(Place.GAIN, gains, worth.gains, _entries(until, place=Place.GAIN)),
    ]


def _went_to(worth: Worth, until: dict[str, str]) -> list[WorthLine]:
    shelf_day = {"as_of": until["last"]} if until else {}
    return [
        *(
            WorthLine(Place.LOT, str(ON_THE_SHELF[Kind(kind)]), money, _stock(shelf_day, kind))
            for kind, money in worth.shelf_by_kind.items()
        ),
        WorthLine(Place.WORK, _("In unsold work"), worth.in_work, _entries(until, place=Place.WORK)),
        WorthLine(Place.SOLD, _("Cost of sales"), worth.in_sold, _entries(until, place=Place.SOLD)),
        *(
            WorthLine(Place.LOSS, reason.name, money, _entries(until, reason=reason.pk), _way_out(reason))
            for reason, money in worth.losses
        ),
    ]


def _way_out(reason: Reason) -> str:
    """Whether it is a loss, a gift or own use, unless its name says just that."""
    way = str(WAYS_OUT[Reason.Kind(reason.kind)])
    return "" if way.casefold() == reason.name.casefold() else way


def _shares(lines: list[WorthLine], formatter: Formatter) -> dict[str, object]:
    """The four places money can be, as parts of a whole, and what rounding leaves over; percentages add up to 100."""
    labels = {
        Place.LOT: _("In stock"),
        Place.WORK: _("In unsold work"),
        Place.SOLD: _("Cost of sales"),
        Place.LOSS: _("Lost or given away"),
    }
    sums = {place: sum(line.money for line in lines if line.place == place) for place in labels}
    weights = [max(money, 0) for money in sums.values()]
    if not any(weights):
        return {}
    left_over = rounding_left_over(sums.values(), sum(sums.values()), formatter.currency)
    return {
        "shares": [
            {"label": labels[place], "percent": percent, "text": formatter.money(money)}
            for (place, money), percent in zip(sums.items(), allocate(100, weights), strict=True)
        ],
        "rounding": formatter.money(left_over) if left_over else "",
    }


def _stock(day: dict[str, str], kind: str) -> str:
    """The stock list of one kind, on the same day."""
    return f"{reverse('inventory:stock')}?{urlencode({'kind': kind, **day})}"


def _entries(until: dict[str, str], **wanted: object) -> str:
    """The postings behind a figure."""
    return f"{reverse('inventory:postings')}?{urlencode({**wanted, **until})}"
