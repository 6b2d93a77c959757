"""Order pages: what is on its way, asking for more, and one order with what has come of it."""

import re
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert
from inventory.materials.models import Material, Supplier, Supply
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.actions.orders import close_order
from inventory.purchasing.incoming import on_order, progress_of
from inventory.purchasing.models import Delivery, Order, OrderLine
from studio.accounts.models import User
from tests import making
from tests.days import june
from tests.making import make_lot, make_material, make_supplier, make_surface, money, take_back, units

pytestmark = pytest.mark.django_db


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def text_of(response: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


def make_order(*lines: tuple[Material, int, int], supplier: Supplier | None = None, **facts: Any) -> Order:
    """A litre for 20.00, ordered on the first, unless said otherwise."""
    usual = [(make_material(), units(1000), money(20))]
    return making.make_order(*(lines or usual), supplier=supplier, **{"on": june(1), **facts})


def receive(order: Order, quantity: int, *, line: OrderLine | None = None, key: str = "") -> Delivery:
    """So much of the order's first line comes; with a line given, the delivery names it."""
    first = order.lines.order_by("pk")[0]
    lines = [LineFacts(first.material, quantity, money(1), order_line=line)]
    facts = making.delivery_facts(lines=lines, supplier=order.supplier, order=order)
    return receive_delivery(facts=facts, submission=making.make_submission(key=key))


def sent(supplier: Supplier, /, *lines: dict[str, Any], **head: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "key": uuid4().hex,
        "supplier": supplier.pk,
        "ordered_on": "2025-06-01",
        "lines-TOTAL_FORMS": str(len(lines) + 6),
        "lines-INITIAL_FORMS": "0",
    } | head
    for number in range(len(lines) + 6):
        data |= {f"lines-{number}-packs": "1"}
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": value for name, value in line.items()}
    return data


def make_low(supplier: Supplier, *, name: str = "Amber") -> Material:
    """A material below its own level of a litre, sold in half litres at 6.00."""
    material = make_material(name=name, reorder_level=units(1000))
    make_lot(material=material, quantity=units(100))
    Supply.objects.create(supplier=supplier, material=material, pack_size=units(500), price=money(6))
    return material


# Asking for more


def test_an_order_is_recorded_with_its_expected_day(signed: Client) -> None:
    supplier = make_supplier(lead_time_days=9)
    paint, canvas = make_material(), make_surface()
    response = signed.post(
        reverse("inventory:order-new"),
        sent(
            supplier,
            {"material": paint.pk, "pack": "500 ml", "packs": "3", "price": "27.00"},
            {"material": canvas.pk, "pack": "10 each"},
            reference="PO-12",
        ),
    )
    made = Order.objects.get()
    assert response["Location"] == reverse("inventory:order", args=[made.pk])
    assert made.expected_on == june(11)  # nine days stated, and a tenth of that, as deliveries usually take
    assert list(made.lines.order_by("pk").values_list("quantity", "price")) == [
        (units(1500), money(27)),
        (units(10), 0),
    ]
    words = text_of(signed.get(response["Location"]))
    assert "Expected 11 Jun 2025" in words
    assert "3 packs of 500 ml 1,500 mL 0 mL 1,500 mL £27.00" in words


def test_the_same_order_sent_twice_is_recorded_once(signed: Client) -> None:
    data = sent(make_supplier(), {"material": make_material().pk, "pack": "1 l"})
    first, second = (signed.post(reverse("inventory:order-new"), data) for _time in range(2))
    assert first["Location"] == second["Location"]
    assert Order.objects.count() == 1


def test_an_order_under_a_key_that_was_used_for_another_is_refused(signed: Client) -> None:
    data = sent(make_supplier(), {"material": make_material().pk, "pack": "1 l"})
    signed.post(reverse("inventory:order-new"), data)
    refused = signed.post(reverse("inventory:order-new"), data | {"lines-0-pack": "2 l"})
    assert refused.status_code == 422
    assert "already sent with other contents" in text_of(refused)
    assert Order.objects.count() == 1


def test_two_people_may_use_one_key(signed: Client, helper: User) -> None:
    data = sent(make_supplier(), {"material": make_material().pk, "pack": "1 l"})
    signed.post(reverse("inventory:order-new"), data)
    as_user(helper).post(reverse("inventory:order-new"), data)
    assert Order.objects.count() == 2


def test_what_was_ordered_counts_as_on_its_way_and_its_alert_waits(
    signed: Client, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    supplier = make_supplier()
    material = make_low(supplier)
    refresh_alerts(on=timezone.localdate(), at=timezone.now())
    today, about = timezone.localdate(), Alert.objects.filter(material=material)
    assert about.waiting(today).exists()
    with django_capture_on_commit_callbacks(execute=True):
        signed.post(reverse("inventory:order-new"), sent(supplier, {"material": material.pk, "pack": "2 l"}))
    assert about.standing().exists()
    assert not about.waiting(today).exists()


@pytest.mark.parametrize(
    ("line", "head", "says"),
    [
        ({"pack": "2 each"}, {}, "needs a volume"),
        ({"price": "1.234"}, {}, "too many decimals"),
        ({"material": ""}, {}, "required"),
        ({}, {"expected_on": "2025-05-01"}, "expected date is before the order date"),
        ({}, {"supplier": ""}, "required"),
    ],
)
def test_it_refuses_what_cannot_be_read_and_records_nothing(
    signed: Client, line: dict[str, Any], head: dict[str, Any], says: str
) -> None:
    whole = {"material": make_material().pk, "pack": "500 ml", "price": "9.50"} | line
    response = signed.post(reverse("inventory:order-new"), sent(make_supplier(), whole, **head))
    assert response.status_code == 422
    assert says in text_of(response)
    assert not Order.objects.exists()


def test_an_order_without_lines_is_refused_in_words(signed: Client) -> None:
    response = signed.post(reverse("inventory:order-new"), sent(make_supplier()))
    assert response.status_code == 422
    assert "An order needs at least one line" in text_of(response)


def test_what_the_shopping_list_has_for_a_supplier_fills_the_lines(signed: Client) -> None:
    quay = make_supplier(name="Limpet Colours")
    material = make_low(quay)
    make_low(make_supplier(name="Mill Lane Boards"), name="Teal")
    page = signed.get(reverse("inventory:order-new"), {"list": "yes", "supplier": str(quay.pk)})
    assert page.context["form"]["supplier"].value() == quay.pk
    # A level of 1,000 mL is filled to twice that: 1,900 mL are wanted, so four half litres at 6.00.
    assert page.context["formset"].forms[0].initial == {
        "material": material.pk,
        "pack": "500 mL",
        "packs": 4,
        "price": "24.00",
    }


# What has come


def test_an_order_shows_what_came_and_what_is_still_to_come(signed: Client) -> None:
    order = make_order()
    made = receive(order, units(400), line=order.lines.get())
    page = signed.get(reverse("inventory:order", args=[order.pk]))
    words = text_of(page)
    assert "1,000 mL 400 mL 600 mL" in words
    assert reverse("inventory:delivery", args=[made.pk]) in page.content.decode()
    assert f"{reverse('inventory:delivery-new')}?order={order.pk}" in page.content.decode()


def test_a_delivery_taken_back_no_longer_counts(signed: Client) -> None:
    order = make_order()
    made = receive(order, units(400), line=order.lines.get())
    take_back(made.posting)
    words = text_of(signed.get(reverse("inventory:order", args=[order.pk])))
    assert "1,000 mL 0 mL 1,000 mL" in words
    assert "Reversed" in words


def test_a_line_added_by_hand_to_the_delivery_counts_too() -> None:
    order = make_order()
    receive(order, units(300), key="a")
    receive(order, units(100), line=order.lines.get(), key="b")
    assert progress_of([order])[0].lines[0].to_come == units(600)


@pytest.mark.parametrize("came", [0, 700, 1000, 1500, 2500])
def test_two_lines_of_one_material_are_filled_in_turn_and_agree_with_the_stock(came: int) -> None:
    paint = make_material()
    order = make_order((paint, units(1000), 0), (paint, units(500), 0))
    if came:
        receive(order, units(came))
    lines = progress_of([order])[0].lines
    assert sum(line.received for line in lines) == units(came)
    assert sum(line.to_come for line in lines) == on_order([paint.pk]).get(paint.pk, 0)


def test_an_order_whose_day_has_passed_is_late_until_all_has_come(signed: Client) -> None:
    today = timezone.localdate()
    order = make_order(on=today - timedelta(days=9), expected_on=today - timedelta(days=1))
    make_order(on=today, expected_on=today)
    rows = signed.get(reverse("inventory:orders")).context["table"].rows
    assert [row.is_late(today) for row in rows] == [True, False]
    receive(order, units(1000))
    words = text_of(signed.get(reverse("inventory:order", args=[order.pk])))
    assert "All received" in words
    assert "Late" not in words


def test_closing_an_order_ends_what_is_on_its_way(signed: Client) -> None:
    order = make_order()
    response = signed.post(reverse("inventory:order-close", args=[order.pk]), follow=True)
    assert "Order closed." in text_of(response)
    assert "Receive this order" not in text_of(response)
    assert on_order() == {}
    assert signed.get(reverse("inventory:order-close", args=[order.pk])).status_code == 405


# The list


def test_the_list_shows_open_orders_and_filters(signed: Client) -> None:
    quay = make_supplier(name="Limpet Colours")
    still = make_order((make_material(name="Amber"), units(1), 0), supplier=quay, reference="PO-1")
    done = close_order(order=make_order(), submission=making.make_submission())
    address = reverse("inventory:orders")

    def listed(**query: Any) -> list[int]:
        return [order.pk for order in signed.get(address, query).context["page_obj"]]

    assert listed() == [still.pk]
    assert listed(state="closed") == [done.pk]
    assert set(listed(state="all")) == {still.pk, done.pk}
    assert listed(search="amb") == [still.pk]
    assert listed(search="po-1") == [still.pk]
    assert listed(search="teal") == []
    assert listed(supplier=done.supplier_id) == []
    assert listed(sort="nonsense", supplier="x", state="?") == [still.pk]


def test_an_empty_list_teaches(signed: Client) -> None:
    assert "Nothing is on order" in text_of(signed.get(reverse("inventory:orders")))


@pytest.mark.parametrize("name", ["orders", "order"])
def test_the_number_of_queries_does_not_grow_with_the_rows(signed: Client, name: str) -> None:
    def count(rows: int) -> int:
        orders = [
            make_order(*[(make_material(), 1000, 0) for _ in range(rows)])
            for _ in range(rows if name == "orders" else 1)
        ]
        arguments = [orders[0].pk] if name == "order" else []
        with CaptureQueriesContext(connection) as queries:
            signed.get(reverse(f"inventory:{name}", args=arguments))
        return len(queries)

    count(1)
    assert count(3) == count(12)


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    order = make_order(
        (make_material(name=nasty), 1000, 0), supplier=make_supplier(name=nasty), reference=nasty, notes=nasty
    )
    for address in (reverse("inventory:orders"), reverse("inventory:order", args=[order.pk])):
        page = signed.get(address).content.decode()
        assert nasty not in page
        assert "&lt;script&gt;" in page


# Who may


def test_a_helper_orders_without_seeing_prices(helper: User) -> None:
    client, material = as_user(helper), make_material()
    assert "Line price" not in text_of(client.get(reverse("inventory:order-new")))
    response = client.post(
        reverse("inventory:order-new"),
        sent(make_supplier(), {"material": material.pk, "pack": "1 l", "price": "99"}),
    )
    assert response.status_code == 302
    assert OrderLine.objects.get().price == 0
    priced = make_order((material, units(1000), money("12.34")))
    page = client.get(reverse("inventory:order", args=[priced.pk])).content.decode()
    assert not re.search(r"£|12\.34", page)
    assert "Receive this order" not in page


def test_a_bookkeeper_reads_and_records_nothing(bookkeeper: User) -> None:
    order, client = make_order(), as_user(bookkeeper)
    page = text_of(client.get(reverse("inventory:order", args=[order.pk])))
    assert "£20.00" in page
    assert "Close order" not in page
    assert client.get(reverse("inventory:order-new")).status_code == 403
    assert client.post(reverse("inventory:order-close", args=[order.pk])).status_code == 403
    assert not Order.objects.get().is_closed


@pytest.mark.parametrize("name", ["orders", "order-new"])
def test_a_stranger_is_sent_to_the_door(name: str, stranger: User) -> None:
    assert as_user(stranger).get(reverse(f"inventory:{name}"))["Location"].startswith(reverse("login"))


def test_an_order_that_is_not_there_is_not_found(signed: Client) -> None:
    assert signed.get(reverse("inventory:order", args=[999])).status_code == 404
    assert signed.get(f"{reverse('inventory:delivery-new')}?order=999").status_code == 404
    assert signed.get(f"{reverse('inventory:delivery-new')}?order=x").status_code == 404


def test_the_expected_day_follows_the_order_day() -> None:
    order = make_order(supplier=make_supplier(lead_time_days=4))
    assert order.expected_on == date(2025, 6, 5)
