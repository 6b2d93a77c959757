"""One material through time: stock behind and ahead, use by week, and deliveries that came in time."""

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.stock_changes import batched
from inventory.materials.models import Material
from inventory.plans.queries import Promises
from inventory.reordering.calculations import outlook
from inventory.reordering.calculations.demand import Kind
from inventory.reordering.calculations.forecasts import season
from inventory.reordering.calculations.outlook import Came
from inventory.reordering.drawing import drawing_of
from inventory.reordering.outlooks import Outlook, outlook_of
from inventory.reordering.queries import levels
from inventory.stock.queries import held_lots
from tests.days import AT, DAY, TODAY
from tests.inventory.reordering.series import A
from tests.making import (
    make_delivery,
    make_lot,
    make_material,
    make_opening,
    make_order,
    make_owner,
    make_plan,
    make_recipe,
    make_surface,
    money,
    planned_line,
    spill,
    units,
    use,
)

CHANGES = [(TODAY - 9 * DAY, 10), (TODAY - 6 * DAY, -4), (TODAY - 2 * DAY, -3), (TODAY, -1)]


def test_stock_is_counted_back_from_what_is_there_now() -> None:
    assert outlook.stock_by_day(CHANGES, 2, since=TODAY - 6 * DAY, on=TODAY) == [
        (TODAY - 6 * DAY, 6), (TODAY - 2 * DAY, 3), (TODAY, 2),
    ]  # fmt: skip
    assert outlook.stock_by_day(CHANGES[:2], 6, since=TODAY - 20 * DAY, on=TODAY) == [
        (TODAY - 20 * DAY, 0), (TODAY - 9 * DAY, 10), (TODAY - 6 * DAY, 6), (TODAY, 6),
    ]  # fmt: skip


def test_use_over_some_days_spreads_as_sessions_by_chance_do_and_as_an_uncertain_rate() -> None:
    """21 used on 7 of 20 days, a session of 4.7: 2 · 4.7 · 4.2 + 4.2² / (21 / 9.4)."""
    four_days = outlook.use_over(A, 1.05, 4)
    assert four_days.mean == pytest.approx(4.2)
    assert four_days.variance == pytest.approx(39.48 + 17.64 / (21 / 9.4))


def test_what_is_expected_falls_from_today_and_jumps_by_what_comes_and_goes() -> None:
    ahead = outlook.expected_stock(
        A, 1.0, 100, on=TODAY, days=28, changes=[(TODAY + 10 * DAY, 50), (TODAY + 12 * DAY, -20)]
    )
    middle = {each.day: each.middle for each in ahead}
    assert (ahead[0].low, ahead[0].middle, ahead[0].high) == (100, 100, 100)
    assert middle[TODAY + 10 * DAY] - middle[TODAY + 9 * DAY] == 50 - 1
    assert middle[TODAY + 12 * DAY] - middle[TODAY + 11 * DAY] == -20 - 1
    assert (ahead[-1].day, ahead[-1].middle) == (TODAY + 28 * DAY, 100 - 28 + 30)
    assert all(0 <= each.low <= each.middle <= each.high for each in ahead)
    assert ahead[-1].high - ahead[-1].low > ahead[1].high - ahead[1].low


def test_nothing_is_expected_below_nothing() -> None:
    assert outlook.expected_stock(A, 1.0, 5, on=TODAY, days=60)[-1].low == 0


def test_a_delivery_is_in_time_while_something_is_left() -> None:
    changes = [
        (TODAY - 9 * DAY, 10),
        (TODAY - 6 * DAY, -10),
        (TODAY - 4 * DAY, 5),
        (TODAY - 3 * DAY, -2),
        (TODAY, 6),
    ]
    came = {TODAY - 4 * DAY: 5, TODAY: 6}
    found = outlook.deliveries(came, changes, 9)
    assert found == [Came(TODAY - 4 * DAY, 5, 0), Came(TODAY, 6, 3)]
    assert [each.in_time for each in found] == [False, True]


def test_weeks_begin_on_monday_and_months_are_whole() -> None:
    tuesday = date(2025, 6, 10)
    uses = [(date(2025, 5, 31), 5), (date(2025, 6, 1), 7), (date(2025, 6, 9), 2), (tuesday, 3)]
    assert outlook.by_week(uses, on=tuesday, weeks=3) == [
        (date(2025, 5, 26), 12), (date(2025, 6, 2), 0), (date(2025, 6, 9), 5),
    ]  # fmt: skip
    months = outlook.by_month(uses, on=tuesday, since=date(2025, 3, 8))
    assert months == {date(2025, 4, 1): 0, date(2025, 5, 1): 5}


def test_busy_months_are_those_that_two_years_agree_on() -> None:
    months = {date(2023 + (number + 5) // 12, (number + 5) % 12 + 1, 1): 10 for number in range(24)}
    lively = {month: 60 if month.month in (11, 12) else use for month, use in months.items()}
    assert outlook.busy_months(season(lively)) == [11, 12]
    assert outlook.busy_months(season(months)) == []


@pytest.fixture
def paint() -> Material:
    """Bought three times, used up once, spilled from, on order and in a plan."""
    material, board = make_material(name="Mooring Grey"), make_surface()
    now, today = timezone.now(), timezone.localdate()
    with batched(at=now):
        for days_ago, quantity in ((100, 60), (60, 200), (20, 300)):
            lot = make_lot(material=material, quantity=units(quantity), on=today - days_ago * DAY, at=now)
            use(lot=lot, quantity=units(50), on=today - (days_ago - 3) * DAY, at=now)
            spill(lot=lot, quantity=units(10), on=today - (days_ago - 5) * DAY, at=now)
        make_opening(lines=[(board, units(9), 0)], on=today, at=now)
        make_order((material, units(400)), expected_on=today + 6 * DAY)
        make_plan(planned_line(board, 1, material), on=today + 4 * DAY)
    return material


def outlook_now(material: Material) -> Outlook:
    today = timezone.localdate()
    return outlook_of(levels(today, materials=[material.pk])[0], today, Promises(today))


@pytest.mark.django_db
def test_the_past_is_what_the_ledger_says_of_each_day(paint: Material) -> None:
    found = outlook_now(paint)
    by_ledger = [
        (day, sum(lot.quantity for lot in held_lots(as_of=day) if lot.material == paint.pk))
        for day, _quantity in found.past
    ]
    assert found.past == by_ledger
    assert len(found.past) > 6


@pytest.mark.django_db
def test_deliveries_days_without_stock_orders_and_plans_are_all_there(paint: Material) -> None:
    today, found = timezone.localdate(), outlook_now(paint)
    assert [(each.day, each.in_time) for each in found.deliveries] == [
        (today - 60 * DAY, False), (today - 20 * DAY, True),
    ]  # fmt: skip
    assert (found.in_time, found.days_without) == (
        1,
        34,
    )  # from the day after the last was spilled to the next delivery
    assert [(each.day, each.quantity) for each in found.arrivals] == [(today + 6 * DAY, units(400))]
    assert [each.day for each in found.takings] == [today + 4 * DAY]
    assert found.takings[0].quantity == found.level.reserved > 0
    assert sum(used for _week, used in found.weeks) == units(150)


@pytest.mark.django_db
def test_the_picture_stays_inside_its_frame_and_draws_every_order_and_plan(paint: Material) -> None:
    found = outlook_now(paint)
    drawing = drawing_of(found)
    assert drawing is not None
    numbers = [int(word) for word in (drawing.past + drawing.fan).replace("L", " ").translate(
        str.maketrans("MHVZ", "    ")
    ).split()]  # fmt: skip
    assert all(0 <= number <= 1_000 for number in numbers)
    assert (len(drawing.arrivals), len(drawing.takings)) == (1, 1)
    assert 0 < drawing.takings[0].x - drawing.today.x < drawing.arrivals[0].x - drawing.today.x


@pytest.mark.django_db
def test_what_was_never_in_stock_has_no_picture() -> None:
    assert drawing_of(outlook_now(make_material())) is None


@pytest.mark.django_db
def test_page_and_program_show_the_same_figures(client: Client, paint: Material) -> None:
    client.force_login(make_owner())
    page = client.get(reverse("inventory:material", args=[paint.pk]))
    program = client.get(reverse("api-reorder-levels-detail", args=[paint.pk])).json()
    found = page.context["outlook"]
    assert [(row["day"], row["quantity"]["amount"]) for row in program["past"]] == [
        (day.isoformat(), quantity) for day, quantity in found.past
    ]
    assert [row["expected"]["amount"] for row in program["ahead"]] == [each.middle for each in found.ahead]
    assert [row["in_time"] for row in program["deliveries"]] == [False, True]
    assert (program["days_without_stock"], len(program["weeks"])) == (found.days_without, 52)
    assert program["level"]["amount"] == page.context["level"].level
    text = page.content.decode()
    assert 'class="stock-picture"' in text
    assert text.count('class="stock-arrival"') == 2  # drawn, and in the key


@pytest.mark.django_db
def test_a_material_without_a_level_of_its_own_is_not_found(client: Client) -> None:
    client.force_login(make_owner())
    made = make_material()
    make_recipe(parts=[(make_material(), 1)], makes=made)
    assert client.get(reverse("api-reorder-levels-detail", args=[made.pk])).status_code == 404


@pytest.mark.django_db
def test_the_page_takes_the_same_queries_however_long_the_story_is(client: Client, paint: Material) -> None:
    client.force_login(make_owner())

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("inventory:material", args=[paint.pk]))
        return len(seen)

    few, today = queries(), timezone.localdate()
    board = Material.objects.get(kind="surface")
    for number in range(3):
        make_delivery(lines=[(paint, units(50), money(5))], on=today - number * DAY, at=timezone.now())
        make_order((paint, units(40)), expected_on=today + number * DAY)
        make_plan(planned_line(board, 1, paint), on=today + (number + 2) * DAY)
    assert queries() == few


@pytest.mark.django_db
@pytest.mark.parametrize(("months", "words"), [(25, "November, December"), (20, "")])
def test_busy_months_are_named_once_two_years_show_them(months: int, words: str) -> None:
    material = make_material()
    with batched(at=AT):
        lot = make_lot(material=material, quantity=units(2_000), on=TODAY - 31 * months * DAY)
        for back in range(1, months):
            year, month = divmod(TODAY.year * 12 + TODAY.month - 1 - back, 12)
            busy = month + 1 in (11, 12)
            use(lot=lot, quantity=units(60 if busy else 10), on=date(year, month + 1, 15))
    found = outlook_of(levels(TODAY, materials=[material.pk])[0], TODAY, Promises(TODAY))
    assert found.demand.months_in_words == words


@pytest.mark.django_db
@pytest.mark.parametrize(("days", "kind"), [(20, None), (21, Kind.SMOOTH)])
def test_the_kind_of_use_is_told_from_the_third_week_on(days: int, kind: Kind | None) -> None:
    material = make_material()
    lot = make_lot(material=material, quantity=units(2_000), on=TODAY - days * DAY)
    for week in range(1, days // 7 + 1):
        use(lot=lot, quantity=units(100), on=TODAY - 7 * week * DAY)
    found = outlook_of(levels(TODAY, materials=[material.pk])[0], TODAY, Promises(TODAY))
    assert found.demand.kind == kind
