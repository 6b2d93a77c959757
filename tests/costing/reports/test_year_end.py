"""A period told in the ledger: it adds up to the penny, one follows on another, and every figure leads somewhere."""

from datetime import timedelta

import pytest

from costing.errors import CostingError
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.reports.actions import WriteDownFacts, write_down_items
from costing.reports.calculations import Stage
from costing.reports.models import WriteDown
from costing.reports.queries import Period, YearEnd, year_end
from costing.reports.stages import owned_on
from costing.reports.statement import statement_of
from costing.reports.write_downs import proposals
from costing.selling.actions import return_sale, sell
from inventory.errors import KeyReused
from inventory.ledger.closing import close_through
from inventory.ledger.models import Lot
from studio.accounts.models import User
from tests.costing.consignments.stories import a_note
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel, use_rates
from tests.days import TODAY, june
from tests.making import make_lot, make_submission, money, spill

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]
JUNE, NEXT = Period(june(1), LATER), Period(TODAY, TODAY)


def of(period: Period) -> YearEnd:
    found = year_end(period)
    assert found.stock.adds_up
    return found


def test_pieces_go_from_bottle_to_buyer_and_the_account_follows() -> None:
    """Canvas 3.50 and 200 mL of paint at 10.00 a litre: 5.50 of material in each of three; one is sold for 30.00."""
    use_rates()
    pieces = [a_piece(title=f"Ebb {n}", state=State.FOR_SALE, price="30.00") for n in range(3)]
    stall = make_channel(card_rate=20_000)
    before = of(JUNE)
    assert before.stock.closing[Stage.FINISHED] == money("16.50")
    sell(piece=pieces[0], channel=stall, price=money(30), submission=make_submission(on=LATER))
    found = of(JUNE)
    assert found.stock.closing[Stage.FINISHED] == money("11.00")
    assert found.stock.cost_of_sales == money("5.50")
    assert found.stock.available == before.stock.available
    profit = found.profit
    assert (profit.net_sales, profit.gross_profit) == (money(30), money("24.50"))
    assert profit.net_profit == money("24.50") - money("0.60")
    assert found.cash.difference == money("29.40") - found.stock.purchases


def test_what_one_period_closes_with_the_next_one_opens_with_and_a_return_counts_on_its_own_day() -> None:
    use_rates()
    piece = a_piece(state=State.FOR_SALE, price="30.00")
    sale = sell(piece=piece, channel=make_channel(), price=money(30), submission=make_submission(on=LATER))
    return_sale(sale=sale, submission=make_submission(on=TODAY))
    first, second = of(JUNE), of(NEXT)
    assert dict(first.stock.closing) == dict(second.stock.opening)
    assert (first.profit.net_sales, second.profit.net_sales) == (money(30), -money(30))
    assert (first.stock.cost_of_sales, second.stock.cost_of_sales) == (money("5.50"), -money("5.50"))
    both = of(Period(JUNE.first, NEXT.last))
    assert (both.profit.net_sales, both.stock.cost_of_sales) == (0, 0)


def test_pieces_at_a_gallery_stay_in_stock_under_their_own_name() -> None:
    """IFRS 15, paragraphs B77 and B78: consigned goods stay the maker's until they are sold."""
    note = a_note()
    found = of(Period(june(1), note.on))
    given = note.lines.count()
    assert found.stock.closing[Stage.CONSIGNED] == given * money("5.50")
    assert found.profit.net_sales == 0


def test_what_a_channel_takes_by_the_month_comes_off_the_profit_of_its_days() -> None:
    """3.00 a month: from the first sale on 9 June two days of thirty."""
    use_rates()
    shop = make_channel("Shop", monthly_fee=money(3))
    piece = a_piece(state=State.FOR_SALE, price="30.00")
    sell(piece=piece, channel=shop, price=money(30), submission=make_submission(on=LATER))
    found = of(Period(june(1), TODAY))
    assert found.profit.selling_costs == money("0.20")
    assert found.profit.net_profit == money(30) - money("5.50") - money("0.20")


def test_losses_are_told_by_reason_and_kind() -> None:
    lot = make_lot(on=POURED_ON)
    spill(lot=lot, quantity=50_000, on=LATER)
    found = of(JUNE)
    (loss,) = found.stock.losses
    assert (loss.money, loss.way) == (money("0.50"), "loss")
    assert found.profit.losses == money("0.50")


def test_lines_add_up_as_printed_and_each_part_ends_in_its_outcome() -> None:
    use_rates()
    sell(
        piece=a_piece(state=State.FOR_SALE, price="30.00"),
        channel=make_channel(),
        price=money(30),
        submission=make_submission(on=LATER),
    )
    for part in statement_of(of(JUNE), "GBP"):
        running = 0
        for line in part.lines:
            if part.key == "beside":
                continue
            if line.kind == "line":
                running += line.money or 0
            else:
                assert line.money == running, (part.key, line.key)
        assert all((line.money or 0) % 10_000 == 0 for line in part.lines)


# Written down


def a_cheap_piece(price: str = "3.00") -> Piece:
    """5.50 of material in it."""
    use_rates()
    make_channel("Stall", card_rate=20_000)
    return a_piece(state=State.FOR_SALE, price=price)


def test_a_piece_that_will_not_bring_its_materials_is_proposed_and_stands_at_what_it_will_bring(
    owner: User,
) -> None:
    piece = a_cheap_piece()
    (proposal,) = [each for each in proposals(owned_on(LATER), LATER) if each.owned.piece]
    assert (proposal.cost, proposal.value, proposal.amount) == (money("5.50"), money("2.94"), money("2.56"))
    facts = [WriteDownFacts(proposal.value, piece=piece)]
    write_down_items(items=facts, submission=make_submission(by=owner, on=LATER))
    assert not [each for each in proposals(owned_on(LATER), LATER) if each.owned.piece]
    found = of(JUNE)
    assert (found.written_down, found.profit.write_downs) == (money("2.56"), money("2.56"))
    assert found.carried == found.stock.closed_with - money("2.56")
    assert of(NEXT).profit.write_downs == 0


def test_it_recovers_up_to_its_cost_and_no_further_and_a_sale_ends_it(owner: User) -> None:
    piece = a_cheap_piece()
    write_down_items(
        items=[WriteDownFacts(money("2.94"), piece=piece)], submission=make_submission(by=owner, on=LATER)
    )
    Piece.objects.filter(pk=piece.pk).update(price=money(40))
    (proposal,) = [each for each in proposals(owned_on(TODAY), TODAY) if each.owned.piece]
    assert (proposal.amount, proposal.standing) == (0, money("2.56"))
    sell(
        piece=Piece.objects.get(),
        channel=make_channel("Stall"),
        price=money(40),
        submission=make_submission(by=owner, on=TODAY),
    )
    assert of(JUNE).written_down == money("2.56")
    after = of(NEXT)
    assert (after.written_down, after.profit.write_downs) == (0, -money("2.56"))


def test_a_lot_past_its_date_is_proposed_for_nothing_and_one_that_held_nothing_is_refused(
    owner: User,
) -> None:
    lot = make_lot(on=POURED_ON)
    Lot.objects.filter(pk=lot.pk).update(best_before=june(5))
    (proposal,) = proposals(owned_on(LATER), LATER)
    assert (proposal.value, proposal.amount) == (0, money(10))
    with pytest.raises(CostingError, match="held nothing on that day"):
        write_down_items(
            items=[WriteDownFacts(0, lot=lot)],
            submission=make_submission(by=owner, on=POURED_ON - timedelta(days=9)),
        )
    assert not WriteDown.objects.exists()


def test_sent_twice_it_is_written_once_and_not_in_a_closed_period(owner: User) -> None:
    piece = a_cheap_piece()
    facts = [WriteDownFacts(money(1), piece=piece)]
    first, again = (
        write_down_items(items=facts, submission=make_submission(by=owner, on=LATER, key="w"))
        for _time in range(2)
    )
    assert [row.pk for row in first] == [row.pk for row in again]
    with pytest.raises(KeyReused):
        write_down_items(
            items=[WriteDownFacts(money(2), piece=piece)],
            submission=make_submission(by=owner, on=LATER, key="w"),
        )
    close_through(day=LATER, submission=make_submission(by=owner, on=TODAY))
    with pytest.raises(CostingError, match="closed period"):
        write_down_items(items=facts, submission=make_submission(by=owner, on=LATER))
    assert WriteDown.objects.count() == 1
