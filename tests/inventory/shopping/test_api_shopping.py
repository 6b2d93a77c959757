"""The shopping list for programs."""

import pytest

from inventory.materials.models import Material, Supplier, Supply
from inventory.purchasing.models import Order
from inventory.shopping.models import ShoppingEntry
from studio.accounts.models import User
from tests.inventory.shopping.stories import low, quay, sells
from tests.making import make_supplier, money
from tests.programs import Program, names_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Supplier:
    return quay(carriage=money(5), free_carriage_from=money(25))


@pytest.fixture
def paint(shop: Supplier) -> Material:
    material = low(name="Sail Loft White")
    sells(shop, material, 600, 9, (4, 8))
    return material


def test_the_list_names_what_to_buy_and_why(owner: User, paint: Material) -> None:
    program = Program(owner)
    program.send("shopping-list/", {"text": "Kitchen roll"}, status=200)
    line, words = program.read("shopping-list/")["results"]
    assert (line["material"]["name"], line["supplier"]["name"]) == ("Sail Loft White", "Limpet Quay Colours")
    assert [(packs["packs"], packs["price"]) for packs in line["packs"]] == [(1, "9.000000")]
    assert (line["is_needed"], line["is_ticked"]) == (True, False)
    assert line["needed_for"].startswith("Low:")
    assert (words["text"], words["supplier"], words["packs"]) == ("Kitchen roll", None, [])


def test_the_sums_by_supplier(owner: User, paint: Material) -> None:
    (part,) = Program(owner).read("shopping-suppliers/")["results"]
    assert (part["goods"], part["carriage"], part["total"]) == ("9.000000", "5.000000", "14.000000")
    assert part["home_total"] == "14.000000"
    assert part["terms"] == ["Carriage is free with £16.00 more of goods."]


def test_whoever_sees_no_money_is_told_none(helper: User, paint: Material) -> None:
    program = Program(helper)
    for path in ("shopping-list/", "shopping-suppliers/", "packs/", "suppliers/"):
        told = names_of(program.read(path))
        assert not told & {"price", "goods", "carriage", "total", "home_total", "minimum_order"}, path
    supply = Supply.objects.get()
    assert program.post("shopping-choices/", {"pack": supply.pk, "packs": 2}).status_code == 403


def test_packs_and_suppliers_tell_their_terms(owner: User, paint: Material) -> None:
    (pack,) = Program(owner).read("packs/")["results"]
    assert pack["price_breaks"] == [{"from_packs": 4, "price": "8.000000"}]
    (supplier,) = Program(owner).read("suppliers/")["results"]
    assert (supplier["carriage"], supplier["free_carriage_from"]) == ("5.000000", "25.000000")
    assert (supplier["minimum_order"], supplier["exchange_rate"]) == (None, None)


def test_an_amount_is_added_ticked_and_removed(owner: User, paint: Material) -> None:
    program = Program(owner)
    added = program.send("shopping-list/", {"material": paint.pk, "quantity": "1 l"}, status=200)
    assert added["quantity"]["amount"] == 1_000_000
    answer = program.send(
        "shopping-ticks/", {"material": paint.pk, "ticked": True}, key="touch-1", status=200
    )
    assert answer == {"key": "touch-1", "ticked": True}
    assert program.read("shopping-list/")["results"][0]["is_ticked"]
    program.send("shopping-removals/", {"entry": added["id"]}, status=200)
    assert not ShoppingEntry.objects.exists()


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("shopping-list/", {}, "text"),
        ("shopping-list/", {"quantity": "1 l"}, "material"),
        ("shopping-list/", {"material": 1_000_000}, "material"),
        ("shopping-ticks/", {"ticked": True}, "material"),
        ("shopping-orders/", {"lines": []}, "lines"),
        ("shopping-choices/", {"pack": 1_000_000}, "pack"),
    ],
)
def test_a_body_that_says_too_little_is_refused_at_its_field(
    owner: User, path: str, body: dict[str, object], field: str
) -> None:
    problem = Program(owner).refusal(path, body, status=400)
    assert field in problem["errors"]


def test_a_pack_is_chosen_and_left_to_the_list_again(owner: User, paint: Material) -> None:
    other = sells(make_supplier(name="Sluice Shop"), paint, 300, 12)
    program = Program(owner)
    program.send("shopping-choices/", {"pack": other.pk, "packs": 3}, status=200)
    assert program.read("shopping-list/")["results"][0]["packs"][0]["packs"] == 3
    program.send("shopping-choices/", {"pack": other.pk}, status=200)
    assert program.read("shopping-list/")["results"][0]["supplier"]["name"] == "Limpet Quay Colours"


def test_orders_are_made_once_and_only_as_the_list_says(owner: User, paint: Material) -> None:
    program = Program(owner)
    body = {"lines": [{"pack": Supply.objects.get().pk, "packs": 1}]}
    first = program.send("shopping-orders/", body, key="order-1")
    again = program.send("shopping-orders/", body, key="order-1", status=200)
    assert first == again
    assert Order.objects.get().pk == first["orders"][0]["id"]
    assert program.refusal("shopping-orders/", body, key="order-2", status=409)
