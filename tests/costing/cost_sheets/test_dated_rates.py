"""Work costs what an hour cost on its day, whenever it is entered; what has left keeps what it left with."""

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from costing.cost_sheets.models import KeptRates
from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.pieces.actions.pieces import WorkFacts, add_labour, pack_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling import actions as selling
from costing.selling.models import Sale
from costing.selling.queries import sale_figures, total_of_sales, with_lines
from inventory.materials.models import Material
from inventory.sessions.models import Pour
from studio.accounts.models import User
from studio.preferences.models import Rates
from tests.costing.stories import LATER, POURED_ON, a_piece, finish, make_channel
from tests.days import DAY, june
from tests.inventory.browsing import text_of
from tests.making import (
    ingredients,
    make_delivery,
    make_material,
    make_rates,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    the_reason,
    units,
)
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture(autouse=True)
def raised(db: None) -> None:
    """12.00 an hour and 3.00 of overhead from the beginning; 15.00 from 5 June."""
    make_rates(wage_per_hour=money(12), overhead_per_hour=money(3))
    make_rates(june(5), wage_per_hour=money(15))


def poured_in(minutes: int, **facts: Any) -> Piece:
    """A piece poured on 1 June, in a session of so many minutes."""
    return a_piece(pours=poured(1, minutes), **facts)


def poured(count: int, minutes: int) -> list[Pour]:
    """So many pours of one session on 1 June."""
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(paint, units(900), money(9)), (canvas, units(9), money(9))], on=POURED_ON)
    pours = [pour_of(material=paint, quantity=1_000, surface=canvas)] * count
    return list(make_session(pours=pours, minutes=minutes, on=POURED_ON).pours.order_by("number"))


def worked_on(piece: Piece, *, owner: User, on: Any = LATER) -> Piece:
    add_labour(piece=piece, work="Sanding", minutes=60, submission=make_submission(by=owner, on=on))
    return piece


def test_each_piece_of_work_costs_what_an_hour_cost_on_its_day(owner: User) -> None:
    """An hour of pouring on the 1st at 12.00; an hour of sanding on the 4th at 12.00 and on the 5th at 15.00."""
    piece = poured_in(60)
    worked_on(piece, owner=owner, on=june(5))
    worked_on(piece, owner=owner, on=june(4))
    sheet = cost_sheet(piece)
    assert [
        (line.on, line.rate and (line.rate.value, line.rate.since), line.money) for line in sheet.labour
    ] == [
        (POURED_ON, (money(12), None), money(12)),
        (june(4), (money(12), None), money(12)),
        (june(5), (money(15), june(5)), money(15)),
    ]
    assert sheet.summary.labour == cost_summaries([piece])[piece.pk].labour == money(39)
    assert sheet.summary.overhead == money(9)


def test_finishing_and_packing_cost_what_an_hour_cost_on_their_day(owner: User, varnish: Material) -> None:
    piece = a_piece(state=State.DRY)
    finish(piece, owner=owner, minutes=30, on=LATER)
    pack_piece(
        piece=piece,
        facts=WorkFacts(ingredients((varnish, 1_000)), minutes=20),
        submission=make_submission(by=owner, on=LATER + DAY),
    )
    make_rates(LATER + DAY, wage_per_hour=money(18))
    assert [line.money for line in cost_sheet(piece).labour] == [money("7.50"), money(6)]


def test_before_the_first_rate_an_hour_costs_nothing_and_the_sheet_says_so(
    owner: User, signed: Client
) -> None:
    Rates.objects.filter(holds_from=None).delete()
    piece = worked_on(poured_in(60), owner=owner)
    first, second = cost_sheet(piece).labour
    assert (first.rate, first.money, second.money) == (None, 0, money(15))
    words = text_of(signed.get(reverse("costing:piece", args=[piece.pk])))
    assert "1 Jun 2025; no hourly rate was entered for that day" in words
    assert "£15.00 an hour (the rate since 5 Jun 2025)" in words


def test_a_rate_entered_later_for_an_earlier_day_changes_what_is_still_hers(owner: User) -> None:
    piece = poured_in(60)
    make_rates(june(1), wage_per_hour=money(20))
    assert cost_sheet(piece).summary.labour == money(20)
    Rates.objects.get(holds_from=june(1)).delete()
    assert cost_sheet(piece).summary.labour == money(12)


# What has left


def sell(piece: Piece, owner: User) -> None:
    selling.sell(
        piece=piece, channel=make_channel(), price=money(90), submission=make_submission(by=owner, on=LATER)
    )


def give(piece: Piece, owner: User, *, reason: str) -> None:
    selling.give_away(
        piece=piece, reason=the_reason(reason), market_value=0, submission=make_submission(by=owner, on=LATER)
    )


def write_off(piece: Piece, owner: User) -> None:
    selling.write_off_piece(
        piece=piece, reason=the_reason("damaged"), submission=make_submission(by=owner, on=LATER)
    )


def come_back(piece: Piece, owner: User) -> None:
    submission = make_submission(by=owner, on=LATER)
    if piece.state == State.SOLD:
        selling.return_sale(sale=Sale.objects.get(lines__piece=piece), submission=submission)
    else:
        selling.bring_back_piece(piece=piece, submission=submission)


WAYS: dict[str, Callable[[Piece, User], None]] = {
    "sold": sell,
    "given away": partial(give, reason="gift"),
    "kept": partial(give, reason="own-use"),
    "written off": write_off,
}


@pytest.mark.parametrize("way", WAYS)
def test_a_piece_that_has_left_keeps_its_rates_until_it_is_back(owner: User, way: str) -> None:
    piece = worked_on(poured_in(60, state=State.FOR_SALE), owner=owner)
    other = poured_in(60, title="Still here")
    WAYS[way](piece, owner)
    before = cost_sheet(piece)
    assert before.summary.labour == money(12 + 15)
    make_rates(june(1), wage_per_hour=money(20), overhead_per_hour=money(6))
    make_rates(june(5), wage_per_hour=money(30))
    assert cost_sheet(piece) == before
    assert cost_sheet(other).summary.labour == money(20)
    piece.refresh_from_db()
    come_back(piece, owner)
    piece.refresh_from_db()
    assert cost_sheet(piece).summary.labour == money(20 + 30)
    assert not KeptRates.objects.exists()


def test_pieces_of_one_session_are_each_charged_by_the_rates_that_are_theirs(owner: User) -> None:
    """Two pours of one session of two hours: the one that was sold stays at 12.00 when the day's rate becomes 20.00."""
    first, second = (
        a_piece(pours=[pour], title=pour.label, state=State.FOR_SALE) for pour in poured(2, minutes=120)
    )
    sell(first, owner)
    make_rates(june(1), wage_per_hour=money(20))
    assert [cost_sheet(piece).summary.labour for piece in (first, second)] == [money(12), money(20)]


def test_a_sale_and_its_totals_stay_when_rates_come_late(owner: User) -> None:
    make_rates(tax_rate=200_000, wage_per_hour=money(12), overhead_per_hour=money(3))
    sell(poured_in(60, state=State.FOR_SALE), owner)

    def figures() -> Any:
        return total_of_sales(sale_figures(with_lines(Sale.objects.all()), "GBP"))

    before = figures()
    make_rates(june(1), tax_rate=100_000, wage_per_hour=money(99))
    assert figures() == before
    assert (before.tax, Sale.objects.get().tax_rate) == (money(15), 200_000)


def test_the_rates_of_a_piece_that_left_are_one_for_each_day_in_the_database_too(owner: User) -> None:
    """Going round Python."""
    piece = poured_in(60, state=State.FOR_SALE)
    sell(piece, owner)
    for wrong in ({}, {"on": june(2), "wage_per_hour": -1}):
        row = {"piece": piece, "on": POURED_ON, "wage_per_hour": 1, "overhead_per_hour": 1} | wrong
        with pytest.raises(IntegrityError), transaction.atomic():
            KeptRates.objects.bulk_create([KeptRates(**row)])


def test_a_session_entered_late_shows_the_rate_of_its_own_day(owner: User, signed: Client) -> None:
    session = poured(1, minutes=30)[0].session
    assert Program(owner).read(f"sessions/{session.pk}/")["wage_per_hour"] == "12.000000"
    assert "£12.00 an hour" in text_of(signed.get(reverse("inventory:session", args=[session.pk])))


def test_the_sheet_for_programs_says_which_rate_and_since_when(owner: User) -> None:
    piece = worked_on(poured_in(60), owner=owner)
    poured, sanded = Program(owner).read(f"cost-sheets/{piece.pk}/")["labour"]
    assert (poured["per_hour"], poured["since"]) == ("12.000000", None)
    assert (sanded["per_hour"], sanded["since"]) == ("15.000000", "2025-06-05")
