"""A session that was logged wrongly is put right, and everything made of it follows."""

from dataclasses import replace
from typing import Any

import pytest
from django.db.models import Sum

from inventory.ledger.models import CostingMethod, Entry, Place, Posting, PostingKind
from inventory.recipes.actions.mixes import MixFacts
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Pour
from tests import making
from tests.days import june
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

METHODS = pytest.mark.parametrize("method", CostingMethod)


class Bench:
    """Two paints at 1 and 3 a mL, a medium at 0.10, a board; one colour mixed of the first, and two pours of it."""

    def __init__(self, method: CostingMethod = CostingMethod.FIFO) -> None:
        making.use_cost_flow(method)
        self.blue, self.grey, self.medium = (
            making.make_lot(quantity=units(1_000), cost=money(cost), on=june(1))
            for cost in (1_000, 3_000, 100)
        )
        self.board = making.make_surface()
        making.make_opening(lines=[(self.board, units(10), money(50))], on=june(1))
        self.recipe = making.make_recipe(parts=[(self.blue.material, 1), (self.medium.material, 2)])
        self.mix = MixFacts(
            self.recipe,
            making.ingredients((self.blue.material, units(100)), (self.medium.material, units(200))),
        )
        self.facts = SessionFacts(
            held_on=june(3), mixes=[self.mix], pours=[self.poured(120), self.poured(60)], minutes=90
        )
        self.session = log_session(facts=self.facts, submission=making.make_submission())

    def poured(self, quantity: int, **facts: Any) -> PourFacts:
        return PourFacts(making.the_technique(), [Dose(units(quantity), mix=0)], surface=self.board, **facts)

    @property
    def pours(self) -> list[Pour]:
        return list(self.session.pours.order_by("number"))

    def as_recorded(self) -> SessionFacts:
        mix = self.session.mixes.get()
        pours = [replace(item, pour=pour) for item, pour in zip(self.facts.pours, self.pours, strict=True)]
        return replace(self.facts, mixes=[replace(self.mix, mix=mix)], pours=pours)

    def correct(self, facts: SessionFacts, **how: Any) -> None:
        correct_session(session=self.session, facts=facts, submission=making.make_submission(), **how)
        self.facts, self.mix = facts, facts.mixes[0]


def total(place: Place, **where: Any) -> tuple[int, int]:
    sums = Entry.objects.filter(place=place, **where).aggregate(Sum("quantity"), Sum("money"))
    return sums["quantity__sum"] or 0, sums["money__sum"] or 0


@METHODS
def test_another_paint_changes_what_a_sold_pour_cost_and_leaves_nothing_behind_in_work(
    method: CostingMethod,
) -> None:
    bench = Bench(method)
    sold, kept = bench.pours
    making.sell(pours=[sold], on=june(4))
    # 300 mL for 120: 0.40 a mL. With the dearer paint 320: 1.0667 a mL.
    assert total(Place.SOLD, pour=sold)[1] == money(5 + 48)
    facts = bench.as_recorded()
    wrong = replace(
        facts.mixes[0],
        ingredients=making.ingredients(
            (bench.grey.material, units(100)), (bench.medium.material, units(200))
        ),
    )
    bench.correct(replace(facts, mixes=[wrong]))
    assert held(bench.blue) == (units(1_000), money(1_000))
    assert held(bench.grey) == (units(900), money(2_700))
    assert total(Place.SOLD, pour=sold)[1] == money(5 + 128)
    assert total(Place.WORK, pour=sold) == (0, 0)
    assert total(Place.WORK, pour=kept)[1] == money(5 + 64)


@METHODS
def test_more_poured_on_a_sold_piece_is_sold_with_it_on_the_day_of_the_sale(method: CostingMethod) -> None:
    bench = Bench(method)
    sold, _kept = bench.pours
    making.sell(pours=[sold], on=june(4))
    facts = bench.as_recorded()
    more = replace(facts.pours[0], doses=[Dose(units(150), mix=0)])
    bench.correct(replace(facts, pours=[more, facts.pours[1]]))
    assert total(Place.WORK, pour=sold) == (0, 0)
    assert total(Place.SOLD, pour=sold) == (units(151), money(5 + 60))
    assert total(Place.SOLD, effective_on__lt=june(4)) == (0, 0)
    assert Pour.objects.get(pk=sold.pk).poured == units(150)
    assert Posting.objects.filter(kind=PostingKind.CORRECTION).count() == 1


@METHODS
def test_a_sale_of_a_corrected_pour_comes_back_whole(method: CostingMethod) -> None:
    bench = Bench(method)
    sold, _kept = bench.pours
    sale = making.sell(pours=[sold], on=june(4))
    facts = bench.as_recorded()
    more = replace(facts.pours[0], doses=[Dose(units(150), mix=0)])
    bench.correct(replace(facts, pours=[more, facts.pours[1]]))
    making.take_back(sale)
    assert total(Place.SOLD) == (0, 0)
    assert total(Place.WORK, pour=sold) == (units(151), money(65))
