"""Which packs to buy, against trying everything; barcodes, against GS1's examples and a reference library."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from inventory.errors import InventoryError
from inventory.materials import packs
from inventory.materials.packs import (
    Offer,
    PackLine,
    Purchase,
    by_unit_price,
    cheapest_packs,
    check_digit,
    is_valid_gtin,
)

ML = 1_000
POUND = 1_000_000

SMALL = Offer(1, 250 * ML, 5 * POUND)
MIDDLE = Offer(2, 500 * ML, 9 * POUND)
LARGE = Offer(3, 1_000 * ML, 17 * POUND)


def bought(purchase: Purchase) -> dict[int, int]:
    return {line.offer.supply: line.packs for line in purchase.lines}


def test_it_mixes_sizes_when_that_is_cheapest() -> None:
    purchase = cheapest_packs(1_200 * ML, [SMALL, MIDDLE, LARGE])
    # 1,000 + 250 cost 22; 500 + 500 + 250 cost 23; two of 1,000 cost 34.
    assert purchase.lines == (PackLine(LARGE, 1), PackLine(SMALL, 1))
    assert (purchase.quantity, purchase.cost, purchase.cheapest) == (1_250 * ML, 22 * POUND, True)


def test_a_larger_pack_wins_when_the_rest_of_it_costs_nothing_more() -> None:
    assert bought(cheapest_packs(800 * ML, [SMALL, Offer(3, 1_000 * ML, 14 * POUND)])) == {3: 1}


def test_a_small_pack_wins_when_little_is_needed() -> None:
    assert bought(cheapest_packs(100 * ML, [SMALL, MIDDLE, LARGE])) == {1: 1}


def test_a_minimum_is_kept_or_the_offer_left_alone() -> None:
    by_the_box = Offer(4, 250 * ML, 3 * POUND, minimum_packs=6)
    assert bought(cheapest_packs(300 * ML, [SMALL, by_the_box])) == {1: 2}
    assert bought(cheapest_packs(1_000 * ML, [SMALL, by_the_box])) == {4: 6}
    assert bought(cheapest_packs(2_000 * ML, [SMALL, by_the_box])) == {4: 8}


def test_for_the_same_money_it_takes_more_paint_and_then_fewer_packs() -> None:
    generous = Offer(5, 600 * ML, 10 * POUND)
    assert bought(cheapest_packs(450 * ML, [SMALL, generous])) == {5: 1}
    plain_double = Offer(6, 500 * ML, 10 * POUND)
    assert bought(cheapest_packs(500 * ML, [SMALL, plain_double])) == {6: 1}


def test_a_free_pack_is_taken_first_and_no_more_than_needed() -> None:
    sample = Offer(7, 100 * ML, 0)
    purchase = cheapest_packs(150 * ML, [SMALL, sample])
    assert (bought(purchase), purchase.cost) == ({7: 2}, 0)


def test_nothing_needed_is_nothing_bought() -> None:
    assert cheapest_packs(0, []) == Purchase((), 0, 0, cheapest=True)


def test_it_refuses_to_choose_among_no_offers() -> None:
    with pytest.raises(InventoryError, match="Add a supplier"):
        cheapest_packs(1, [])


@pytest.mark.parametrize(("size", "price", "minimum"), [(0, 1, 1), (1, -1, 1), (1, 1, 0)])
def test_it_refuses_an_impossible_pack(size: int, price: int, minimum: int) -> None:
    with pytest.raises(InventoryError):
        Offer(1, size, price, minimum)


def test_usual_bottle_sizes_in_odd_thousandths_are_solved_within_the_bound() -> None:
    # Exact US fluid ounces of 2, 4, 8, 16, 32 and 128 share no round divisor; 40 litres are wanted.
    sizes = [59_147, 118_294, 236_588, 473_176, 946_353, 3_785_412]
    prices = [3_490_000, 5_990_000, 10_990_000, 18_990_000, 33_990_000, 119_990_000]
    offers = [Offer(number, *row) for number, row in enumerate(zip(sizes, prices, strict=True))]
    purchase = cheapest_packs(40_000 * ML, offers)
    assert purchase.cheapest
    assert purchase.quantity >= 40_000 * ML
    assert purchase.cost == sum(line.packs * line.offer.price for line in purchase.lines)


def test_past_the_bound_it_still_covers_the_need_and_admits_it_may_not_be_cheapest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(packs, "STEPS_WORTH_TAKING", 3)
    offers = [Offer(number, size, size * 7) for number, size in enumerate([97, 89, 83, 79, 73])]
    purchase = cheapest_packs(1_000, offers)
    assert not purchase.cheapest
    assert purchase.quantity >= 1_000
    assert purchase.cost == sum(line.packs * line.offer.price for line in purchase.lines)


def try_everything(needed: int, offers: list[Offer]) -> tuple[int, int, int]:
    """Return cost, quantity (negated) and packs of the best purchase by trying every count of every offer."""
    counts = [
        [0, *range(offer.minimum_packs, max(-(-needed // offer.size), offer.minimum_packs) + 1)]
        for offer in offers
    ]
    return min(
        (
            sum(count * offer.price for count, offer in zip(choice, offers, strict=True)),
            -quantity,
            sum(choice),
        )
        for choice in product(*counts)
        if (quantity := sum(n * offer.size for n, offer in zip(choice, offers, strict=True))) >= needed
    )


@given(
    st.integers(1, 60),
    st.lists(st.tuples(st.integers(3, 30), st.integers(1, 40), st.integers(1, 4)), min_size=1, max_size=3),
)
def test_no_other_choice_of_packs_is_better(needed: int, rows: list[tuple[int, int, int]]) -> None:
    offers = [Offer(number, *row) for number, row in enumerate(rows)]
    purchase = cheapest_packs(needed, offers)
    found = (purchase.cost, -purchase.quantity, sum(line.packs for line in purchase.lines))
    assert found == try_everything(needed, offers)
    assert all(line.packs >= line.offer.minimum_packs for line in purchase.lines)
    assert purchase.cheapest


def test_packs_compare_by_what_a_millilitre_costs() -> None:
    twin = Offer(9, 500 * ML, 10 * POUND)
    assert by_unit_price([SMALL, MIDDLE, twin, LARGE]) == [LARGE, MIDDLE, twin, SMALL]


@pytest.mark.parametrize(
    ("digits", "expected"),
    [
        # GS1 General Specifications, check digit calculation: weighted sum 57, so 3.
        ("629104150021", 3),
        # GS1 Sweden, "Så beräknas kontrollsiffran" (gs1.se): 15 + 8 = 23, so 7.
        ("730001100001", 7),
        # A 12-digit example given by encyclopaedias: 14 x 3 + 11 = 53, so 7.
        ("03600024145", 7),
    ],
)
def test_the_check_digit_follows_the_standards_examples(digits: str, expected: int) -> None:
    assert check_digit(digits) == expected
    assert is_valid_gtin(f"{digits}{expected}")


@pytest.mark.parametrize("code", ["4006381333931", "5901234123457", "9780306406157"])
def test_known_numbers_are_valid(code: str) -> None:
    # Found valid by python-stdnum 2.2 (stdnum.ean).
    assert ean.is_valid(code)
    assert is_valid_gtin(code)


@pytest.mark.parametrize(
    "code", ["", "4006381333930", "400638133393", "40063813339310", "40063813339x1", "٤٠٠٦٣٨١٣٣٣٩٣١"]
)
def test_a_wrong_digit_length_or_character_is_not_valid(code: str) -> None:
    assert not is_valid_gtin(code)


def test_it_refuses_to_check_anything_but_digits() -> None:
    with pytest.raises(InventoryError, match="only digits"):
        check_digit("62910x")


@given(st.sampled_from([7, 11, 12, 13]).flatmap(lambda n: st.text("0123456789", min_size=n, max_size=n)))
def test_a_completed_number_is_valid_here_and_in_the_reference_library(digits: str) -> None:
    digit = check_digit(digits)
    assert ean.is_valid(f"{digits}{digit}")
    wrong = f"{digits}{(digit + 1) % 10}"
    assert is_valid_gtin(f"{digits}{digit}")
    assert not is_valid_gtin(wrong)
