"""Pages of one order: changing it, sending it, chasing it, receiving parts of it, and what its prices became."""

from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.materials.models import Supply
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import Delivery, Order, OrderChase
from inventory.purchasing.papers import OrderPaper, PaperLine, draw_order
from studio.accounts.models import User
from studio.papers.frame import PageFrame
from tests import making
from tests.days import june
from tests.inventory.bench.test_mixing_sheet import CYRILLIC, GREEK, assert_inside_margins, pages_of
from tests.inventory.browsing import as_user, text_of
from tests.making import make_material, make_order, make_submission, make_supplier, money, units
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def an_order(**facts: Any) -> Order:
    return make_order((make_material(name="Amber"), units(1000), money(20)), **{"on": june(1), **facts})


def page_of(client: Client, order: Order) -> Any:
    return client.get(reverse("inventory:order", args=[order.pk]))


def edit_tab(user: User, order: Order) -> Tab:
    address = reverse("inventory:order-edit", args=[order.pk])
    return Tab(as_user(user), address, address)


def acted(client: Client, name: str, order: Order, **data: Any) -> str:
    seen = page_of(client, order).context["seen"]
    answer = client.post(
        reverse(f"inventory:order-{name}", args=[order.pk]), {"seen": seen, **data}, follow=True
    )
    return text_of(answer)


def test_lines_are_changed_and_removed_on_the_page(owner: User) -> None:
    order = an_order()
    teal = make_material(name="Teal")
    tab = edit_tab(owner, order)
    new = {"lines-1-material": str(teal.pk), "lines-1-pack": "250 ml", "lines-1-price": "7.50"}
    tab.send(**{"lines-0-packs": "2", "lines-0-price": "40.00"}, **new)
    rows = list(order.lines.order_by("pk").values_list("material__name", "quantity", "price"))
    assert rows == [("Amber", units(2000), money(40)), ("Teal", units(250), money("7.50"))]
    tab = edit_tab(owner, order)
    tab.send(**{"lines-0-DELETE": "on"})
    assert [line.material for line in order.lines.all()] == [teal]


def test_a_helper_changes_packs_at_the_price_that_the_order_has(helper: User) -> None:
    order = an_order()
    tab = edit_tab(helper, order)
    assert not any("price" in name for name in tab.fields)
    tab.send(**{"lines-0-packs": "3"})
    assert order.lines.get().price == money(60)
    assert "£" not in text_of(page_of(as_user(helper), order))


def test_a_closed_order_says_that_it_must_be_opened_first(owner: User, signed: Client) -> None:
    order = an_order()
    tab = edit_tab(owner, order)
    assert "The rest is not coming." in acted(signed, "close", order)
    told = tab.send(**{"lines-0-packs": "3"})
    assert "Closed: changed from" in text_of(told)
    tab.back(told)
    assert "Open it again first" in text_of(tab.send(**{"lines-0-packs": "3"}))
    assert "Open it again before you change it" in text_of(
        signed.get(reverse("inventory:order-edit", args=[order.pk]))
    )
    assert "Order open again" in acted(signed, "reopen", order)


def test_a_button_pressed_on_an_old_page_is_refused_in_words(signed: Client) -> None:
    order = an_order()
    seen = page_of(signed, order).context["seen"]
    assert "By phone" in acted(signed, "sent", order, sent_by="phone")
    for name, data in (("close", {}), ("sent", {"sent_by": "email"})):
        path = reverse(f"inventory:order-{name}", args=[order.pk])
        assert "was changed while you were editing" in text_of(
            signed.post(path, {"seen": seen, **data}, follow=True)
        )
    row = Order.objects.get()
    assert (row.is_closed, row.sent_by) == (False, "phone")
    assert "Choose how it was sent" in acted(signed, "sent", order, sent_by="pigeon")


def test_a_late_order_is_chased_and_says_so_everywhere(signed: Client) -> None:
    today = timezone.localdate()
    order = an_order(on=today - timedelta(days=9), expected_on=today - timedelta(days=3))
    assert "3 days late" in text_of(page_of(signed, order))
    assert "3 days late; not asked yet" in text_of(signed.get(reverse("home")))
    rows = signed.get(reverse("inventory:supplier", args=[order.supplier_id])).context["open_orders"].rows
    assert [row.days_late(today) for row in rows] == [3]
    address = reverse("inventory:order-chase", args=[order.pk])
    data = {"key": uuid4().hex, "asked_on": today, "promised_on": today - timedelta(days=1), "note": "x"}
    assert "The promised day is before the day you asked" in text_of(signed.post(address, data))
    promised = today + timedelta(days=4)
    for _time in range(2):
        words = text_of(signed.post(address, data | {"promised_on": promised}, follow=True))
    assert OrderChase.objects.get().expected_before == today - timedelta(days=3)
    assert Order.objects.get().expected_on == promised
    assert "days late" not in words


def test_the_order_is_read_as_email_and_as_paper(signed: Client, helper: User) -> None:
    supplier = make_supplier(
        name="Limpet Colours",
        email="orders@limpet.example",
        address="4 Creel Steps\nPort Skerry",
        customer_number="C-118",
    )
    order = an_order(supplier=supplier, deliver_to="Net loft\nSlipway", reference="LC-7")
    texts = page_of(signed, order).context["texts"]
    for part in ("Our order number: 1", "Our customer number: C-118", "Amber", "£20.00", "Net loft\nSlipway"):
        assert part in texts.email
    address = urlsplit(texts.mail_address)
    assert (address.scheme, address.path) == ("mailto", "orders@limpet.example")
    assert parse_qs(address.query)["body"] == [texts.email.replace("\n", "\r\n")]
    path = reverse("inventory:order-paper", args=[order.pk])
    for paper in ("", "A4", "A5", "Letter"):
        words = " ".join(pages_of(signed.get(path, {"paper": paper}).content))
        for part in ("Order 1", "4 Creel Steps", "Slipway", "Amber", "1,000 mL", "£20.00", "Total", "C-118"):
            assert part in words
    assert "20.00" not in " ".join(pages_of(as_user(helper).get(path).content))
    assert "Choose one of the papers" in text_of(signed.get(path, {"paper": "A0"}, follow=True))


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
@pytest.mark.parametrize("count", [0, 3, 60])
def test_the_paper_keeps_to_its_margins_whatever_stands_on_it(paper: str, count: int) -> None:
    line = PaperLine(GREEK, CYRILLIC, "99,999", "1,234,567.8 mL", "£1,234,567.89")
    order = OrderPaper(
        [(GREEK, [CYRILLIC] * 12), (CYRILLIC, [GREEK] * 12)],
        [(GREEK, CYRILLIC)] * 4,
        [line] * count,
        "£1,234,567.89",
        f"{GREEK * 3}\n" * 20,
    )
    pdf = draw_order(order, PageFrame("Wrackline Studio", GREEK * 2, CYRILLIC), paper=paper)
    assert_inside_margins(pdf, paper)
    assert " ".join(pages_of(pdf)).count("99,999") == count


# Receiving


def test_each_delivery_opens_with_the_packs_that_are_still_due(signed: Client) -> None:
    order = an_order()
    order.lines.update(packs=4, typed="250 ml")
    address = f"{reverse('inventory:delivery-new')}?order={order.pk}"
    [first, *_rest] = signed.get(address).context["formset"].forms
    assert (first.initial["packs"], first.initial["pack"]) == (4, "250 ml")
    assert "Ordered: £20.00" in first.fields["price"].help_text
    receive(order, units(250))
    assert signed.get(address).context["formset"].forms[0].initial["packs"] == 3
    receive(order, units(100))  # another pack than ordered: what is left is no whole packs
    first = signed.get(address).context["formset"].forms[0]
    assert (first.initial["packs"], first.initial["pack"]) == (1, "650 mL")
    assert "650 mL due with order 1" in text_of(
        signed.get(reverse("inventory:material", args=[order.lines.get().material_id]))
    )
    assert "650 mL Amber" in text_of(signed.get(reverse("inventory:orders")))


CAME_ON = june(3)


def receive(order: Order, pack: int, *, price: int = 0, packs: int = 1, on: Any = CAME_ON) -> Delivery:
    line = order.lines.select_related("material").get()
    lines = [LineFacts(line.material, pack, price, packs, order_line=line)]
    facts = making.delivery_facts(lines=lines, supplier=order.supplier, order=order, received_on=on)
    return receive_delivery(facts=facts, submission=make_submission(on=on))


def test_price_changes_stand_on_the_delivery_and_are_taken_over_in_one_touch(
    signed: Client, helper: User
) -> None:
    order = an_order()
    supply = Supply.objects.create(
        supplier=order.supplier, material=order.lines.get().material, pack_size=units(250), price=money(5)
    )
    first = receive(order, units(250), price=money(5))
    second = receive(order, units(250), price=money("11.00"), packs=2, on=june(7))
    page = text_of(signed.get(reverse("inventory:delivery", args=[second.pk])))
    assert "▲ £1.00 (10%) more than ordered" in page
    assert "▲ £1.00 (10%) more than on 3 Jun 2025" in page
    assert "250 mL of Amber: £5.50 here, £5.00 on the list." in page
    assert "Ordered as 1,000 mL" in page
    assert "£" not in text_of(as_user(helper).get(reverse("inventory:delivery", args=[second.pk])))
    take = reverse("inventory:delivery-pack-prices", args=[second.pk])
    assert as_user(helper).post(take).status_code == 403
    signed.post(take, {"lot": second.lines.get().lot_id})
    supply.refresh_from_db()
    assert supply.price == money("5.50")
    # An older delivery teaches the list nothing any more.
    assert "on the list" not in text_of(signed.get(reverse("inventory:delivery", args=[first.pk])))


def test_first_prices_of_a_supplier_without_a_list_contradict_none(signed: Client) -> None:
    order = an_order()
    first = receive(order, units(250), price=money(5))
    address = reverse("inventory:delivery", args=[first.pk])
    assert signed.get(address).context["has_list"] is False
    signed.post(reverse("inventory:delivery-pack-prices", args=[first.pk]))
    after = signed.get(address).context
    assert (after["has_list"], after["new_prices"]) == (True, [])


def test_a_price_that_differs_from_the_order_is_asked_about_on_the_page(signed: Client) -> None:
    order = an_order()
    line = order.lines.get()
    data = {
        "key": "1" * 32,
        "supplier": order.supplier_id,
        "received_on": "2025-06-05",
        "carriage_shared_by": "value",
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "0",
        "lines-0-material": line.material_id,
        "lines-0-pack": "1 l",
        "lines-0-packs": "1",
        "lines-0-price": "18.00",
        "lines-0-order_line": line.pk,
    }
    address = f"{reverse('inventory:delivery-new')}?order={order.pk}"
    asked = signed.post(address, data)
    assert "£18.00 is £2.00 (10%) less than ordered: £20.00" in text_of(asked)
    assert not Delivery.objects.exists()
    signed.post(address, data | {"confirm": asked.context["form"].asked})
    assert Delivery.objects.get().order == order
