"""What pieces earned: by hand, by every grouping alike, and on its page and for programs."""

from datetime import UTC, date, datetime, time

import pytest
from django.test import Client
from django.urls import reverse

from costing.earnings.queries import BY, Earned, earned_by, hourly, stock_turn, waiting_pieces
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import PieceSold, SaleFacts, return_sale, sell_together
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal
from inventory.ledger.verification import check
from inventory.sessions.models import Pour
from studio.auditing.writing import set_all
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.costing.pages import as_user, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel, two_ring_pours, use_rates
from tests.days import june
from tests.inventory.browsing import queries
from tests.making import (
    make_delivery,
    make_helper,
    make_material,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    the_technique,
    units,
)
from tests.tables import file_of

pytestmark = pytest.mark.django_db


def sold(*pieces: Piece, price: str = "45.00", on: date = LATER, channel: str = "Lantern Quay stall") -> Sale:
    return sell_together(
        lines=[PieceSold(piece, money(price)) for piece in pieces],
        channel=make_channel(channel),
        facts=SaleFacts(),
        submission=make_submission(on=on, at=datetime.combine(on, time(20), UTC)),
    )


def formatter() -> Formatter:
    return Formatter.of(Studio.current())


def earned() -> Earned:
    return earned_by(Sale.objects.all(), formatter())


@pytest.fixture
def three_sales() -> None:
    """Ring pours at the stall for 45.00 each and one swiped piece online for 30.00; each holds 5.50 of materials."""
    use_rates(wage="0", overhead="0")
    make_channel("Lantern Quay stall")
    make_channel("Online shop", commission=100_000)
    rings = [a_piece(title=title, state=State.FOR_SALE) for title in ("Ebb", "Flood")]
    swiped = make_pour(on=POURED_ON)
    set_all(Pour.objects.filter(pk=swiped.pk), technique=the_technique("Swipe"))
    sold(*rings)
    sold(
        a_piece(title="Slack", pours=[swiped], state=State.FOR_SALE),
        price="30.00",
        on=june(20),
        channel="Online shop",
    )


@pytest.mark.usefixtures("three_sales")
def test_each_channel_earned_what_is_left_of_its_takings() -> None:
    stall, online = earned().groups("channel")
    assert (stall.label, stall.total.count, stall.total.paid) == ("Lantern Quay stall", 2, money(90))
    assert (stall.total.net_proceeds, stall.total.cost, stall.total.profit) == (
        money(90),
        money(11),
        money(79),
    )
    assert (online.label, online.total.fees, online.total.net_proceeds) == (
        "Online shop",
        money(3),
        money(27),
    )
    assert online.total.profit == money("21.50")


@pytest.mark.usefixtures("three_sales")
@pytest.mark.parametrize("by", BY)
def test_groups_of_every_kind_add_up_to_the_whole(by: str) -> None:
    everything = earned()
    sums = [group.total for group in everything.groups(by)]
    for name in SalesTotal.__dataclass_fields__:
        assert sum(getattr(each, name) for each in sums) == getattr(everything.total, name), name


@pytest.mark.usefixtures("three_sales")
def test_a_group_looked_into_holds_its_pieces_alone() -> None:
    swiped = earned().within("technique", "Swipe")
    assert [group.label for group in swiped.groups("piece")] == ["Slack"]
    assert earned().within("technique", "No such technique").total.count == 0


def test_a_returned_piece_earned_nothing_and_costs_nothing() -> None:
    sale = sold(a_piece(state=State.FOR_SALE))
    return_sale(sale=sale, submission=make_submission(on=june(10)))
    total = earned().total
    assert (total.count, total.paid, total.cost, total.profit) == (0, 0, 0, 0)


def test_profit_stands_beside_the_hours_worked_on_what_was_sold_and_beside_all_work_of_the_period(
    signed: Client,
) -> None:
    """Two of three pours of a 90-minute session at 12.00 an hour sold for 45.00 each; another took 30 minutes since."""
    use_rates(wage="12.00", overhead="0")
    canvas = make_surface()
    bought = [(paint := make_material(), units(300), money(3)), (canvas, units(3), money(12))]
    make_delivery(lines=bought, on=POURED_ON)
    poured = [pour_of(material=paint, quantity=units(100), surface=canvas) for _ in range(3)]
    session = make_session(pours=poured, minutes=90, on=POURED_ON)
    pieces = [a_piece(title=str(pour), pours=[pour], state=State.FOR_SALE) for pour in session.pours.all()]
    sold(*pieces[:2])
    total = earned().total
    # 4.00 of canvas, 1.00 of paint and half an hour at 12.00 are 11.00 for each: 68.00 are left for one hour.
    assert (total.seconds, total.labour, total.profit) == (3600, money(12), money(68))
    page = text_of(signed.get(reverse("costing:earnings"))).replace("\xa0", " ")
    assert "£68.00 profit in 1 h of work: £68.00 an hour £80.00 an hour with the wage" in page
    (row,) = file_of(signed.get(reverse("costing:earnings"), {"export": "csv"}))
    assert (row["Hours worked"], row["Profit per hour (GBP)"]) == ("1", "68.00")
    period = {"first": str(POURED_ON), "last": str(LATER)}
    page = text_of(signed.get(reverse("costing:earnings"), period)).replace("\xa0", " ")
    assert "£68.00 profit in 1.5 h of work: £45.33 an hour" in page
    answer = signed.get("/api/earnings/total/", period).json()
    answer |= {name: answer[name][:5] for name in ("profit_per_hour", "with_wage_per_hour")}
    assert (answer["minutes"], answer["profit_per_hour"], answer["with_wage_per_hour"]) == (
        60,
        "68.00",
        "80.00",
    )
    assert answer["worked"]["minutes"] == 90
    assert answer["worked"]["profit_per_hour"] == "45.333333"
    assert answer["untimed"] == 0


def test_pieces_without_time_are_told_and_nothing_is_divided_by_no_hours(signed: Client) -> None:
    sold(a_piece(state=State.FOR_SALE))
    total = earned().total
    assert (total.seconds, total.untimed) == (0, 1)
    assert hourly(total).profit_per_hour is None
    assert "Per hour worked" not in text_of(signed.get(reverse("costing:earnings")))


def test_a_set_of_two_is_one_piece_of_two_boards() -> None:
    sold(a_piece(title="Two lamps", pours=two_ring_pours(), state=State.FOR_SALE))
    [size] = earned().groups("size")
    assert size.label.startswith("2 × ")
    assert size.total.count == 1


def test_stock_turn_is_taken_from_the_ledger() -> None:
    """Two pieces of 5.50, one sold on the 9th: from 11.00 at the end of the 1st to 5.50 at the end of the 9th."""
    a_piece(title="Flood", state=State.FOR_SALE)
    sold(a_piece(title="Ebb", state=State.FOR_SALE))
    found = stock_turn(june(2), LATER)
    assert (found.cost_of_sales, found.opening, found.closing) == (money("5.50"), money(11), money("5.50"))
    assert found.turn is not None
    assert round(found.turn, 3) == round(found.turn.__class__(2, 3), 3)
    assert check().is_clean


def test_a_piece_is_slow_once_it_waits_longer_than_three_in_four_of_those_sold() -> None:
    a_piece(title="Still here", state=State.FOR_SALE)
    pieces = [a_piece(title=f"Sold {day}", state=State.FOR_SALE) for day in (10, 11, 12, 29)]
    for piece, day in zip(pieces, (10, 11, 12, 29), strict=True):
        sold(piece, on=june(day))
    waiting = waiting_pieces(june(12), formatter())
    assert (waiting.slow_after, waiting.sold) == (3, 4)
    [unsold] = waiting.pieces
    assert (unsold.days, unsold.is_slow) == (3, False)
    [later] = waiting_pieces(june(13), formatter()).pieces
    assert (later.days, later.is_slow) == (4, True)


@pytest.mark.usefixtures("three_sales")
def test_the_page_tells_takings_from_proceeds_and_every_group_leads_to_its_pieces(signed: Client) -> None:
    page = signed.get(reverse("costing:earnings"), {"by": "technique"})
    words = text_of(page)
    for figure in ("£120.00", "£117.00", "£16.50", "£100.50"):
        assert figure in words
    row = next(row for row in page.context["table"].rows if row.group.label == "Swipe")
    inside = signed.get(row.address)
    assert "Technique: Swipe" in text_of(inside)
    [piece] = inside.context["table"].rows
    assert piece.address == reverse("costing:piece", args=[Piece.objects.get(title="Slack").pk])


@pytest.mark.usefixtures("three_sales")
def test_one_link_asks_for_last_month_and_is_marked_there(
    signed: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_args: date(2025, 7, 3))
    here = reverse("costing:earnings")
    this_month, last_month, *_years = signed.get(here, {"by": "series"}).context["periods"]
    assert signed.get(here + this_month.href).context["total"].count == 0
    page = signed.get(here + last_month.href)
    assert page.context["total"].count == 3
    assert [link.is_shown for link in page.context["periods"]] == [False, True, False, False, False]
    assert "by=series" in page.context["periods"][0].href


@pytest.mark.usefixtures("three_sales")
def test_a_program_gets_the_same_groups(signed: Client) -> None:
    found = signed.get(reverse("api-earnings-list"), {"by": "month", "first": "2025-06-15"}).json()
    [june_row] = found["results"]
    assert (june_row["key"], june_row["takings"], june_row["profit"]) == ("2025-06", "30.000000", "21.500000")
    assert signed.get(reverse("api-earnings-list"), {"by": "mood"}).status_code == 400


def test_pages_ask_as_many_queries_for_few_as_for_many(signed: Client) -> None:
    def asked() -> list[int]:
        names = ("costing:earnings", "costing:slow-sellers")
        return [queries(signed, reverse(name)) for name in names]

    for title in ("Ebb", "Flood"):
        sold(a_piece(title=title, state=State.FOR_SALE))
    a_piece(title="Slack", state=State.FOR_SALE)
    few = asked()
    for number in range(4):
        sold(a_piece(title=f"More {number}", state=State.FOR_SALE))
        a_piece(title=f"Waiting {number}", state=State.FOR_SALE)
    assert asked() == few


def test_whoever_sees_no_money_sees_no_earnings() -> None:
    visitor = as_user(make_helper())
    for name in ("costing:earnings", "costing:slow-sellers", "api-earnings-list"):
        assert visitor.get(reverse(name)).status_code == 403
