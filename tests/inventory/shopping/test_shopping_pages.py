"""The pages of the shopping list: at the desk, in the shop, on paper, as a file and as an email."""

import csv
from urllib.parse import parse_qs, urlsplit

import pypdfium2
import pytest
from django.urls import reverse

from inventory.materials.models import Material, Supplier, Supply
from inventory.purchasing.models import Delivery, Order
from inventory.shopping.actions import Addition, add_to_list, tick
from inventory.shopping.models import ShoppingEntry
from studio.accounts.models import User
from studio.pages.forms import new_key
from studio.preferences.models import Studio
from tests.inventory.browsing import HOSTILE, as_user, queries, text_of
from tests.inventory.shopping.stories import low, quay, sells
from tests.making import (
    make_batch,
    make_bookkeeper,
    make_delivery,
    make_material,
    make_recipe,
    make_session,
    make_submission,
    make_supplier,
    make_surface,
    money,
    pour_of,
    units,
)

pytestmark = pytest.mark.django_db
LIST = "inventory:shopping-list"


@pytest.fixture
def shop() -> Supplier:
    return quay(carriage=money(5), free_carriage_from=money(25), email="orders@limpet.example")


@pytest.fixture
def paint(shop: Supplier) -> Material:
    """White that is low: a pack of 600 mL at 17.43 fills it again."""
    material = low(name="Sail Loft White")
    sells(shop, material, 600, "17.43")
    return material


def test_without_any_reorder_level_the_list_says_so_and_names_what_is_nearly_empty(owner: User) -> None:
    white, grey, canvas = make_material(name="Gull White"), make_material(name="Gull Grey"), make_surface()
    make_delivery(
        lines=[(white, units(500), money(5)), (grey, units(500), money(5)), (canvas, 1_000, money(3))]
    )
    make_session(pours=[pour_of(material=white, quantity=units(470), surface=canvas)])
    client = as_user(owner)
    for page in (LIST, "inventory:shopping-shop"):
        words = text_of(client.get(reverse(page)))
        assert "There is enough of everything" not in words
        assert "Nothing has a reorder level yet" in words
        assert "Nearly empty: Gull White (30 mL)." in words.replace("\u00a0", " ")
    Material.objects.filter(pk=grey.pk).update(reorder_level=units(1))
    assert "There is enough of everything" in text_of(client.get(reverse(LIST)))


def test_nearly_empty_is_what_is_bought_and_holds_less_than_its_last_use_took(owner: User) -> None:
    yellow, canvas = make_material(name="Gull Yellow"), make_surface()
    make_delivery(lines=[(yellow, units("120.04"), money(5)), (canvas, 2_000, money(3))])
    version = make_recipe(parts=[(yellow, 1)])
    make_batch(version=version, quantity=units("84"))
    made = version.recipe.makes
    make_session(pours=[pour_of(material=made, quantity=units(80), surface=canvas)])
    page = as_user(owner).get(reverse(LIST))
    assert "Nearly empty: Gull Yellow (36 mL)." in text_of(page)
    offered = page.context["form"].fields["material"].offered
    assert (yellow.pk in offered, made.pk in offered) == (True, False)
    sells(quay(), made, 600, "17.43")
    assert made.pk in as_user(owner).get(reverse(LIST)).context["form"].fields["material"].offered


def test_the_list_says_what_to_buy_from_whom_why_and_what_it_costs(owner: User, paint: Material) -> None:
    words = text_of(as_user(owner).get(reverse(LIST)))
    assert "Limpet Quay Colours £22.43" in words
    assert (
        "Sail Loft White 1 × 600 mL Low: 0 mL left, reorder at 300 mL. The only supplier recorded. £17.43"
        in words
    )
    assert "Goods £17.43 Carriage £5.00 Total £22.43" in words
    assert "Carriage is free with £7.57 more of goods." in words


def test_a_helper_ticks_and_adds_without_seeing_money(helper: User, paint: Material) -> None:
    client = as_user(helper)
    for address in (LIST, "inventory:shopping-shop", "inventory:shopping-email"):
        words = text_of(client.get(reverse(address)))
        assert "Sail Loft White" in words
        assert not any(figure in words for figure in ("17.43", "22.43", "£", "7.57"))
    assert client.get(reverse("inventory:shopping-choose", args=[paint.pk])).status_code == 403
    client.post(reverse("inventory:shopping-add"), {"text": "Kitchen roll"})
    assert ShoppingEntry.objects.get().text == "Kitchen roll"
    assert "17.43" not in client.get(reverse(LIST), {"export": "csv"}).content.decode()


def test_the_bookkeeper_only_looks(paint: Material) -> None:
    client = as_user(make_bookkeeper())
    page = client.get(reverse(LIST))
    assert "Order from" not in text_of(page)
    assert client.post(reverse("inventory:shopping-add"), {"text": "x"}).status_code == 403


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "text"),
        ({"quantity": "500 ml"}, "material"),
        ({"material": "PAINT"}, "quantity"),
        ({"material": "PAINT", "quantity": "a lot"}, "quantity"),
        ({"material": "PAINT", "quantity": "1 l", "text": "and rope"}, "text"),
        ({"text": "x" * 121}, "text"),
    ],
)
def test_what_cannot_be_added_comes_back_with_what_was_typed(
    owner: User, paint: Material, typed: dict[str, str], field: str
) -> None:
    sent = {name: str(paint.pk) if value == "PAINT" else value for name, value in typed.items()}
    page = as_user(owner).post(reverse("inventory:shopping-add"), sent)
    assert (page.status_code, list(page.context["form"].errors)) == (422, [field])
    assert not ShoppingEntry.objects.exists()


def test_an_amount_is_added_and_taken_off_again(owner: User, paint: Material) -> None:
    client = as_user(owner)
    client.post(reverse("inventory:shopping-add"), {"material": paint.pk, "quantity": "1 l"})
    entry = ShoppingEntry.objects.get()
    assert entry.quantity == units(1_000)
    client.post(reverse("inventory:shopping-remove", args=[entry.pk]))
    assert not ShoppingEntry.objects.exists()


def test_a_touch_ticks_and_another_takes_it_back(owner: User, paint: Material) -> None:
    client, address = as_user(owner), reverse("inventory:shopping-tick")
    client.post(address, {"material": paint.pk, "ticked": "yes", "back": "shop"})
    assert 'aria-pressed="true"' in client.get(reverse("inventory:shopping-shop")).content.decode()
    client.post(address, {"material": paint.pk, "ticked": "no"})
    assert 'aria-pressed="true"' not in client.get(reverse("inventory:shopping-shop")).content.decode()
    gone = client.post(address, {"material": "none", "ticked": "yes"}, follow=True)
    assert "That is not on the list any more" in text_of(gone)


def test_one_touch_orders_and_a_second_does_not(owner: User, paint: Material) -> None:
    client = as_user(owner)
    (part,) = client.get(reverse(LIST)).context["parts"]
    sent = {"lines": part["to_order"], "key": new_key()}
    for _time in range(2):
        page = client.post(reverse("inventory:shopping-order"), sent, follow=True)
        assert "1 order saved" in text_of(page)
    assert [line.price for line in Order.objects.get().lines.all()] == [money("17.43")]
    changed = client.post(reverse("inventory:shopping-order"), sent | {"key": new_key()}, follow=True)
    assert "The shopping list has changed" in text_of(changed)
    for spoilt in ("", "x", "1:0", "1:" + "9" * 30):
        client.post(reverse("inventory:shopping-order"), sent | {"lines": spoilt, "key": new_key()})
    assert Order.objects.count() == 1


def test_what_is_in_the_basket_fills_a_delivery(owner: User, shop: Supplier, paint: Material) -> None:
    tick(material=paint, ticked=True, submission=make_submission())
    client = as_user(owner)
    page = client.get(reverse("inventory:delivery-new"), {"supplier": str(shop.pk), "list": "yes"})
    first = page.context["formset"].forms[0].initial
    assert (first["material"], first["pack"], first["packs"], first["price"]) == (
        paint.pk,
        "600 mL",
        1,
        "17.43",
    )
    assert (
        not client.get(reverse("inventory:order-new"), {"supplier": str(shop.pk), "list": "yes"})
        .context["formset"]
        .forms[0]
        .initial
    )
    assert not Delivery.objects.exists()


def test_another_pack_is_chosen_and_left_to_the_list_again(owner: User, paint: Material) -> None:
    other = sells(make_supplier(name="Sluice Shop"), paint, 300, 12)
    client, address = as_user(owner), reverse("inventory:shopping-choose", args=[paint.pk])
    words = text_of(client.get(address))
    assert "Sluice Shop: 2 × 300 mL All together £1.57 more. £24.00" in words
    client.post(address, {"supply": other.pk, "packs": 3})
    assert "3 × 300 mL" in text_of(client.get(reverse(LIST)))
    client.post(reverse("inventory:shopping-cheapest", args=[paint.pk]))
    assert "1 × 600 mL" in text_of(client.get(reverse(LIST)))
    refused = client.post(address, {"supply": other.pk, "packs": 0})
    assert (refused.status_code, list(refused.context["form"].errors)) == (422, ["packs"])


def test_a_pack_of_another_material_cannot_be_chosen(owner: User, paint: Material, shop: Supplier) -> None:
    foreign = sells(shop, make_material(), 5, 1)
    address = reverse("inventory:shopping-choose", args=[paint.pk])
    assert as_user(owner).post(address, {"supply": foreign.pk, "packs": 1}).status_code == 422


@pytest.mark.parametrize("paper", Studio.Paper.values)
def test_the_paper_has_every_line_and_the_sums(owner: User, paint: Material, paper: str) -> None:
    add_to_list(addition=Addition(text=HOSTILE), submission=make_submission())
    answer = as_user(owner).get(reverse("inventory:shopping-paper"), {"paper": paper})
    assert answer.headers["Content-Type"] == "application/pdf"
    with pypdfium2.PdfDocument(answer.content) as pdf:
        words = " ".join(page.get_textpage().get_text_bounded() for page in pdf)
    for expected in ("Limpet Quay Colours", "Sail Loft White", "17.43", "22.43", HOSTILE):
        assert expected in words


def test_the_email_can_be_opened_in_a_mail_program(owner: User, paint: Material) -> None:
    page = as_user(owner).get(reverse("inventory:shopping-email"))
    texts = page.context["texts"]
    assert "[ ] 1 × 600" in texts[0][2]
    assert "Total: £22.43" in texts[0][2]
    _heading, address, text, link = texts[1]
    assert (address, text.replace("\xa0", " ")) == ("orders@limpet.example", "- 1 × 600 mL Sail Loft White")
    # RFC 6068: the address, then subject and body, percent-encoded.
    parts = urlsplit(link)
    assert (parts.scheme, parts.path) == ("mailto", "orders@limpet.example")
    assert parse_qs(parts.query)["body"] == [text]


def test_the_file_has_a_row_for_each_pack(owner: User, paint: Material) -> None:
    add_to_list(addition=Addition(text="Rope"), submission=make_submission())
    text = as_user(owner).get(reverse(LIST), {"export": "csv"}).content.decode("utf-8-sig")
    rows = list(csv.reader(text.splitlines()))
    assert rows[1][:7] == ["Limpet Quay Colours", "Sail Loft White", "1", "600", "mL", "17.43", "GBP"]
    assert rows[2][:3] == ["", "Rope", ""]


def test_an_empty_list_says_so(owner: User) -> None:
    assert "Nothing to buy" in text_of(as_user(owner).get(reverse(LIST)))


def test_the_number_of_queries_does_not_grow_with_the_lines(owner: User, shop: Supplier) -> None:
    client = as_user(owner)
    sells(shop, low(), 500, 9)
    add_to_list(addition=Addition(text="Rope"), submission=make_submission())
    few = {
        address: queries(client, reverse(address)) for address in (LIST, "inventory:shopping-shop", "home")
    }
    for number in range(4):
        sells(shop, low(), 500, 9, (3, 8))
        add_to_list(addition=Addition(text=f"Rope {number}"), submission=make_submission())
    assert {address: queries(client, reverse(address)) for address in few} == few


# Terms and price breaks


def test_terms_are_typed_in_the_suppliers_currency_and_recorded(owner: User, shop: Supplier) -> None:
    client, address = as_user(owner), reverse("inventory:supplier-edit", args=[shop.pk])
    sent = {
        "name": shop.name, "currency": "EUR", "lead_time_days": "7", "lead_time_variation_days": "0", "seen": "0",
        "carriage": "6.50", "free_carriage_from": "€60", "minimum_order": "15", "exchange_rate": "0.86",
    }  # fmt: skip
    sent["seen"] = client.get(address).context["form"]["seen"].value()
    client.post(address, sent)
    shop.refresh_from_db()
    assert (shop.carriage, shop.free_carriage_from, shop.minimum_order) == (
        money("6.50"),
        money(60),
        money(15),
    )
    assert shop.exchange_rate == 860_000
    words = text_of(client.get(reverse("inventory:supplier", args=[shop.pk])))
    assert "Carriage €6.50 Free carriage from €60.00 Minimum order value €15.00" in words
    assert "carriage" in text_of(client.get(reverse("change-log")))
    sent["seen"] = client.get(address).context["form"]["seen"].value()
    refused = client.post(address, sent | {"carriage": "", "minimum_order": "lots", "exchange_rate": "-1"})
    assert set(refused.context["form"].errors) == {"minimum_order", "exchange_rate"}
    refused = client.post(address, sent | {"carriage": ""})
    assert set(refused.context["form"].errors) == {"free_carriage_from"}


def test_price_breaks_are_typed_a_line_each_and_recorded(owner: User, paint: Material) -> None:
    supply = Supply.objects.get(material=paint)
    client, address = as_user(owner), reverse("inventory:pack-edit", args=[supply.pk])
    page = client.get(address)
    sent = {
        "seen": page.context["form"]["seen"].value(), "material": str(paint.pk), "pack_size": "600 ml",
        "price": "17.43", "minimum_packs": "1", "price_breaks": "6: 16.50\n12: 15.90",
    }  # fmt: skip
    client.post(address, sent)
    assert [(each.from_packs, each.price) for each in supply.price_breaks.all()] == [
        (6, money("16.50")), (12, money("15.90")),
    ]  # fmt: skip
    assert "from 6: 16.50 GBP; from 12: 15.90 GBP" in text_of(client.get(reverse("change-log")))
    assert "from 6: £16.50" in text_of(client.get(reverse("inventory:supplier", args=[supply.supplier_id])))
    page = client.get(address)
    assert page.context["form"]["price_breaks"].value() == "6: 16.50\n12: 15.90"
    sent["seen"] = page.context["form"]["seen"].value()
    for wrong in ("6", "6: ", "x: 5", "6: five", "6: 17.43", "1: 5", "6: 16\n6: 15", "12: 15\n6: 14"):
        refused = client.post(address, sent | {"price_breaks": wrong})
        assert (refused.status_code, list(refused.context["form"].errors)) == (422, ["price_breaks"]), wrong
    assert supply.price_breaks.count() == 2
