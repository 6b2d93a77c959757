"""A market day: its sales, its cash, what was packed and what was missing, and what the database refuses."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from costing.errors import PieceError
from costing.locations.models import Location, LocationKind
from costing.locations.queries import where_is
from costing.markets.actions.counting import count_cash
from costing.markets.actions.packing import bring_home, mark_missing, pack
from costing.markets.actions.selling import quick_sale
from costing.markets.models import CashCount, MarketDay, PackedPiece
from costing.markets.queries import kinds_of, last_count, packed_rows, result_of, results_of
from costing.pieces.actions.pieces import split_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import PieceSold, ReturnFacts, return_line, sell, write_off_piece
from costing.selling.models import Sale, SaleLine
from inventory.errors import KeyReused
from inventory.ledger.verification import check
from studio.errors import InputError
from tests.costing.locations.stories import make_gallery
from tests.costing.markets.stories import make_market, pack_into, pieces_for_sale
from tests.costing.stories import LATER, make_channel, use_rates
from tests.days import june
from tests.making import make_submission, money, the_reason

pytestmark = pytest.mark.django_db


def sold(market: MarketDay, *lines: tuple[Any, str], paid_by: str = "cash", key: str = "") -> Sale:
    return quick_sale(
        market=market,
        lines=[PieceSold(piece, money(price)) for piece, price in lines],
        paid_by=paid_by,
        submission=make_submission(on=LATER, key=key),
    )


def test_a_day_is_reckoned_from_its_sales_and_its_costs() -> None:
    use_rates(wage="10.00", overhead="0.00")
    market, (one, two, three, four) = make_market(), pieces_for_sale(4)
    sold(market, (one, "45.00"), (two, "40.00"))
    sold(market, (three, "50.00"), paid_by="card")
    sell(piece=four, channel=make_channel("Shop"), price=money(45), submission=make_submission(on=LATER))
    row = result_of(market)
    # Each piece cost 5.50; a card takes 1.00 of 50.00. Pitch 20.00, 10 km at 0.40, seven hours at 10.00.
    assert (row.result.cash, row.result.card, row.result.fees) == (money(85), money(50), money(1))
    assert (row.result.cost, row.result.contribution) == (money("16.50"), money("117.50"))
    assert (row.result.fixed, row.result.profit) == (money(94), money("23.50"))
    assert (row.cash_taken, row.has_wage) == (money(85), True)
    # Three canvases of three kinds. 94 is 2.4 times what the first left, and four fifths of what all three left.
    assert [(kind.kind.count, kind.alone, kind.together) for kind in kinds_of(row)] == [(1, 3, 1)] * 3
    assert check().is_clean


def test_the_cash_is_counted_beside_what_was_expected() -> None:
    market, (one, two) = make_market(), pieces_for_sale(2)
    first, second = sold(market, (one, "45.00"), (two, "40.00")).lines.order_by("pk")
    facts: dict[str, Any] = {"market": market, "counted": money(129), "paid_out": money(5)}
    count = count_cash(**facts, submission=make_submission(key="till"))
    assert (count.expected, count.difference) == (money(130), -money(1))
    assert count_cash(**facts, submission=make_submission(key="till")) == count
    with pytest.raises(KeyReused):
        count_cash(market=market, counted=money(1), submission=make_submission(key="till"))
    # What is returned on another day was in the till; what is returned on the day was not.
    return_line(line=first, facts=ReturnFacts(), submission=make_submission(on=june(10)))
    assert result_of(market).cash_taken == money(85)
    return_line(line=second, facts=ReturnFacts(), submission=make_submission(on=LATER))
    again = count_cash(market=market, counted=money(95), submission=make_submission())
    assert (again.difference, last_count(market)) == (0, again)
    with pytest.raises(InputError):
        count_cash(market=market, counted=-1, submission=make_submission())


def test_a_quick_sale_is_all_or_nothing_and_once() -> None:
    market, (one, two) = make_market(), pieces_for_sale(2)
    first = sold(market, (one, "45.00"), key="touch")
    assert sold(market, (one, "45.00"), key="touch") == first
    with pytest.raises(PieceError), transaction.atomic():
        sold(market, (two, "45.00"), (one, "45.00"), key="other")
    two.refresh_from_db()
    assert (two.state, SaleLine.objects.count()) == (State.FOR_SALE, 1)
    cash_only = make_market(on=june(8), card_channel=None)
    for where, lines, paid_by in ((market, [(two, "1.00")], "shells"), (cash_only, [(two, "1.00")], "card")):
        with pytest.raises(InputError):
            sold(where, *lines, paid_by=paid_by)


def test_a_market_sells_from_its_day_on() -> None:
    market, [piece] = make_market(on=june(29)), pieces_for_sale(1)
    with pytest.raises(InputError):
        sold(market, (piece, "45.00"))


def test_pieces_are_packed_sold_left_missing_and_found() -> None:
    market, (one, two, three) = make_market(), pieces_for_sale(3)
    pack(market=market, pieces=[one, two, three], box="Long box", submission=make_submission(on=LATER))
    pack(market=market, pieces=[two], box="  Blue   crate ", submission=make_submission(on=LATER))
    boxes = {each.name for each in Location.objects.filter(kind=LocationKind.BOX)}
    assert boxes == {"Blue crate", "Long box"}
    assert [_box_of(piece) for piece in (one, two, three)] == ["Long box", "Blue crate", "Long box"]
    sold(market, (one, "45.00"))
    lost = PackedPiece.objects.get(piece=two)
    mark_missing(packed=lost, missing=True, submission=make_submission())
    rows = packed_rows(market, result_of(market).lines)
    assert [(each.packed.box, each.piece.title) for each in rows] == [
        ("Blue crate", "Tide 2"), ("Long box", "Tide 1"), ("Long box", "Tide 3"),
    ]  # fmt: skip
    assert [(each.is_sold, each.is_missing, each.is_left) for each in rows] == [
        (False, True, False), (True, False, False), (False, False, True),
    ]  # fmt: skip
    assert bring_home(market=market, submission=make_submission(on=LATER)) == 1
    assert [_box_of(piece) for piece in (two, three)] == [
        "Blue crate",
        "",
    ]  # what is missing was last in its box
    write_off_piece(piece=two, reason=the_reason("missing"), submission=make_submission(on=LATER))
    assert packed_rows(market)[0].is_written_off
    one.refresh_from_db()
    with pytest.raises(InputError):
        mark_missing(packed=PackedPiece.objects.get(piece=one), missing=True, submission=make_submission())
    with pytest.raises(InputError):
        pack(market=market, pieces=[one], box="Long box", submission=make_submission())
    gallery = make_gallery().name
    for box, pieces in ((gallery, [three]), ("", [three]), ("x" * 41, [three]), ("Box", [])):
        with pytest.raises(InputError):
            pack(market=market, pieces=pieces, box=box, submission=make_submission())


def _box_of(piece: Piece) -> str:
    location = where_is(piece).location
    return location.name if location else ""


@pytest.mark.parametrize(
    "wrong",
    [
        {"cash_channel": None, "card_channel": None},
        {"distance_rate": None},
        {"distance": None},
        {"travel_sum": 1},
    ],
)
def test_a_day_that_makes_no_sense_is_refused_and_by_the_database_too(wrong: dict[str, Any]) -> None:
    market = make_market()
    for name, value in wrong.items():
        setattr(market, name, value)
    with pytest.raises(ValidationError):
        market.clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        market.save()


def test_a_channel_counts_for_one_market_a_day() -> None:
    market = make_market()
    other = MarketDay(name="Ebb", held_on=LATER, card_channel=market.cash_channel)
    with pytest.raises(ValidationError):
        other.clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        make_market(card_channel=make_channel("Other"))
    same = make_channel("Both")
    with pytest.raises(IntegrityError), transaction.atomic():
        make_market(cash_channel=same, card_channel=same)
    with pytest.raises(IntegrityError), transaction.atomic():
        CashCount.objects.create(market_day=market, expected=0, counted=-1, counted_at=make_submission().at)


def test_many_markets_cost_no_more_queries() -> None:
    pieces = pieces_for_sale(3)
    markets = [make_market(on=june(day)) for day in (9, 10, 11)]
    sold(markets[0], (pieces[0], "45.00"))
    with CaptureQueriesContext(connection) as one:
        results_of(markets[:1])
    sold(markets[0], (pieces[1], "45.00"))
    sell(
        piece=pieces[2],
        channel=markets[1].cash_channel or make_channel(),
        price=money(45),
        submission=make_submission(on=june(10)),
    )
    with CaptureQueriesContext(connection) as three:
        assert [row.result.sold for row in results_of(markets)] == [2, 1, 0]
    assert len(three) == len(one)


def test_a_piece_that_was_packed_for_a_market_day_is_not_split() -> None:
    (piece,) = pieces_for_sale(1)
    pack_into(make_market(), piece)
    with pytest.raises(PieceError, match="packed for a market day"):
        split_piece(piece=piece, submission=make_submission())
