"""The rule by which an amount is asked about: where it speaks, where it is silent, and that units do not matter."""

import re
from collections.abc import Sequence
from fractions import Fraction

import pytest
from django.utils.translation import override
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.usual_amounts import (
    LEAST_PAST,
    MEDIAN_DEVIATIONS,
    MOST_PAST,
    MUCH_LESS,
    MUCH_MORE,
    Amount,
    PastAmounts,
    Usual,
)
from studio.pages.glossary.views import word

RING_POURS = [70, 75, 80, 82, 85, 85, 88, 90, 90, 92, 94, 95]
amounts = st.integers(1, 10**15)
histories = st.lists(amounts, min_size=LEAST_PAST, max_size=MOST_PAST + 5)


def usual_instead(amount: Amount, past: Sequence[Amount]) -> Usual | None:
    return PastAmounts(past).usual_instead(amount)


def test_nine_hundred_is_asked_about_where_the_last_were_about_ninety() -> None:
    assert usual_instead(900, RING_POURS) == Usual(12, 12, 70, 95)
    assert usual_instead(9, RING_POURS) == Usual(12, 12, 70, 95)


@pytest.mark.parametrize("amount", [12, 60, 90, 250, 420])
def test_what_a_smaller_or_larger_surface_takes_is_not_asked_about(amount: int) -> None:
    assert usual_instead(amount, RING_POURS) is None


def test_where_amounts_vary_a_lot_only_what_is_further_out_is_asked_about() -> None:
    steady, varied = [100] * 9, [25, 50, 60, 80, 100, 120, 160, 200, 400]
    assert usual_instead(900, steady)
    assert usual_instead(900, varied) is None
    assert usual_instead(100_000, varied)


def test_one_slip_in_the_past_neither_hides_the_next_nor_is_called_usual() -> None:
    assert usual_instead(900, [900, *RING_POURS]) == Usual(13, 12, 70, 95)


def test_only_the_latest_amounts_speak() -> None:
    assert usual_instead(900, [900] * MOST_PAST + [90] * 100) is None


def test_it_never_speaks_where_a_published_rule_would_be_silent() -> None:
    # Iglewicz and Hoaglin (1993): a modified z-score, 0.6745 (x - median) / MAD, of more than 3.5 (from memory).
    assert MEDIAN_DEVIATIONS > 3.5 / 0.6745


@given(past=st.lists(amounts, max_size=LEAST_PAST - 1), amount=amounts)
def test_it_is_silent_on_a_short_history(past: list[int], amount: int) -> None:
    assert usual_instead(amount, past) is None


@given(past=st.lists(st.just(0), max_size=30), amount=amounts)
def test_zeros_are_no_history(past: list[int], amount: int) -> None:
    assert usual_instead(amount, past) is None


@given(past=histories, amount=amounts, scale=st.fractions(Fraction(1, 1000), 1000).filter(bool))
def test_it_is_the_same_in_every_unit(past: list[int], amount: int, scale: Fraction) -> None:
    plain, scaled = (
        usual_instead(amount, past),
        usual_instead(amount * scale, [each * scale for each in past]),
    )
    assert (plain is None) == (scaled is None)
    if plain and scaled:
        assert (scaled.low, scaled.high) == (plain.low * scale, plain.high * scale)


@given(past=histories, amount=amounts, more=amounts)
def test_what_is_further_out_is_asked_about_as_well(past: list[int], amount: int, more: int) -> None:
    usual = usual_instead(amount, past)
    if usual and amount > usual.high:
        assert usual_instead(amount + more, past)
    elif usual and amount > more:
        assert usual_instead(amount - more, past)


@given(past=histories, amount=amounts)
def test_nothing_within_the_factors_of_every_past_amount_is_asked_about(past: list[int], amount: int) -> None:
    latest = past[:MOST_PAST]
    if max(latest) <= amount <= MUCH_MORE * min(latest) or max(
        latest
    ) <= MUCH_LESS * amount <= MUCH_LESS * min(latest):
        assert usual_instead(amount, past) is None


@given(past=histories, amount=amounts)
def test_what_it_calls_usual_is_a_part_of_the_past_without_the_amount(past: list[int], amount: int) -> None:
    usual = usual_instead(amount, past)
    if usual:
        assert usual.low in past
        assert usual.high in past
        assert not usual.low <= amount <= usual.high
        assert 0 < usual.alike <= usual.count <= MOST_PAST


def test_the_glossary_explains_the_rule_with_its_own_figures() -> None:
    with override(None):
        figures = {int(figure) for figure in re.findall(r"\d+", str(word("unusual-amount").meaning))}
    assert figures == {MUCH_MORE, MOST_PAST, LEAST_PAST}
