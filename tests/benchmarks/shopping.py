"""The cheapest way to buy for a whole shelf, beside buying each material by itself. It needs no ledger."""

from random import Random

from inventory.shopping.calculations.cheapest import cheapest, each_by_itself
from inventory.shopping.calculations.purchases import (
    Item,
    Offer,
    Price,
    Question,
    Terms,
    answer_from,
    holding_cost,
)
from tests.benchmarks.figures import Figure, side_by_side

MATERIALS, SUPPLIERS = 50, 8
MILLION = 1_000_000


def buy_together(*, runs: int, part: int) -> Figure:
    """A whole-number programme over three fortnights: invented prices, two or three suppliers to a material."""
    hand = Random(1)
    materials, suppliers = max(4, MATERIALS // part), max(2, SUPPLIERS // part)
    question = Question(
        tuple(_item(hand, key, suppliers) for key in range(1, materials + 1)),
        tuple(
            Terms(supplier, hand.randint(4, 9) * MILLION, hand.choice((None, 40, 60)) and 50 * MILLION)
            for supplier in range(1, suppliers + 1)
        ),
    )
    together = cheapest.__wrapped__(question)
    alone = answer_from(question, each_by_itself(question))
    saved = 100 * (1 - together.cost / alone.cost)
    note = f"{len(together.now)} orders now, {saved:.0f}% less than each by itself"
    note += "" if together.is_proven else ", time was up"
    return side_by_side(
        f"P12 buy {materials} materials from {suppliers} suppliers",
        lambda: cheapest.__wrapped__(question),
        lambda: each_by_itself(question),
        runs=max(1, runs // 2),
        note=note,
    )


def _item(hand: Random, key: int, suppliers: int) -> Item:
    offers = []
    unit = hand.uniform(0.01, 0.03)
    for number, supplier in enumerate(
        hand.sample(range(1, suppliers + 1), min(suppliers, hand.randint(2, 3)))
    ):
        for step, size in enumerate((250, 1000)):
            each = round(unit * size * hand.uniform(0.85, 1.15) * (1, 0.85)[step] * MILLION)
            prices = (Price(each, 1, 5), Price(each * 9 // 10, 6)) if hand.random() < 0.2 else (Price(each),)
            offers.append(Offer(100 * key + 10 * number + step, supplier, size * 1_000, prices))
    level, a_day = hand.randint(100, 900) * 1_000, hand.randint(2, 40) * 1_000.0
    position = hand.randint(0, 1_500) * 1_000
    return Item(
        key,
        position,
        tuple(offers),
        now=2 * level if position <= level else None,
        level=level,
        a_day=a_day,
        cap=hand.choice((None, None, 3_000_000)),
        to_hold=holding_cost(round(unit * 1_000 * MILLION), MILLION),
    )
