"""What a session is said to come to beforehand is what it comes to: the same moves, tried out and posted."""

from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import CostingMethod, Entry, LotBalance, Place, Posting
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Mix
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.queries.rehearsal import rehearse
from inventory.sessions.queries.session_costs import account_of
from tests.days import DAY, TODAY
from tests.inventory.session_bench import Bench
from tests.making import make_delivery, make_lot, make_submission, money, units, use_cost_flow

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def usual(bench: Bench, leftover: str = Mix.Leftover.KEPT) -> SessionFacts:
    """Two cups of 300 mL and one straight from the shelf, on three canvases, with gloves."""
    mixes = [
        MixFacts(version=version, ingredients=planned(version, units(300)), leftover=leftover)
        for version in bench.recipes[:2]
    ]
    doses = [Dose(units(70), mix=0), Dose(units(50), mix=1), Dose(units("12.345"), material=bench.medium)]
    pours = [PourFacts(technique=bench.ring, doses=doses, surface=bench.canvas) for _number in range(3)]
    return SessionFacts(TODAY, mixes, pours, [Ingredient(bench.gloves, units(2))])


def shelf() -> dict[int, int]:
    found: dict[int, int] = {}
    for material, quantity in LotBalance.objects.values_list("lot__material_id", "quantity"):
        found[material] = found.get(material, 0) + quantity
    return found


@pytest.mark.parametrize("flow", CostingMethod)
@pytest.mark.parametrize("leftover", Mix.Leftover)
def test_the_figures_are_those_of_the_posting(flow: CostingMethod, leftover: str) -> None:
    use_cost_flow(flow)
    bench = Bench()
    make_delivery(lines=[(bench.white, units(37), money("1.11"))], on=TODAY - 2 * DAY)
    facts = usual(bench, leftover)
    said = rehearse(facts)
    session = log_session(facts=facts, submission=make_submission())

    account = account_of(session)
    assert said.pours == [pour.cost for pour in account.pours]
    assert said.in_pours == account.cost
    assert said.mixes == [mix.cost for mix in account.mixes]
    assert said.left == {pk: shelf().get(pk, 0) for pk in said.left}
    kept = LotBalance.objects.filter(lot__mix__session=session)
    assert said.kept == sum(balance.money for balance in kept)
    assert said.thrown_away == sum(
        entry.money for entry in Entry.objects.filter(posting=session.posting, place=Place.LOSS)
    )
    straight = [line for pour in account.pours for line in pour.paint if line.material == bench.medium]
    assert said.straight == {bench.medium.pk: sum(line.money for line in straight)}
    if leftover == Mix.Leftover.KEPT:
        assert said.leftovers == [mix.left for mix in account.mixes]


def test_it_writes_nothing_and_asks_four_queries_at_most_however_large_the_session_is() -> None:
    bench = Bench()
    before = Posting.objects.count(), shelf()
    facts = usual(bench, Mix.Leftover.DISCARDED)
    for tried in (
        facts,
        replace(facts, mixes=list(facts.mixes) * 3),
        replace(facts, pours=[replace(pour, doses=pour.doses[-1:]) for pour in facts.pours] * 9),
    ):
        with CaptureQueriesContext(connection) as asked:
            rehearse(tried)
        assert len(asked) <= 4  # the costing method, the lots, and what has moved since the day
        assert all(query["sql"].startswith("SELECT") for query in asked)
    assert (Posting.objects.count(), shelf()) == before


def test_what_the_shelf_lacks_is_told_and_not_refused() -> None:
    bench = Bench(canvases=2)
    said = rehearse(usual(bench))
    (lacking,) = said.shortfalls
    assert (lacking.material, lacking.short) == (bench.canvas.pk, units(1))
    assert said.short == {bench.canvas.pk: units(1)}
    assert said.left[bench.canvas.pk] == 0


def test_paint_in_a_cup_that_is_not_poured_yet_is_off_the_shelf_all_the_same() -> None:
    bench = Bench()
    said = rehearse(SessionFacts(TODAY), set_aside=[Ingredient(bench.medium, units(100))])
    assert said.left == {bench.medium.pk: units(2900)}
    assert said.straight == {bench.medium.pk: money("0.50")}


def test_a_lot_that_came_in_later_is_not_drawn_from() -> None:
    bench = Bench()
    late = make_lot(material=bench.medium, on=TODAY)
    facts = replace(usual(bench), held_on=TODAY - DAY)
    said = rehearse(facts)
    assert said.left[bench.medium.pk] == shelf()[bench.medium.pk] - sum(
        item.quantity for mix in facts.mixes for item in mix.ingredients if item.material == bench.medium
    ) - 3 * units("12.345")
    assert late.balance.quantity == units(1000)
