"""Market days over JSON: planned, packed, sold at once each, counted, and what they came to."""

from typing import Any

import pytest

from costing.markets.models import MarketDay
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.models import Sale
from inventory.ledger.verification import check
from studio.accounts.models import User
from tests.costing.markets.stories import make_market, pieces_for_sale
from tests.costing.stories import LATER, make_channel, use_rates
from tests.programs import Program, names_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def pieces() -> list[Piece]:
    use_rates(wage="10.00", overhead="0.00")
    return pieces_for_sale(3)


def body(*pieces: Piece, **change: Any) -> dict[str, Any]:
    lines = [{"piece": piece.pk, "price": "45.00"} for piece in pieces]
    return {"lines": lines, "paid_by": "cash"} | change


def test_a_day_is_planned_sold_at_and_counted(owner: User, pieces: list[Piece]) -> None:
    program = Program(owner)
    made = program.send(
        "market-days/",
        {
            "name": "Lantern Quay",
            "held_on": LATER.isoformat(),
            "cash_channel": make_channel("Stall, cash").pk,
            "pitch_fee": "20.00",
            "travel_sum": "4.00",
            "minutes": 420,
            "till_float": "50.00",
        },
    )
    day = f"market-days/{made['id']}/"
    sold = program.send(f"{day}sales/", body(*pieces[:2]), key="touch")
    assert sold == {
        "key": "touch",
        "sale": Sale.objects.get().pk,
        "pieces": [piece.pk for piece in pieces[:2]],
    }
    assert program.send(f"{day}sales/", body(*pieces[:2]), key="touch", status=200) == sold
    count = program.send(f"{day}cash-counts/", {"counted": "139.00", "paid_out": "1.00"}, key="till")
    assert (count["expected"], count["difference"]) == ("139.000000", "0.000000")
    read = program.read(day)
    # 90.00 less 11.00 of cost: 79.00. The day cost 20.00 + 4.00 + 70.00 = 94.00.
    assert [read[name] for name in ("takings", "contribution", "profit")] == [
        "90.000000", "79.000000", "-15.000000",
    ]  # fmt: skip
    assert read["margin_of_safety"] == "-17.088608"  # 90.00 - 94.00 ÷ (79.00 ÷ 90.00)
    assert program.read("market-days/")["results"] == [read]


def test_what_was_sold_meanwhile_is_refused_and_nothing_of_it_is_sold(
    owner: User, pieces: list[Piece]
) -> None:
    program, market = Program(owner), make_market()
    program.send(f"market-days/{market.pk}/sales/", body(pieces[0]))
    refused = program.refusal(f"market-days/{market.pk}/sales/", body(pieces[1], pieces[0]), status=409)
    assert pieces[0].title in refused["detail"]
    assert Sale.objects.count() == 1
    program.refusal(f"market-days/{market.pk}/sales/", body(pieces[1], paid_by="shells"), status=400)


def test_a_sale_that_was_a_slip_is_undone_by_its_key_and_its_pieces_are_for_sale_again(
    owner: User, helper: User, pieces: list[Piece]
) -> None:
    program, market = Program(owner), make_market()
    day = f"market-days/{market.pk}/"
    sold = program.send(f"{day}sales/", body(*pieces[:2]), key="touch")
    undone = program.send(f"{day}undo/", {"sale": "touch"}, key="touch-undo", status=200)
    assert undone == {**sold, "key": "touch-undo"}
    assert program.send(f"{day}undo/", {"sale": "touch"}, key="touch-undo", status=200) == undone
    assert [Piece.objects.get(pk=piece.pk).state for piece in pieces[:2]] == [State.FOR_SALE] * 2
    assert program.read(day)["takings"] == "0.000000"
    program.refusal(f"{day}undo/", {"sale": "touch"}, key="once-more", status=422)
    program.refusal(f"{day}undo/", {"sale": "never sent"}, status=400)
    program.send(f"{day}sales/", body(pieces[0]), key="again")
    Program(helper).refusal(f"{day}undo/", {"sale": "again"}, status=400)
    assert check().is_clean


def test_a_helper_packs_and_sells_without_seeing_money(helper: User, pieces: list[Piece]) -> None:
    program, market = Program(helper), make_market()
    day = f"market-days/{market.pk}/"
    packed = program.send(
        f"{day}packing/", {"box": "Long box", "pieces": [each.pk for each in pieces]}, status=200
    )
    assert [each["box"] for each in packed["packed"]] == ["Long box"] * 3
    sold = program.send(f"{day}sales/", body(pieces[0]))
    missing = program.send(f"{day}missing/", {"piece": pieces[1].pk, "missing": True}, status=200)
    assert [(each["sold"], each["missing"]) for each in missing["packed"]] == [
        (True, False), (False, True), (False, False),
    ]  # fmt: skip
    assert not {"price", "cost", "takings"} & (names_of(sold) | names_of(missing))
    for path in ("market-days/", day, f"price-floors/{pieces[0].pk}/"):
        assert program.get(path).status_code == 403
    program.refusal(f"{day}cash-counts/", {"counted": "1.00"}, status=403)
    program.refusal(f"{day}missing/", {"piece": 0, "missing": True}, status=400)


def test_the_floor_of_a_price_covers_cost_and_fees(owner: User, pieces: list[Piece]) -> None:
    market: MarketDay = make_market()
    floors = {
        row["channel"]["id"]: row["floor"] for row in Program(owner).read(f"price-floors/{pieces[2].pk}/")
    }
    # 5.50 of cost; a card takes 2%: 5.50 ÷ 0.98 = 5.612, and 0.11 of 5.61 leaves 5.50.
    assert floors[market.cash_channel_id] == "5.500000"
    assert floors[market.card_channel_id] == "5.610000"
