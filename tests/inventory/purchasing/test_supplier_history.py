"""A supplier's history: promised against taken, prices through time, sums by year, and what they teach."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.reversals import reverse as reverse_posting
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.actions.orders import ChaseFacts, chase_order
from inventory.purchasing.forms.expected_day import usual_days
from inventory.purchasing.history_charts import HEIGHT, MARGIN, days_bars, price_path
from inventory.purchasing.models import Delivery, Order
from inventory.purchasing.order_history import order_times
from inventory.purchasing.supplier_history import history_of
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests import making
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import make_material, make_order, make_submission, make_supplier, money, units

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def received(order: Order, on: date, price: int) -> Delivery:
    line = order.lines.select_related("material").get()
    lines = [LineFacts(line.material, line.quantity, price, order_line=line)]
    facts = making.delivery_facts(lines=lines, supplier=order.supplier, order=order, received_on=on)
    return receive_delivery(facts=facts, submission=make_submission(on=on, at=timezone.now()))


def test_what_its_deliveries_took_moves_the_day_on_which_the_next_is_expected() -> None:
    supplier, paint = make_supplier(lead_time_days=5), make_material()
    assert (
        usual_days(supplier, Studio.current(), on=TODAY) == 5
    )  # 5.4: a tenth more than stated, in whole days
    for number in range(8):
        order = make_order((paint, units(1), money(1)), supplier=supplier, on=ago(200 - number))
        received(order, ago(180 - number), money(1))
    # Eight deliveries of 20 days beside the 5.4 that weigh as much as four.
    assert usual_days(supplier, Studio.current(), on=TODAY) == 15
    Studio.objects.filter(pk=1).update(days_between_orders=7)
    assert usual_days(supplier, Studio.current(), on=TODAY) == 15


def test_times_prices_and_years_leave_out_what_was_reversed() -> None:
    supplier, paint = make_supplier(), make_material(name="Amber")
    first = make_order((paint, units(500), money(10)), supplier=supplier, on=ago(60), expected_on=ago(50))
    chase_order(
        order=first,
        facts=ChaseFacts(ago(49), ago(45)),
        submission=make_submission(on=ago(49), at=timezone.now()),
    )
    received(first, ago(44), money(10))
    second = make_order((paint, units(500), money(12)), supplier=supplier, on=ago(30))
    wrong = received(second, ago(20), money(99))
    reverse_posting(posting=wrong.posting, submission=make_submission(on=TODAY, at=timezone.now()))
    received(second, ago(18), money(12))
    late = make_order((paint, units(500)), supplier=supplier, on=ago(9), expected_on=ago(2))
    history = history_of(supplier, today=TODAY)
    assert [state.order for state in history.open_orders] == [late]
    assert [times.days_taken for times in history.times] == [[16], [12], []]
    assert [times.days_late(TODAY) for times in history.times][::2] == [6, 2]
    [pack] = history.prices
    assert [price for _day, price in pack.prices] == [money(10), money(12)]
    assert pack.difference == money(2)
    assert sum(year.landed for year in history.years) == money(22)
    assert sum(year.deliveries for year in history.years) == 2
    assert order_times(since=ago(10), suppliers=[supplier.pk])[0].order == late.pk


def test_the_page_shows_them_and_a_helper_sees_no_prices(owner: User, helper: User) -> None:
    supplier, paint = make_supplier(), make_material(name="Amber")
    for days, price in ((60, money(10)), (30, money("9.40"))):
        order = make_order((paint, units(500), price), supplier=supplier, on=ago(days))
        received(order, ago(days - 9), price)
    address = reverse("inventory:supplier", args=[supplier.pk])
    words = text_of(as_user(owner).get(address))
    assert "▼ £0.60 less: £10.00, now £9.40" in words
    assert "9 days, promised in" in words
    assert "£" not in text_of(as_user(helper).get(address))


def test_a_program_reads_the_same_and_a_helper_no_prices(owner: User, helper: User) -> None:
    supplier, paint = make_supplier(), make_material(name="Amber")
    for days, price in ((90, 10), (30, 12)):
        order = make_order(
            (paint, units(500), money(price)), supplier=supplier, on=ago(days), expected_on=ago(days - 7)
        )
        received(order, ago(days - 9), money(price))
    address = f"/api/suppliers/{supplier.pk}/history/"
    told = as_user(owner).get(address).json()
    assert [(each["days_promised"], each["days_taken"]) for each in told["orders"]] == [(7, [9]), (7, [9])]
    (pack,) = told["prices"]
    assert [each["price"] for each in pack["prices"]] == ["10.000000", "12.000000"]
    assert [each["on"] for each in pack["prices"]] == [ago(81).isoformat(), ago(21).isoformat()]
    assert sum(Decimal(year["landed"]) for year in told["years"]) == 22
    seen = as_user(helper).get(address).json()
    assert not any("landed" in year for year in seen["years"])
    assert not any("price" in each for pack in seen["prices"] for each in pack["prices"])
    assert as_user(owner).get("/api/suppliers/999999/history/").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_history(owner: User) -> None:
    client: Client = as_user(owner)

    def count(orders: int) -> int:
        supplier = make_supplier()
        for number in range(orders):
            order = make_order((make_material(), units(1), money(1)), supplier=supplier, on=ago(40 + number))
            received(order, ago(30), money(1))
            make_order((make_material(), units(1)), supplier=supplier, on=ago(5))
        return queries(client, reverse("inventory:supplier", args=[supplier.pk]))

    count(1)
    assert count(2) == count(6)


def test_bars_stand_on_one_scale_with_the_promise_marked() -> None:
    taken, promised, still_open = days_bars(
        [("1", "", 5, None, False), ("2", "", 10, 20, False), ("3", "", 0, 5, True)]
    )
    assert (taken.height, taken.mark, promised.height, promised.mark) == (25, None, 50, 100)
    assert (still_open.height, still_open.mark_top, still_open.left) == (1, 75, 60)
    assert days_bars([]) == []


def test_a_price_holds_until_the_day_of_the_next() -> None:
    low, high = HEIGHT - MARGIN, MARGIN
    days = [date(2025, 1, 1), date(2025, 1, 6), date(2025, 1, 11)]
    assert price_path(list(zip(days, (100, 100, 300), strict=True))) == f"M0 {low}H50V{low}H100V{high}"
    assert price_path([(days[0], 100), (days[0], 100)]) == "M0 50H0V50"
