"""A sale that was recorded wrongly is put right: undone, and sold again as it really was."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from costing.contacts.actions import add_contact
from costing.errors import PieceError
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import (
    PieceSold,
    RefundFacts,
    SaleCorrection,
    SaleFacts,
    correct_sale,
    refund_line,
    return_sale,
    sell_together,
)
from costing.selling.actions.corrections import preview_correction
from costing.selling.models import Refund, Sale
from inventory.errors import ClosedPeriod, KeyReused
from inventory.ledger.closing import close_through
from inventory.ledger.models import Posting
from studio.errors import InputError
from studio.preferences.models import Studio
from tests.costing.commissions.stories import a_commission, paid, state_of
from tests.costing.consignments.stories import fates, give, report
from tests.costing.selling.mistyped import all_sales, corrected, figures_of, sold
from tests.costing.stories import LATER, a_piece, held_in, line_of, make_channel, use_rates
from tests.days import june
from tests.making import make_submission, money

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def test_a_wrong_price_is_put_right_and_all_figures_are_as_if_it_had_been_typed_so() -> None:
    wrong = sold("24.00")
    right = corrected(wrong, "42.00")
    assert (right.corrects, right.sold_on, right.channel) == (wrong, LATER, wrong.channel)
    total = figures_of(right).total
    # 42.00 holds 7.00 of tax; 10% of 35.00 and 2% of 42.00 are 3.50 and 0.84; the piece cost 5.50.
    assert (total.tax, total.fees, total.profit) == (money(7), money("4.34"), money("25.16"))
    undone = figures_of(wrong).total
    assert (undone.paid, undone.tax, undone.fees, undone.profit) == (0, 0, 0, 0)
    assert (all_sales().profit, all_sales().count) == (money("25.16"), 1)


def test_the_cost_is_sold_once_and_nothing_of_it_is_left_in_work() -> None:
    sale = corrected(sold("24.00"), "42.00")
    pours = Piece.objects.get().pours
    assert (held_in(["sold"], pours), held_in(["work"], pours)) == (money("5.50"), 0)
    assert Piece.objects.get().state == State.SOLD
    postings = Posting.objects.filter(entries__pour__in=pours).exclude(kind="session").distinct()
    days = postings.order_by("number").values_list("kind", "effective_on")
    assert list(days) == [("sale", LATER), ("reversal", LATER), ("sale", LATER)]
    assert line_of(sale).posting.recorded_at == make_submission().at


def test_where_when_to_whom_and_the_postage_are_put_right_and_what_is_left_out_stays() -> None:
    buyer = add_contact(name="Lantern Quay café", reach="", submission=make_submission())
    wrong = sold("24.00", postage=money(3), postage_paid=money(2), note="Blue paper")
    fair = make_channel("Ropewalk fair", fixed_fee=money(1))
    right = corrected(wrong, channel=fair, on=june(10), buyer=buyer, postage=money(4))
    assert (right.channel, right.sold_on, right.buyer, right.note) == (fair, june(10), buyer, "Blue paper")
    total = figures_of(right).total
    assert (total.prices, total.postage, total.postage_paid, total.fees) == (
        money(24), money(4), money(2), money(1),
    )  # fmt: skip


@pytest.mark.parametrize("day", [june(8), june(10)])
def test_another_day_earlier_or_later_takes_the_rates_and_terms_of_that_day(day: date) -> None:
    right = corrected(sold("24.00"), on=day)
    assert [each.sold_on for each in Sale.objects.order_by("pk")] == [LATER, day]
    assert line_of(right).posting.effective_on == day


def test_of_several_pieces_each_keeps_its_share_of_the_discount_unless_it_is_corrected() -> None:
    wrong = sold("40.00", "24.00", discount=money(8))
    right = corrected(wrong, on=june(10))
    before, after = (figures_of(each).lines for each in (wrong, right))
    assert [each.line.price for each in after] == [each.line.price for each in before]
    assert [each.line.fees for each in after] == [each.line.fees for each in before]
    first = right.lines.order_by("pk")[0]
    facts = SaleCorrection(lines={first.pk: {"price": money(50), "discount": 0}})
    again = correct_sale(sale=right, facts=facts, submission=make_submission())
    assert [each.line.price for each in figures_of(again).lines] == [money(50), money(21)]


PENCE = st.integers(min_value=1, max_value=30_000).map(lambda pence: pence * 10_000)


@settings(max_examples=10)
@given(prices=st.tuples(PENCE, PENCE), off=PENCE, postage=st.none() | PENCE, day=st.sampled_from([8, 9, 10]))
def test_whatever_is_corrected_the_figures_are_those_of_a_sale_recorded_so_at_once(
    prices: tuple[int, int], off: int, postage: int | None, day: int
) -> None:
    recorded = [(price + off, off) for price in prices]
    wrong = sold("40.00", "24.00", discount=money(8), postage=money(6))
    before, mistaken = all_sales(), figures_of(wrong).total
    lines = {
        line.pk: {"price": price, "discount": discount}
        for line, (price, discount) in zip(wrong.lines.order_by("pk"), recorded, strict=True)
    }
    facts = SaleCorrection({"postage": postage or 0, "on": june(day)}, lines)
    right = correct_sale(sale=wrong, facts=facts, submission=make_submission())
    after = all_sales()
    at_once = sell_together(
        lines=[PieceSold(a_piece(state=State.FOR_SALE), price, discount) for price, discount in recorded],
        channel=wrong.channel,
        facts=SaleFacts(postage=postage or 0),
        submission=make_submission(on=june(day)),
    )
    assert figures_of(right).total == figures_of(at_once).total
    assert after.profit - before.profit == figures_of(at_once).total.profit - mistaken.profit
    assert (after.count, after.cost) == (before.count, before.cost)


def test_the_same_correction_sent_twice_is_one() -> None:
    wrong = sold("24.00")
    first = corrected(wrong, "42.00", key="once")
    assert corrected(wrong, "42.00", key="once") == first
    assert Sale.objects.count() == 2
    with pytest.raises(KeyReused):
        corrected(wrong, "43.00", key="once")


def test_a_second_correction_starts_from_the_first() -> None:
    wrong = sold("24.00")
    first = corrected(wrong, "42.00")
    with pytest.raises(PieceError, match=f"sale {first.pk}"):
        corrected(wrong, "43.00")
    second = corrected(first, "43.00")
    assert (second.corrects, second.corrects and second.corrects.corrects) == (first, wrong)
    assert all_sales().paid == money(43)


def test_a_preview_shows_both_and_leaves_nothing() -> None:
    wrong = sold("24.00")
    facts = SaleCorrection(lines={line_of(wrong).pk: {"price": money(42)}})
    shown = preview_correction(sale=wrong, facts=facts, submission=make_submission())
    assert (shown.before.total.profit, shown.after.total.profit) == (money("12.02"), money("25.16"))
    assert (Sale.objects.count(), Refund.objects.count(), Piece.objects.get().state) == (1, 0, State.SOLD)


@pytest.mark.parametrize("figures", [{}, {"on": LATER}, {"postage": 0, "buyer": None}])
def test_a_correction_that_changes_nothing_is_refused(figures: dict[str, Any]) -> None:
    with pytest.raises(PieceError, match="Nothing has changed"):
        corrected(sold("24.00"), "24.00", **figures)


def test_a_line_of_another_sale_is_refused() -> None:
    sale, other = sold("24.00"), sold("30.00", titles=["Slack"])
    facts = SaleCorrection(lines={line_of(other).pk: {"price": money(42)}})
    with pytest.raises(InputError):
        correct_sale(sale=sale, facts=facts, submission=make_submission())


def test_what_was_returned_or_refunded_since_is_refused_and_stays_as_it_is() -> None:
    returned, refunded = sold("24.00"), sold("30.00", titles=["Slack"])
    return_sale(sale=returned, submission=make_submission(on=june(10)))
    refund_line(line=line_of(refunded), facts=RefundFacts(money(1)), submission=make_submission(on=june(10)))
    for sale, words in ((returned, "taken back"), (refunded, "refunded")):
        with pytest.raises(PieceError, match=words):
            corrected(sale, "42.00")
    assert Sale.objects.count() == 2


@pytest.mark.parametrize("price", ["0", "42.001"])
def test_a_price_that_makes_no_sense_leaves_the_sale_as_it_was(price: str) -> None:
    sale = sold("24.00")
    with pytest.raises(PieceError):
        corrected(sale, price)
    assert (line_of(sale).returned_on, Piece.objects.get().state) == (None, State.SOLD)


def test_a_sale_of_a_closed_period_is_put_right_on_an_open_day_or_not_at_all() -> None:
    sale = sold("24.00")
    close_through(day=LATER, submission=make_submission())
    with pytest.raises(ClosedPeriod, match="later day"):
        corrected(sale, "42.00")
    right = corrected(sale, "42.00", on=june(10))
    undone = Refund.objects.get()
    assert (undone.on, line_of(sale).returned_on, right.sold_on) == (june(10), june(10), june(10))
    assert all_sales().paid == money(42)


def test_an_open_sale_cannot_be_moved_into_a_closed_period() -> None:
    sale = sold("24.00", on=june(10))
    close_through(day=LATER, submission=make_submission())
    with pytest.raises(ClosedPeriod):
        corrected(sale, on=LATER)
    assert line_of(sale).returned_on is None


def test_numbered_papers_are_taken_back_by_a_credit_note_and_numbered_anew() -> None:
    Studio.objects.update(numbers_receipts=True)
    wrong = sold("24.00")
    right = corrected(wrong, "42.00")
    assert (wrong.number, right.number) == (1, 2)
    note = Refund.objects.get()
    assert (note.number, note.amount, note.tax) == (1, money(24), money(4))


def test_without_numbers_there_is_no_credit_note_number() -> None:
    right = corrected(sold("24.00"), "42.00")
    assert (right.number, Refund.objects.get().number) == (None, None)


def test_a_commission_stays_finished_by_the_corrected_sale() -> None:
    use_rates(wage="0", overhead="0")
    commission = a_commission()
    paid(commission, "50.00")
    sale = sell_together(
        lines=[PieceSold(a_piece(state=State.FOR_SALE), money(200))],
        channel=make_channel(),
        facts=SaleFacts(commission=commission),
        submission=make_submission(on=june(10)),
    )
    held = state_of(commission)
    right = corrected(sale, "220.00")
    sale.refresh_from_db()
    assert (right.commission, sale.commission, right.paid_before) == (commission, None, money(50))
    assert state_of(commission) == held
    assert (figures_of(right).balance, right.buyer) == (money(170), commission.contact)


def test_a_piece_sold_by_a_gallery_stays_sold_there() -> None:
    piece = a_piece(title="Neap", state=State.FOR_SALE)
    note = give([piece])
    sale = report(note, piece, price="24.00")
    right = corrected(sale, "42.00")
    assert fates(note) == ["sold"]
    assert (right.channel, figures_of(right).total.prices) == (sale.channel, money(42))
