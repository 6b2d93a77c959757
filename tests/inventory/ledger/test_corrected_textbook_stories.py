"""The textbook month told with every mistake that a person makes, put right late: it must end at the published figures.

OpenStax, Principles of Accounting Vol. 1 (Financial), chapter 10: see test_textbook_stories. Every invoice comes in at
the wrong price and the wrong quantity, every session is logged with the wrong amount, and a spill that never was is
taken back. Amounts are put right before the next session draws, because the lots that were drawn are facts; prices only
after everything else has happened.
"""

from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

import pytest
from django.db.models import Sum

from inventory.ledger.models import CostingMethod, Entry, EntryRole, Lot
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, SessionFacts, log_session
from inventory.sessions.models import Session
from tests import making
from tests.days import june
from tests.inventory.ledger.test_textbook_stories import MILLION, Shelf
from tests.making import money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@dataclass
class MistakenShelf(Shelf):
    """The same shelf, kept by somebody who gets everything wrong at first."""

    late: list[tuple[Lot, int]] = field(default_factory=list)

    def buy(self, number: int, price: int, on: date) -> Lot:
        wrong = making.make_lot(
            material=self.goods, quantity=units(number + 40), cost=money(number * (price + 5)), on=on
        )
        making.correct(lot=wrong, quantity=-units(40))
        self.late.append((wrong, -money(number * 5)))
        return wrong

    def pour(self, number: int, on: date) -> Session:
        """Log half of it, take a spill back that never was, and put the amount right."""
        half = making.pour_of(material=self.goods, quantity=units(number // 2), surface=self.board)
        session = log_session(facts=SessionFacts(on, pours=[half]), submission=making.make_submission())
        making.take_back(
            making.spill(lot=Lot.objects.filter(material=self.goods).latest("pk"), quantity=units(1))
        )
        truth = replace(half, doses=[Dose(units(number), material=self.goods)], pour=session.pours.get())
        correct_session(
            session=session, facts=SessionFacts(on, pours=[truth]), submission=making.make_submission()
        )
        return session

    def put_prices_right(self) -> None:
        """The right invoices come in, the last one first."""
        for lot, difference in reversed(self.late):
            making.correct(lot=lot, difference=difference)


def cost_of(session: Session) -> int:
    lines = Entry.objects.filter(pour__session=session, role=EntryRole.POURED, place="work")
    return lines.aggregate(cost=Sum("money"))["cost"] or 0


@pytest.mark.parametrize(
    ("method", "costs", "closing"),
    [
        # Section 10.3: 2,520, then 4,680; closing 8,955. Without dates, first expired is first in.
        (CostingMethod.FIFO, (Fraction(2_520), Fraction(4_680)), Fraction(8_955)),
        (CostingMethod.FEFO, (Fraction(2_520), Fraction(4_680)), Fraction(8_955)),
        # Section 10.3, perpetual average, exactly: 6,705 × 180/255; the book's closing 8,902 is rounded.
        (CostingMethod.AVERAGE, (Fraction(2_520), Fraction(6_705 * 180, 255)), Fraction(151_335, 17)),
    ],
)
def test_the_month_ends_at_the_published_figures_after_every_mistake(
    method: CostingMethod, costs: tuple[Fraction, Fraction], closing: Fraction
) -> None:
    shelf = MistakenShelf(method)
    shelf.buy(150, 21, june(1))
    first = shelf.pour(120, june(2))
    shelf.buy(225, 27, june(3))
    second = shelf.pour(180, june(4))
    shelf.buy(210, 33, june(5))
    shelf.put_prices_right()
    for session, cost in zip((first, second), costs, strict=True):
        assert abs(cost_of(session) - cost * MILLION) <= 1
    assert abs(shelf.worth - closing * MILLION) <= 1
    assert cost_of(first) + cost_of(second) + shelf.worth == money(150 * 21 + 225 * 27 + 210 * 33)


@pytest.mark.parametrize(
    ("method", "costs", "closing"),
    [
        # The exercise of three purchases, each followed by a sale; by arithmetic, as in test_textbook_stories.
        (CostingMethod.FIFO, ["16000", "40960", "39300"], "25300"),
        (CostingMethod.FEFO, ["16000", "40960", "39300"], "25300"),
        (CostingMethod.AVERAGE, ["16000", "41040", "39787.333333"], "24732.666667"),
    ],
)
def test_the_exercise_ends_at_its_figures_after_every_mistake(
    method: CostingMethod, costs: list[str], closing: str
) -> None:
    shelf = MistakenShelf(method)
    sessions = []
    month = [(240, 100, 160), (520, 103, 400), (400, 110, 370)]
    for day, (bought, price, sold) in enumerate(month, start=1):
        shelf.buy(bought, price, june(2 * day))
        sessions.append(shelf.pour(sold, june(2 * day + 1)))
    shelf.put_prices_right()
    for session, cost in zip(sessions, costs, strict=True):
        assert abs(cost_of(session) - money(cost)) <= 1
    assert abs(shelf.worth - money(closing)) <= 1


@pytest.mark.parametrize("method", [CostingMethod.FIFO, CostingMethod.FEFO])
def test_specific_identification_ends_at_its_figures_after_the_wrong_lots_were_taken_back(
    method: CostingMethod,
) -> None:
    # Section 10.3, specific identification: 7,260 in all; closing 10 at 21, 65 at 27 and 210 at 33, 8,895.
    shelf = MistakenShelf(method)
    first = shelf.buy(150, 21, june(1))
    making.spill(lot=first, quantity=units(120), on=june(2))
    second = shelf.buy(225, 27, june(3))
    wrong = making.spill(lot=second, quantity=units(180), on=june(4))
    making.take_back(wrong)
    making.spill(lot=second, quantity=units(160), on=june(4))
    making.spill(lot=first, quantity=units(20), on=june(4))
    shelf.buy(210, 33, june(5))
    shelf.put_prices_right()
    lost = Entry.objects.filter(place="loss").aggregate(cost=Sum("money"))["cost"]
    assert (lost, shelf.worth) == (money(7_260), money(8_895))
