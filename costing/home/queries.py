"""What needs the studio now, for its front page: few rows, and the same few queries however much there is."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import ready_on, standing_pieces
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal, sale_figures, total_of_sales, with_lines
from inventory.alerts.queries import alerts_for, by_urgency, shown
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order
from inventory.stock.queries import ExpiringLot
from studio.accounts.models import User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext

DUE_WITHIN_DAYS = 3


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a list: a link, quiet words, and a badge of a kind with its word."""

    url: str
    title: str
    note: str = ""
    kind: str = ""
    word: str = ""


def pieces_waiting(on: date, studio: Studio, *, at_most: int) -> list[Line]:
    """What may be varnished, what still dries, what is finished and not listed, what has no price: so many of each."""
    pieces = standing_pieces().filter(
        Q(state__in=[State.WET, State.DRY, State.FINISHED]) | Q(state=State.FOR_SALE, price__isnull=True)
    )
    by_kind: dict[str, list[Line]] = {"good": [], "wait": [], "note": [], "low": []}
    for piece in pieces.order_by("made_on", "pk"):
        kind, word, note = _waiting_for(piece, on, studio)
        url = reverse("costing:piece", args=[piece.pk])
        by_kind[kind].append(Line(url, piece.title, note, kind, word))
    return [line for lines in by_kind.values() for line in lines[:at_most]]


def _waiting_for(piece: Piece, on: date, studio: Studio) -> tuple[str, str, str]:
    """What a piece waits for, as a kind of badge, its word and a note."""
    if piece.state == State.FOR_SALE:
        return "low", _("For sale without a price"), ""
    if piece.state == State.FINISHED:
        unpriced = piece.price is None
        return "note", _("Finished, needs a price") if unpriced else _("Finished, not yet listed"), ""
    ready = ready_on(piece, studio)
    days = (ready - on).days
    if days <= 0:
        return "good", _("Ready to varnish"), ""
    if days == 1:
        return "wait", _("Drying"), _("ready tomorrow")
    when = Formatter.of(studio).day(ready)
    return "wait", _("Drying"), _("ready in {n} days, {when}", n=days, when=when)


def most_urgent(user: User, on: date, formatter: Formatter, *, at_most: int) -> list[Line]:
    """The most urgent alerts that a person may see, with their reasons."""
    alerts = by_urgency(alerts_for(user).waiting(on))[:at_most]
    return [
        Line(row.url, row.name, row.reason, row.kind.badge, str(row.kind.label))
        for row in shown(alerts, on=on, formatter=formatter, explained=False)
    ]


def deliveries_due(on: date, formatter: Formatter) -> list[Line]:
    """Orders that are late or due within a few days, the latest first."""
    orders = Order.objects.filter(is_closed=False, expected_on__lte=on + timedelta(days=DUE_WITHIN_DAYS))
    orders = orders.select_related("supplier").prefetch_related("chases").order_by("expected_on", "pk")
    return [
        Line(
            reverse("inventory:order", args=[state.order.pk]),
            f"{state.order}, {state.order.supplier}",
            _when_due(state, on, formatter),
            *(("low", _("Late")) if state.is_late(on) else ("wait", _("Due"))),
        )
        for state in progress_of(orders)
        if state.is_waiting
    ]


def _when_due(state: OrderState, on: date, formatter: Formatter) -> str:
    """The day it is expected, how late that is, and whether anybody has asked."""
    day, late = formatter.day(state.order.expected_on), state.days_late(on)
    if not late:
        return day
    asked = state.order.chases.all()
    words = ngettext("{day}, {n} day late", "{day}, {n} days late", late, day=day, n=late)
    if not asked:
        return _("{late}; not asked yet", late=words)
    return _(
        "{late}; asked on {asked}", late=words, asked=formatter.day(max(each.asked_on for each in asked))
    )


def expiring(lots: Iterable[ExpiringLot], formatter: Formatter, *, with_money: bool) -> list[Line]:
    """Lots past or near their day, with what is left of each."""
    lines = []
    for item in lots:
        material = item.lot.material
        note = formatter.short_quantity(item.quantity, material.measure)
        if with_money:
            note += f", {formatter.money(item.money)}"
        kind, word = "", ""
        if item.days_left < 0:
            kind, word = "stop", _("Expired")
        elif item.days_left == 0:
            kind, word = "low", _("Use today")
        else:
            note += ", " + _("use by {when}", when=formatter.day(item.use_by))
        url = reverse("inventory:lot", args=[item.lot.pk])
        lines.append(Line(url, f"{material.name}, {item.lot.label}", note, kind, word))
    return lines


def pictures(on: date, *, at_most: int) -> tuple[list[Piece], bool]:
    """The newest pieces that have a photo, and whether they are all of this month."""
    newest = standing_pieces().exclude(photo="").order_by("-made_on", "-pk")[:at_most]
    month = [piece for piece in newest if piece.made_on >= on.replace(day=1)]
    return month or list(newest), bool(month)


def month_so_far(on: date, studio: Studio) -> SalesTotal:
    """What this month's sales brought so far."""
    sales = Sale.objects.filter(sold_on__gte=on.replace(day=1), sold_on__lte=on)
    return total_of_sales(sale_figures(with_lines(sales), studio.currency))
