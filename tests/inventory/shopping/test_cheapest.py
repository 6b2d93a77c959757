"""The cheapest way to buy everything together, against trying everything."""

from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from math import ceil
from random import Random

import pytest

from inventory.shopping.calculations.cheapest import cheapest
from inventory.shopping.calculations.purchases import (
    Answer,
    Item,
    Offer,
    Price,
    Question,
    Terms,
    answer_from,
    holding_cost,
    keeps_to,
)

MILLION = 1_000_000
CASES, SEED = 1_000, 7
MOST_TRIED = 300
FIRST, SECOND = 1, 2  # suppliers


def offer(supply: int, supplier: int, size: int, *prices: tuple[int, int]) -> Offer:
    """Prices as (from so many packs, each)."""
    ends = [least - 1 for least, _each in prices[1:]] + [9_999]
    steps = [Price(each * MILLION, least, end) for (least, each), end in zip(prices, ends, strict=True)]
    return Offer(supply, supplier, size * 1_000, tuple(steps))


def bought(answer: Answer, fortnight: int = 0) -> dict[int, int]:
    """Packs by supply."""
    return {
        each.offer.supply: each.packs
        for order in answer.orders
        if order.fortnight == fortnight
        for each in order.purchases
    }


def one(*offers: Offer, needs: int = 500, **facts: int) -> Item:
    return Item(1, 0, offers, now=needs * 1_000, **facts)


def test_a_small_story_worked_out_by_hand() -> None:
    """Two suppliers, three materials, two fortnights: 41.17, by hand 9 + 6 + 6.50 now, 14 + 4.90 later, 0.77 held."""
    question = Question(
        (
            Item(1, 300_000, (offer(1, FIRST, 500, (1, 9)),), level=500_000, a_day=20_000, to_hold=0.5),
            Item(
                2,
                400_000,
                (offer(2, FIRST, 250, (1, 6)), offer(3, SECOND, 500, (1, 10))),
                level=250_000,
                a_day=15_000,
                to_hold=0.5,
            ),
            Item(
                3, 12_000, (offer(4, SECOND, 10, (1, 14)),), level=10_000, a_day=500, cap=40_000, to_hold=2.0
            ),
        ),
        (Terms(FIRST, 6_500_000, 25 * MILLION), Terms(SECOND, 4_900_000)),
        fortnights=2,
    )
    answer = cheapest(question)
    assert float(answer.weighed) / MILLION == pytest.approx(41.17)
    assert (bought(answer), bought(answer, 1)) == ({1: 1, 2: 1}, {4: 1})
    assert answer.is_proven


def test_free_carriage_is_worth_a_pack_more() -> None:
    """Two at 6 and 7 of carriage are 19; three are 18, and sent free."""
    question = Question(
        (one(offer(1, FIRST, 500, (1, 6)), needs=1_000),), (Terms(FIRST, 7 * MILLION, 18 * MILLION),)
    )
    answer = cheapest(question)
    assert (bought(answer), answer.cost) == ({1: 3}, 18 * MILLION)


def test_one_order_saves_the_carriage_of_two() -> None:
    """The second material is a little dearer where the first is bought, and carriage is paid there already."""
    items = (
        Item(1, 0, (offer(1, FIRST, 500, (1, 10)),), now=500_000),
        Item(2, 0, (offer(2, FIRST, 500, (1, 8)), offer(3, SECOND, 500, (1, 7))), now=500_000),
    )
    answer = cheapest(Question(items, (Terms(FIRST, 5 * MILLION), Terms(SECOND, 5 * MILLION))))
    assert bought(answer) == {1: 1, 2: 1}


def test_a_price_break_is_reached_where_it_is_cheaper() -> None:
    answer = cheapest(Question((one(offer(1, FIRST, 100, (1, 10), (6, 8))),), ()))
    assert (bought(answer), answer.cost) == ({1: 6}, 48 * MILLION)  # five at 10 would be 50


def test_a_supplier_sends_no_fewer_than_its_minimum() -> None:
    answer = cheapest(Question((one(offer(1, FIRST, 500, (3, 2)), offer(2, SECOND, 500, (1, 7))),), ()))
    assert bought(answer) == {1: 3}


def test_an_order_below_the_minimum_is_given_elsewhere() -> None:
    offers = offer(1, FIRST, 500, (1, 5)), offer(2, SECOND, 500, (1, 7))
    terms = Terms(FIRST, minimum=20 * MILLION), Terms(SECOND)
    assert bought(cheapest(Question((one(*offers),), terms))) == {2: 1}


def test_no_more_than_its_cap_but_at_least_one_pack() -> None:
    """The large pack is cheaper for what it holds, and more than keeps."""
    small, large = offer(1, FIRST, 250, (1, 6)), offer(2, FIRST, 2_000, (1, 10))
    assert bought(cheapest(Question((one(small, large),), ()))) == {2: 1}
    assert bought(cheapest(Question((one(small, large, cap=600_000),), ()))) == {1: 2}
    assert bought(cheapest(Question((one(large, cap=600_000),), ()))) == {2: 1}


def test_what_she_chose_is_bought_whatever_it_costs() -> None:
    chosen = Offer(1, FIRST, 100_000, (Price(50 * MILLION),), exactly=2)
    answer = cheapest(Question((Item(1, 0, (chosen,)),), (Terms(FIRST, 5 * MILLION),)))
    assert (bought(answer), answer.cost, bought(answer, 1)) == ({1: 2}, 105 * MILLION, {})


def test_nothing_needed_costs_nothing() -> None:
    answer = cheapest(Question((Item(1, 500, (offer(1, FIRST, 1, (1, 1)),), level=400),), ()))
    assert (answer.orders, answer.cost) == ((), 0)


def test_without_time_each_is_bought_by_itself_and_the_answer_says_so() -> None:
    items = tuple(Item(key, 0, (offer(key, FIRST, 500, (1, 6)),), now=900_000) for key in range(1, 4))
    question = Question(items, (Terms(FIRST, 5 * MILLION, 100 * MILLION),))
    answer = cheapest(question, seconds=0.0)
    assert bought(answer) == {1: 2, 2: 2, 3: 2}


def test_a_thousand_small_cases_cost_no_more_than_anything_that_could_be_bought() -> None:
    hand, tried = Random(SEED), 0
    while tried < CASES:
        question = _case(hand)
        best = _by_trying_everything(question)
        if best is None:
            continue
        tried += 1
        answer = cheapest(question, gap=0.0)
        assert float(answer.weighed) == pytest.approx(float(best), abs=1), (tried, question)
        assert answer.is_proven


def _case(hand: Random) -> Question:
    suppliers, fortnights = hand.randint(1, 2), hand.choice((1, 1, 2))
    terms = tuple(
        Terms(
            supplier,
            hand.choice((0, 0, 3, 5, 7)) * MILLION,
            hand.choice((None, None, 12 * MILLION, 20 * MILLION)),
            hand.choice((0, 0, 0, 10 * MILLION)),
        )
        for supplier in range(1, suppliers + 1)
    )
    count = hand.randint(1, 3 if fortnights == 1 else 2)
    return Question(tuple(_item(hand, key, suppliers) for key in range(1, count + 1)), terms, fortnights)


def _item(hand: Random, key: int, suppliers: int) -> Item:
    offers = []
    for number in range(hand.randint(1, 2)):
        price, least = hand.randint(2, 9), hand.choice((1, 1, 1, 2))
        prices = [(least, price)]
        if hand.random() < 0.3:
            prices.append((least + hand.randint(1, 2), price - 1))
        offers.append(
            offer(10 * key + number, hand.randint(1, suppliers), hand.choice((100, 250, 500)), *prices)
        )
    position = hand.randint(0, 300) * 1_000
    return Item(
        key,
        position,
        tuple(offers),
        now=hand.choice((None, position + hand.randint(1, 500) * 1_000)),
        level=hand.choice((None, hand.randint(0, 300) * 1_000)),
        a_day=hand.randint(0, 20) * 1_000.0,
        cap=hand.choice((None, None, hand.randint(100, 900) * 1_000)),
        to_hold=hand.choice((0.0, holding_cost(5 * MILLION, 500_000))),
    )


def _by_trying_everything(question: Question) -> Fraction | None:
    """The least that any sensible number of packs costs; None where there are too many to try."""
    ways = []
    for item in question.items:
        if item.is_covered(question.fortnights):
            continue
        mine = list(_ways(question, item))
        if not mine:
            return None
        ways.append(mine)
    size = 1
    for mine in ways:
        size *= len(mine)
    if size > MOST_TRIED:
        return None
    return min(
        answer_from(question, {place: packs for each in together for place, packs in each.items()}).weighed
        for together in product(*ways)
    )


def _ways(question: Question, item: Item) -> Iterator[dict[tuple[int, Offer, int], int]]:
    """Every number of packs of one item that keeps to the rules, up to more than could ever be worth it."""
    choices = []
    for each in item.offers:
        terms = question.terms_of(each.supplier)
        needed = max((item.least_at(question.fortnights - 1) or 0) - item.position, 0)
        wanted = max(terms.minimum, terms.free_from or 0)
        most = ceil(needed / each.size) + max(price.least_packs for price in each.prices)
        most += ceil(wanted / each.lowest_price) if wanted else 0
        choices += [
            [((item.key, each, fortnight), packs) for packs in range(most + 1)]
            for fortnight in range(question.fortnights)
        ]
    size = 1
    for choice in choices:
        size *= len(choice)
    if size > MOST_TRIED:
        return
    alone = Question((item,), question.terms, question.fortnights)
    for chosen in product(*choices):
        counts = {place: packs for place, packs in chosen if packs}
        if keeps_to(alone, counts):
            yield counts
