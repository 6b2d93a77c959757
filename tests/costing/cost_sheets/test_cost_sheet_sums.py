"""Cost sheets add up: on paper, in lists, and to the last millionth of what the ledger holds."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st
from pytest_django import DjangoAssertNumQueries

from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.pieces.actions.pieces import add_labour
from costing.pieces.calculations import State
from costing.selling.actions import sell
from inventory.ledger.models import CostingMethod
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from studio.values.money import round_to_minor
from tests import making
from tests.costing.reading_sheets import materials_of, tree
from tests.costing.stories import (
    LATER,
    POURED_ON,
    a_piece,
    ledger_cost,
    make_channel,
    moved_to,
    poured_over,
    two_ring_pours,
    use_rates,
)
from tests.making import make_delivery, make_material, make_session, make_surface, money

pytestmark = pytest.mark.django_db


def test_the_printed_lines_add_up_to_the_printed_total() -> None:
    use_rates(wage="11.37", overhead="2.11")
    first, second = two_ring_pours(minutes=47)
    sheet = cost_sheet(a_piece(pours=[first, second]))
    lines = sheet.printed("GBP")
    printed = sum(lines)
    assert all(line % 10_000 == 0 for line in lines)
    assert printed == round_to_minor(sheet.summary.whole, "GBP")
    assert abs(printed - sheet.summary.whole) <= 5_000


def test_lists_agree_with_the_sheets() -> None:
    use_rates()
    first, second = two_ring_pours()
    _, over = poured_over(minutes=30)
    pieces = [
        a_piece(pours=[first], state=State.FOR_SALE),
        a_piece(pours=[second, over], title="Ebb"),
        a_piece(title="Flood"),
    ]
    add_labour(piece=pieces[1], work="Sanding", minutes=7, submission=making.make_submission(on=LATER))
    sell(
        piece=pieces[0], channel=make_channel(), price=money(45), submission=making.make_submission(on=LATER)
    )
    assert cost_summaries(pieces) == {piece.pk: cost_sheet(piece).summary for piece in pieces}


def test_a_longer_list_takes_no_more_queries(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    pieces = [a_piece(title=f"Low water {number}") for number in range(4)]
    with CaptureQueriesContext(connection) as one:
        cost_summaries(pieces[:1])
    with django_assert_num_queries(len(one)):
        cost_summaries(pieces)
    assert cost_summaries([]) == {}


@pytest.mark.parametrize("flow", CostingMethod)
def test_the_sheets_of_a_session_sum_to_what_the_ledger_holds(flow: CostingMethod) -> None:
    making.use_cost_flow(flow)
    pours = two_ring_pours()
    more = two_ring_pours(title="Ebb and flood")
    for pour in pours + more:
        piece = a_piece(pours=[pour], title=pour.label)
        assert materials_of(piece) == ledger_cost([pour])


amounts = st.integers(min_value=1, max_value=60_000)


@examples(max_examples=15)
@given(
    pours=st.lists(st.tuples(amounts, amounts), min_size=1, max_size=4),
    pence=st.integers(min_value=0, max_value=10**4),
    sold=st.booleans(),
)
def test_whatever_is_poured_the_sheets_sum_to_the_ledger_exactly(
    pours: list[tuple[int, int]], pence: int, sold: bool
) -> None:
    colour, medium, canvas = make_material(), make_material(), make_surface()
    make_delivery(
        lines=[
            (colour, 150_007, pence * 10_000), (colour, 400_000, pence // 3 * 10_000),
            (medium, 450_003, pence // 7 * 10_000), (canvas, 9_000, pence * 10_000),
        ],
        on=POURED_ON,
    )  # fmt: skip
    recipe = making.make_recipe(parts=[(colour, 3), (medium, 2)])
    batch = MixFacts(version=recipe, ingredients=planned(recipe, 500_000), leftover="residue")
    doses = [
        PourFacts(
            technique=making.the_technique(),
            doses=[Dose(mixed, mix=0), Dose(plain, material=medium)],
            surface=canvas,
        )
        for mixed, plain in pours
    ]
    session = make_session(mixes=[batch], pours=doses, on=POURED_ON, minutes=31)
    for pour in session.pours.all():
        piece = a_piece(pours=[pour], title=pour.label)
        if sold:
            moved_to(piece, State.FOR_SALE)
            sell(
                piece=piece,
                channel=make_channel(),
                price=money(45),
                submission=making.make_submission(on=LATER),
            )
        sheet = cost_sheet(piece)
        assert sheet.summary.materials == ledger_cost([pour])
        for source in (source for line in sheet.lines for source in tree(line.sources)):
            assert sum(part.money for part in source.through) == source.money
