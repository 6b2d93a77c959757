"""A session that is corrected after one of its pours was thrown away: whoever carries the failure carries the truth."""

from dataclasses import replace

import pytest

from inventory.errors import InventoryError
from inventory.ledger.models import Entry
from inventory.ledger.verification import check
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour, Session
from tests.making import (
    make_lot,
    make_material,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    sell,
    take_back,
    the_reason,
    units,
)

pytestmark = pytest.mark.django_db


class Bench:
    """Two good pours and a failed one, each 100 mL of a paint at 10.00 a litre on a canvas for 1.00."""

    def __init__(self) -> None:
        self.paint = make_lot(quantity=units(1_000), cost=money(10)).material
        self.canvas = make_surface()
        make_lot(material=self.canvas, quantity=units(3), cost=money(3))
        self.other = make_lot(material=make_material(name="Tidewrack Green"), cost=money(20)).material
        self.facts = [
            pour_of(material=self.paint, quantity=100_000, surface=self.canvas, outcome=outcome)
            for outcome in ("good", "good", "failed")
        ]
        self.session: Session = make_session(pours=self.facts)
        self.good, self.second, self.failed = self.session.pours.order_by("number")

    def correct(self, *doses: Dose) -> None:
        """The failed pour really had these on it."""
        rows = (self.good, self.second, self.failed)
        facts: list[PourFacts] = [replace(item, pour=row) for item, row in zip(self.facts, rows, strict=True)]
        facts[2] = replace(facts[2], doses=doses)
        put_right = SessionFacts(held_on=self.session.held_on, pours=facts)
        correct_session(session=self.session, facts=put_right, submission=make_submission())


def cost_in(place: str, *pours: Pour) -> int:
    entries = Entry.objects.filter(place=place)
    return sum((entries.filter(pour__in=pours) if pours else entries).values_list("money", flat=True))


def test_more_paint_on_a_failed_pour_goes_to_those_that_carry_it() -> None:
    bench = Bench()
    throw_away(facts=ThrowAwayFacts([bench.failed]), submission=make_submission())
    assert cost_in("work", bench.good) == money(3)
    bench.correct(Dose(200_000, material=bench.paint))
    assert (cost_in("work", bench.good), cost_in("work", bench.second)) == (money("3.50"), money("3.50"))
    assert (cost_in("work", bench.failed), check().is_clean) == (0, True)


def test_another_paint_follows_to_a_pour_that_was_sold_and_to_one_that_was_not() -> None:
    bench = Bench()
    throw_away(facts=ThrowAwayFacts([bench.failed]), submission=make_submission())
    sell(pours=[bench.good])
    bench.correct(Dose(100_000, material=bench.other))
    assert (cost_in("sold"), cost_in("work", bench.second)) == (money("3.50"), money("3.50"))
    assert check().is_clean


def test_an_abnormal_loss_is_corrected_where_it_stands() -> None:
    bench = Bench()
    throw_away(facts=ThrowAwayFacts([bench.failed], the_reason("ruined")), submission=make_submission())
    bench.correct(Dose(200_000, material=bench.paint))
    assert (cost_in("loss"), cost_in("work")) == (money(3), money(4))
    assert check().is_clean


def test_a_correction_is_taken_into_what_comes_back() -> None:
    bench = Bench()
    posting = throw_away(facts=ThrowAwayFacts([bench.failed]), submission=make_submission())
    bench.correct(Dose(200_000, material=bench.paint))
    take_back(posting)
    assert [cost_in("work", pour) for pour in (bench.good, bench.second, bench.failed)] == [
        money(2),
        money(2),
        money(3),
    ]
    assert check().is_clean


def test_a_pour_that_carries_a_failed_one_is_not_struck_out() -> None:
    bench = Bench()
    throw_away(facts=ThrowAwayFacts([bench.failed]), submission=make_submission())
    rest = [replace(bench.facts[1], pour=bench.second), replace(bench.facts[2], pour=bench.failed)]
    with pytest.raises(InventoryError, match=bench.good.label):
        correct_session(
            session=bench.session,
            facts=SessionFacts(held_on=bench.session.held_on, pours=rest),
            submission=make_submission(),
        )
