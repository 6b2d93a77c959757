"""The ledger lived through again from its facts: by how much each flow of money is off. Small stories, by hand."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.restatement import (
    NOWHERE,
    Account,
    Fact,
    Flow,
    PostedFacts,
    Restatement,
    even_out,
    with_corrections,
)
from tests.days import june

FIRST = june(1)
OUTSIDE: Account = ("outside", None, None, None, None)
LOSS: Account = ("loss", None, None, None, 1)
CUP: Account = ("mix", None, 1, None, None)
PAINT, MEDIUM = 7, 8


def lot(number: int) -> Account:
    return "lot", number, None, None, None


def work(pour: int) -> Account:
    return "work", None, None, pour, None


def fact(
    source: Account,
    destination: Account,
    quantity: int,
    money: int,
    *,
    day: date = FIRST,
    material: int = PAINT,
) -> Fact:
    return Fact(day, source, destination, material, "", quantity, money)


def posted(
    number: int, *movements: Fact, reverses: int | None = None, corrects: int | None = None
) -> PostedFacts:
    return PostedFacts(number, movements[0].day, reverses, corrects, movements)


def off(
    *postings: PostedFacts, average: bool = False, closed_through: date | None = None
) -> dict[tuple[Account, Account], int]:
    """By how much each way's money is off."""
    reversed_on = {each.reverses: each.day for each in postings if each.reverses is not None}
    corrections: dict[int, list[Fact]] = {}
    for each in postings:
        if each.corrects is not None and each.number not in reversed_on:
            corrections.setdefault(each.corrects, []).extend(each.corrections)
    replay = Restatement(average, corrections, reversed_on, closed_through)
    for each in postings:
        replay.take(each)
    return {(flow.source, flow.destination): money for flow, (_quantity, money) in replay.finish().items()}


RECEIPT = posted(1, fact(OUTSIDE, lot(1), 100, 1_000))
LOSS_OF_HALF = posted(2, fact(lot(1), LOSS, 50, 500))


def test_an_honest_ledger_is_off_nowhere() -> None:
    assert off(RECEIPT, LOSS_OF_HALF) == {}


def test_a_wrong_pack_size_corrected_later_changes_what_every_use_cost() -> None:
    # 100 for 1,000 were 500 for 1,000: half of the hundred cost 100, not 500.
    correction = posted(3, fact(OUTSIDE, lot(1), 400, 0), corrects=1)
    assert off(RECEIPT, LOSS_OF_HALF, correction) == {(lot(1), LOSS): -400}


def test_a_wrong_paint_corrected_later_moves_the_cost_of_the_pour() -> None:
    other = posted(2, fact(OUTSIDE, lot(2), 100, 3_000))
    poured = posted(3, fact(lot(1), work(1), 50, 500))
    correction = posted(4, fact(lot(1), work(1), -50, -500), fact(lot(2), work(1), 50, 0), corrects=3)
    assert off(RECEIPT, other, poured, correction) == {(lot(2), work(1)): 1_500}


def test_a_reversed_correction_counts_for_nothing() -> None:
    late = fact(OUTSIDE, lot(1), 0, 400)
    restated = fact(lot(1), LOSS, 0, 200)
    correction = posted(3, late, restated, corrects=1)
    assert off(RECEIPT, LOSS_OF_HALF, correction) == {}
    back = posted(4, *(each._replace(money=-each.money) for each in (late, restated)), reverses=3)
    assert off(RECEIPT, LOSS_OF_HALF, correction, back) == {}


def test_a_late_cost_goes_through_a_mixing_cup() -> None:
    mixed = posted(
        2,
        fact(lot(1), CUP, 50, 500),
        fact(CUP, lot(2), 50, 500, material=MEDIUM),
        fact(lot(2), work(1), 25, 250, material=MEDIUM),
    )
    correction = posted(3, fact(OUTSIDE, lot(1), 0, 400), corrects=1)
    assert off(RECEIPT, mixed, correction) == {(lot(1), CUP): 200, (CUP, lot(2)): 200, (lot(2), work(1)): 100}


def test_what_a_closed_period_got_wrong_stands_on_the_first_open_day() -> None:
    correction = posted(3, fact(OUTSIDE, lot(1), 0, 400, day=june(6)), corrects=1)
    replay = Restatement(False, {1: [fact(OUTSIDE, lot(1), 0, 400)]}, {}, june(5))
    for each in (RECEIPT, LOSS_OF_HALF, correction):
        replay.take(each)
    assert replay.finish() == {Flow(june(6), lot(1), LOSS, PAINT, ""): (0, 200)}


def test_under_the_average_days_count_and_not_the_order_of_entry() -> None:
    later = posted(2, fact(OUTSIDE, lot(2), 100, 3_000, day=june(8)))
    evened = [fact(lot(2), lot(1), 0, 1_000, day=june(8))]
    backdated = posted(3, fact(lot(1), LOSS, 100, 1_000, day=june(5)))
    assert off(RECEIPT, later._replace(movements=[*later.movements, *evened]), backdated, average=True) == {
        (NOWHERE, lot(1)): -1_000,
        (NOWHERE, lot(2)): 1_000,
    }


def test_what_a_correction_adds_to_a_mix_goes_in_before_anything_comes_out() -> None:
    facts = [fact(lot(1), CUP, 50, 500), fact(CUP, lot(2), 50, 500, material=MEDIUM)]
    merged = with_corrections(facts, [fact(lot(3), CUP, 10, 0), fact(lot(1), CUP, -50, -500)])
    assert [(each.source, each.quantity) for each in merged] == [(lot(3), 10), (CUP, 50)]


@given(st.lists(st.tuples(st.integers(1, 10**9), st.integers(0, 10**12)), min_size=1, max_size=6))
def test_evening_out_keeps_all_the_money(holdings: list[tuple[int, int]]) -> None:
    assert sum(even_out(holdings)) == sum(money for _quantity, money in holdings)
