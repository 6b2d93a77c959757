"""Cost sheets as things happen later: corrections, sales, returns, gifts."""

import pytest

from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.pieces.calculations import State
from costing.pieces.queries import pours_of
from costing.selling.actions import give_away, return_sale, sell
from costing.selling.queries import standing_sale
from tests import making
from tests.costing.reading_sheets import materials_of
from tests.costing.stories import LATER, POURED_ON, a_piece, ledger_cost, make_channel, use_rates
from tests.days import june
from tests.making import make_lot, make_session, make_surface, money, pour_of, the_reason

pytestmark = pytest.mark.django_db


def test_a_cost_correction_is_a_line_of_its_own_before_and_after_the_sale() -> None:
    canvas = make_lot(material=make_surface(), quantity=1_000, cost=money("3.50"), on=POURED_ON)
    paint = make_lot(on=POURED_ON).material
    facts = pour_of(material=paint, quantity=200_000, surface=canvas.material)
    piece = a_piece(pours=make_session(pours=[facts], on=POURED_ON).pours.all(), state=State.FOR_SALE)
    making.correct(lot=canvas, difference=money("0.40"), on=LATER)
    sell(piece=piece, channel=make_channel(), price=money(45), submission=making.make_submission(on=LATER))
    making.correct(lot=canvas, difference=-money("0.15"))
    sheet = cost_sheet(piece)
    assert [(line.label, line.money, line.quantity) for line in sheet.lines if line.is_correction] == [
        ("Cost corrected", money("0.40"), 0), ("Cost corrected", -money("0.15"), 0),
    ]  # fmt: skip
    assert sheet.summary.materials == money("5.75") == ledger_cost(pours_of(piece))
    sale = standing_sale(piece, sheet.summary.whole)
    assert sale is not None
    assert sale.profit == money("39.25")


def test_a_sold_piece_says_what_it_brought_and_a_returned_one_does_not() -> None:
    use_rates(tax_rate=200_000)
    piece = a_piece(state=State.FOR_SALE)
    channel = make_channel("Gallery", commission=400_000)
    sale = sell(piece=piece, channel=channel, price=money(60), submission=making.make_submission(on=LATER))
    line = standing_sale(piece, materials_of(piece))
    assert line is not None
    assert (line.sale, line.tax, line.line.commission, line.net_proceeds, line.profit) == (
        sale, money(10), money(20), money(30), money("24.50"),
    )  # fmt: skip
    return_sale(sale=sale, submission=making.make_submission(on=june(10)))
    assert standing_sale(piece, 0) is None
    assert materials_of(piece) == money("5.50") == ledger_cost(pours_of(piece))


def test_a_correction_that_came_back_with_a_return_is_told_once() -> None:
    canvas = make_lot(material=make_surface(), quantity=1_000, cost=money("3.50"), on=POURED_ON)
    facts = pour_of(material=make_lot(on=POURED_ON).material, quantity=200_000, surface=canvas.material)
    piece = a_piece(pours=make_session(pours=[facts], on=POURED_ON).pours.all(), state=State.FOR_SALE)
    sale = sell(
        piece=piece, channel=make_channel(), price=money(45), submission=making.make_submission(on=LATER)
    )
    making.correct(lot=canvas, difference=money("0.40"), on=LATER)
    return_sale(sale=sale, submission=making.make_submission(on=june(10)))
    assert [line.money for line in cost_sheet(piece).lines if line.is_correction] == [money("0.40")]
    assert materials_of(piece) == money("5.90") == ledger_cost(pours_of(piece))


def test_a_piece_given_away_still_says_what_it_cost() -> None:
    piece = a_piece(state=State.FOR_SALE)
    give_away(
        piece=piece,
        reason=the_reason("gift"),
        market_value=money(45),
        submission=making.make_submission(on=LATER),
    )
    sheet = cost_sheet(piece)
    assert (sheet.summary.materials, ledger_cost(pours_of(piece))) == (money("5.50"), 0)
    assert sheet.disposal is not None
    assert (sheet.disposal.reason, sheet.disposal.cost, sheet.disposal.market_value) == (
        "Gift",
        money("5.50"),
        money(45),
    )
    assert cost_summaries([piece])[piece.pk] == sheet.summary
