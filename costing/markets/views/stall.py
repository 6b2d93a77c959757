"""The selling screen of a stall: opens without a network, shows asking prices and no costs. Its manifest."""

from collections.abc import Collection
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from costing.locations.queries import LENT, Whereabouts, where_are
from costing.markets.models import MarketDay, PackedPiece
from costing.markets.queries import market_for_stall, sellable_pieces
from costing.markets.views.days import SECTION
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import with_colours
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.middleware import PERMISSIONS
from studio.pages.home_screen import manifest_answer
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import minor_unit, minor_units


@require_safe
@role_required(*WORKERS)
def stall(request: HttpRequest) -> HttpResponse:
    """The market day of today, else the next; without one it says how to plan one."""
    studio, user, today = current_studio(request), current_user(request), timezone.localdate()
    market = market_for_stall(today)
    context: dict[str, Any] = {
        "market": market,
        "title": market.name if market else _("Quick sale"),
        "section": SECTION,
        "is_today": market is not None and market.held_on == today,
        "sees_money": user.sees_money,
    }
    if market is not None:
        context |= _goods(market, Formatter.of(studio), studio.currency)
    answer = render(request, "markets/stall.html", context)
    answer.headers["Permissions-Policy"] = PERMISSIONS.replace("camera=()", "camera=(self)")
    return answer


def _goods(market: MarketDay, formatter: Formatter, currency: str) -> dict[str, Any]:
    """The pieces on the screen, those that were packed first; and how the script writes money.

    Reserved ones are not offered: whether one is for this buyer is asked on its own page.
    """
    packed = set(PackedPiece.objects.filter(market_day=market).values_list("piece_id", flat=True))
    free = sellable_pieces().exclude(state=State.RESERVED)
    pieces = sorted(free, key=lambda piece: piece.pk not in packed)
    with_colours(pieces)
    coin, where = minor_unit(currency), where_are(pieces)
    return {
        "goods": [(piece, _in_coins(piece, coin), _away(piece, packed, where[piece.pk])) for piece in pieces],
        "money": {"sample": formatter.money(1_000_000_000), "places": minor_units(currency)},
    }


def _away(piece: Piece, packed: Collection[int], where: Whereabouts) -> str:
    """Why a piece may not be at the stall; nothing for one that was packed, or where nothing was."""
    if piece.pk in packed:
        return ""
    if where.kind == LENT:
        return _("lent")
    if where.location and where.location.is_gallery:
        return _("at {place}", place=where.location.name)
    return _("not packed") if packed else ""


def _in_coins(piece: Piece, coin: int) -> int | None:
    return None if piece.price is None else -(-piece.price // coin)


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone needs to put the selling screen on its home screen (W3C Web Application Manifest)."""
    return manifest_answer(_("Meniscus, quick sale"), _("Quick sale"), address=reverse("costing:stall"))
