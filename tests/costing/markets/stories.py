"""A market day at Lantern Quay on 9 June, with pieces that cost 5.50 each, and what programs send about one."""

from datetime import date
from typing import Any

from costing.markets.models import MarketDay, PackedPiece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from tests.costing.stories import LATER, a_piece, make_channel
from tests.making import money
from tests.small_studio import SmallStudio


def make_market(*, on: date = LATER, **facts: Any) -> MarketDay:
    """A pitch of 20.00, 10 km at 0.40, seven hours, a float of 50.00; a card takes 2%."""
    usual: dict[str, Any] = {
        "name": "Lantern Quay",
        "held_on": on,
        "cash_channel": make_channel("Stall, cash"),
        "card_channel": make_channel("Stall, card", card_rate=20_000),
        "pitch_fee": money(20),
        "distance": 10_000,
        "distance_rate": money("0.40"),
        "minutes": 420,
        "till_float": money(50),
    }
    return MarketDay.objects.create(**usual | facts)


def pieces_for_sale(count: int, *, price: str = "45.00") -> list[Piece]:
    return [a_piece(title=f"Tide {n}", state=State.FOR_SALE, price=price) for n in range(1, count + 1)]


def pack_into(market: MarketDay, *pieces: Piece, box: str = "Blue crate") -> list[PackedPiece]:
    return [PackedPiece.objects.create(market_day=market, piece=piece, box=box) for piece in pieces]


def bodies_of_markets(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    market, piece = f"market-days/{studio.market.pk}/", studio.for_sale.pk
    return {
        "market-days/": {
            "name": "Ebb market",
            "held_on": "2025-06-20",
            "place": "Lantern Quay",
            "cash_channel": studio.channel.pk,
            "pitch_fee": "20.00",
            "distance": 10000,
            "distance_rate": "0.40",
            "minutes": 420,
            "till_float": "50.00",
            "notes": "",
        },
        f"{market}packing/": {"box": "Long box", "pieces": [piece]},
        f"{market}missing/": {"piece": piece, "missing": True},
        f"{market}sales/": {"lines": [{"piece": piece, "price": "60.00"}], "paid_by": "card"},
        f"{market}cash-counts/": {"counted": "50.00", "paid_out": "1.00", "note": ""},
    }
