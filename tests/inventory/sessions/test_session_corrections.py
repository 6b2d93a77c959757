"""A session that was logged wrongly is put right, and everything made of it follows."""

from dataclasses import replace
from typing import Any

import pytest
from django.db.models import Sum

from inventory.errors import BelowZeroOnDay, ClosedPeriod, InventoryError, NotEnough
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.sessions.actions.corrections import correct_session, preview_correction
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Pour, Session
from studio.errors import InputError
from tests import making
from tests.days import june
from tests.inventory.invariants import everything, refused
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


@METHODS
def test_correcting_back_leaves_every_account_as_it_was(method: CostingMethod) -> None:
    bench = Bench(method)
    making.sell(pours=bench.pours[:1], on=june(4))
    before = balances()
    as_logged = bench.as_recorded()
    less = replace(as_logged.pours[0], doses=[Dose(units(90), mix=0)])
    bench.correct(replace(as_logged, pours=[less, as_logged.pours[1]], minutes=30))
    assert balances() != before
    bench.correct(as_logged)
    assert balances() == before
    assert Session.objects.get().minutes == 90


def balances() -> dict[tuple[Any, ...], tuple[int, int]]:
    rows = Entry.objects.order_by().values_list("place", "lot", "pour", "reason", "material", "effective_on")
    sums = rows.annotate(quantity=Sum("quantity"), money=Sum("money"))
    return {tuple(key): (quantity, cost) for *key, quantity, cost in sums if quantity or cost}


@METHODS
def test_a_corrected_session_ends_as_if_it_had_been_logged_so(method: CostingMethod) -> None:
    bench = Bench(method)
    truth = replace(
        bench.as_recorded(),
        pours=[replace(bench.as_recorded().pours[0], doses=[Dose(units(100), mix=0)]), bench.poured(40)],
        sundries=[Ingredient(bench.grey.material, units(5))],
    )
    bench.correct(truth)
    corrected = {key[0]: amounts for key, amounts in by_place().items()}
    making.take_back(bench.session.posting)
    fresh = replace(
        truth,
        mixes=[replace(truth.mixes[0], mix=None)],
        pours=[replace(pour, pour=None) for pour in truth.pours],
    )
    log_session(facts=fresh, submission=making.make_submission())
    assert {key[0]: amounts for key, amounts in by_place().items()} == corrected


def by_place() -> dict[tuple[str], tuple[int, int]]:
    sums = Entry.objects.order_by().values_list("place").annotate(Sum("quantity"), Sum("money"))
    return {(place,): (quantity, cost) for place, quantity, cost in sums if place != "mix"}


def test_a_pour_is_struck_out_and_one_is_added() -> None:
    bench = Bench()
    facts = bench.as_recorded()
    kept, struck = bench.pours
    bench.correct(replace(facts, pours=[facts.pours[0], bench.poured(30)]))
    assert [pour.number for pour in bench.pours] == [1, 3]
    assert Pour.with_struck.get(pk=struck.pk).struck_by is not None
    assert total(Place.WORK, pour=struck) == (0, 0)
    assert total(Place.WORK, pour=bench.pours[1])[0] == units(31)
    assert kept in bench.pours


def test_a_sold_pour_is_not_struck_out() -> None:
    bench = Bench()
    making.sell(pours=bench.pours[1:], on=june(4))
    facts = bench.as_recorded()
    with refused(InventoryError, match="sold"):
        bench.correct(replace(facts, pours=facts.pours[:1]))


def test_stock_that_was_used_later_names_the_day_on_which_it_would_be_missing() -> None:
    bench = Bench()
    leftover = Lot.objects.get(mix__session=bench.session)
    making.spill(lot=leftover, quantity=units(120), on=june(5))
    facts = bench.as_recorded()
    more = replace(facts.pours[0], doses=[Dose(units(200), mix=0)])
    with refused(BelowZeroOnDay, match="5 June"):
        bench.correct(replace(facts, pours=[more, facts.pours[1]]))


def test_more_than_the_shelf_holds_is_listed_and_can_be_confirmed() -> None:
    bench = Bench()
    facts = bench.as_recorded()
    heavy = replace(
        facts.mixes[0],
        ingredients=making.ingredients(
            (bench.grey.material, units(1_500)), (bench.medium.material, units(200))
        ),
    )
    with refused(NotEnough, match="500"):
        bench.correct(replace(facts, mixes=[heavy]))
    bench.correct(replace(facts, mixes=[heavy]), confirm_gain=True)
    assert held(bench.grey)[0] == 0


def test_a_session_in_a_closed_period_stays_as_it_is() -> None:
    bench = Bench()
    making.close_books(through=june(3))
    with refused(ClosedPeriod):
        bench.correct(replace(bench.as_recorded(), pours=bench.as_recorded().pours[:1]))


def test_a_session_keeps_its_day_and_something_of_itself() -> None:
    bench = Bench()
    with pytest.raises(InputError):
        bench.correct(replace(bench.as_recorded(), held_on=june(4)))
    with pytest.raises(InputError):
        bench.correct(replace(bench.as_recorded(), pours=[], mixes=[]))


def test_the_same_correction_sent_twice_is_made_once() -> None:
    bench = Bench()
    facts = replace(bench.as_recorded(), pours=bench.as_recorded().pours[:1])
    for _again in range(2):
        correct_session(session=bench.session, facts=facts, submission=making.make_submission(key="a" * 32))
    assert Posting.objects.filter(kind=PostingKind.CORRECTION).count() == 1


def test_the_correction_of_a_session_is_not_reversed_but_the_session_is_as_corrected() -> None:
    bench = Bench()
    facts = bench.as_recorded()
    bench.correct(
        replace(facts, pours=[replace(facts.pours[0], doses=[Dose(units(150), mix=0)]), facts.pours[1]])
    )
    with refused(InventoryError):
        making.take_back(Posting.objects.get(kind=PostingKind.CORRECTION))
    making.take_back(bench.session.posting)
    assert held(bench.blue) == (units(1_000), money(1_000))
    assert total(Place.WORK) == (0, 0)


def test_a_preview_shows_each_account_before_and_after_and_writes_nothing() -> None:
    bench = Bench()
    making.sell(pours=bench.pours[:1], on=june(4))
    facts = bench.as_recorded()
    truth = replace(facts, pours=[replace(facts.pours[0], doses=[Dose(units(150), mix=0)]), facts.pours[1]])
    before = everything()
    shown = preview_correction(session=bench.session, facts=truth, submission=making.make_submission())
    assert everything() == before
    changes = {each.account.place: (each.money_before, each.money_after) for each in shown.effects}
    assert changes == {Place.LOT: (money(48), money(36)), Place.SOLD: (money(53), money(65))}


def test_use_by_production_counts_a_session_as_corrected() -> None:
    bench = Bench()
    facts = bench.as_recorded()
    truth = replace(
        facts.mixes[0],
        ingredients=making.ingredients(
            (bench.grey.material, units(100)), (bench.medium.material, units(200))
        ),
    )
    bench.correct(replace(facts, mixes=[truth]))
    used = {
        material: -quantity
        for material, quantity in Entry.objects.uses()
        .order_by()
        .values_list("material")
        .annotate(total=Sum("quantity"))
        if quantity
    }
    assert used[bench.grey.material_id] == units(100)
    assert bench.blue.material_id not in used
