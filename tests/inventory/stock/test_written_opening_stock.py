"""Opening stock and deliveries from lines as she would write them, with materials and suppliers added on the way."""

from typing import Any

import pytest
from django.urls import reverse

from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Kind, Material, Supplier
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import held, make_helper, make_material, make_supplier, make_surface, money, units

pytestmark = pytest.mark.django_db
OPENING, DELIVERY = "inventory:opening-stock", "inventory:delivery-new"
KEY = "0" * 32


def reading(lines: str, *rows: dict[str, Any], **said: Any) -> dict[str, Any]:
    return sent(*rows, **{"do": "read", "written-lines": lines, **said})


def sent(*rows: dict[str, Any], **said: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "key": KEY,
        "on": TODAY.isoformat(),
        "received_on": TODAY.isoformat(),
        "carriage_shared_by": "value",
        "lines-TOTAL_FORMS": str(len(rows)),
        "lines-INITIAL_FORMS": "0",
    } | said
    for number, row in enumerate(rows):
        data |= {f"lines-{number}-{name}": text for name, text in row.items()}
    return data


def rows_shown(response: Any) -> list[dict[str, Any]]:
    return [dict(form.initial) for form in response.context["formset"] if form.initial]


def test_written_lines_become_rows_that_are_looked_at_first(owner: User) -> None:
    white = make_material(name="Sail Loft White")
    response = as_user(owner).post(
        reverse(OPENING), reading("sail loft white 500 ml 2 @ 7.20\nKelp Green 60 ml 3.00")
    )
    assert response.status_code == 200
    assert not Posting.objects.exists()
    first, second, third = rows_shown(response)
    assert (first["material"], first["quantity"], first["cost"]) == (white.pk, "500 ml", "7.20")
    assert second == first
    assert (third["new_name"], third["new_kind"], third["cost"]) == ("Kelp Green", "paint", "3.00")


@pytest.mark.parametrize("page", [OPENING, DELIVERY])
def test_no_browser_asks_for_the_text_before_the_form_around_it_is_sent(owner: User, page: str) -> None:
    make_material()
    field = as_user(owner).get(reverse(page)).context["written"]["lines"]
    assert "required" not in field.build_widget_attrs({})
    assert " required" not in str(field)


@pytest.mark.parametrize("page", [OPENING, DELIVERY])
def test_lines_that_still_wait_when_the_form_is_saved_are_read_instead_of_lost(
    owner: User, page: str
) -> None:
    paint = make_material()
    typed = {"material": str(paint.pk), "quantity": "90 ml", "pack": "90 ml", "cost": "2.10", "price": "2.10"}
    waiting = reading("Kelp Green 60 ml 3.00", typed) | {"do": ""}
    response = as_user(owner).post(reverse(page), waiting)
    assert response.status_code == 200
    assert not Posting.objects.exists()
    assert [row.get("new_name", "") for row in rows_shown(response)] == ["", "Kelp Green"]
    assert list(response.context["messages"])
    assert not response.context["written"]["lines"].value()  # or saving would read it again


def test_what_was_typed_before_stays_above_what_is_read(owner: User) -> None:
    paint = make_material()
    typed = {"material": str(paint.pk), "quantity": "90 ml", "cost": "2.10", "place": "Window"}
    response = as_user(owner).post(reverse(OPENING), reading("Kelp Green 60 ml 3.00", typed, {"cost": ""}))
    first, second = rows_shown(response)
    assert {name: first[name] for name in typed} == typed
    assert second["new_name"] == "Kelp Green"


def test_more_rows_than_fit_are_refused_with_the_text_and_none_is_lost(owner: User) -> None:
    typed = {"material": str(make_material().pk), "quantity": "90 ml", "cost": "2.10"}
    response = as_user(owner).post(reverse(OPENING), reading("Kelp Green 60 ml 60 @ 3.00", typed))
    assert response.status_code == 422
    assert response.context["written"].errors.keys() == {"lines"}
    assert [row["quantity"] for row in rows_shown(response)] == ["90 ml"]
    assert "Kelp Green 60 ml 60 @ 3.00" in response.content.decode()


def test_a_price_for_several_packs_is_asked_about_once_and_then_shared_out(owner: User) -> None:
    lines = "Kelp Green 60 ml 10.00 x3\nTide Grey 60 ml 6.00 x2"
    asked = as_user(owner).post(reverse(OPENING), reading(lines))
    assert asked.status_code == 422
    assert asked.context["written"].errors.keys() == {"prices_are"}
    in_all = as_user(owner).post(reverse(OPENING), reading(lines, **{"written-prices_are": "total"}))
    assert [row["cost"] for row in rows_shown(in_all)] == ["3.34", "3.33", "3.33", "3.00", "3.00"]
    each = as_user(owner).post(reverse(OPENING), reading(lines, **{"written-prices_are": "each"}))
    assert [row["cost"] for row in rows_shown(each)] == ["10.00"] * 3 + ["6.00"] * 2


@pytest.mark.parametrize(("said", "cost"), [("each", "32.00"), ("total", "3.20")])
def test_boards_that_come_singly_are_one_row_and_one_lot(owner: User, said: str, cost: str) -> None:
    lines = reading("Birch board 25x25 cm x10 3.20", **{"written-prices_are": said})
    (row,) = rows_shown(as_user(owner).post(reverse(OPENING), lines))
    assert (row["quantity"], row["cost"], row["new_kind"]) == ("10 each", cost, "surface")
    assert as_user(owner).post(reverse(OPENING), sent(row)).status_code == 302
    assert [held(lot) for lot in Lot.objects.all()] == [(units(10), money(cost))]


def test_a_new_material_is_added_with_its_first_lot(owner: User) -> None:
    row = {"new_name": "Kelp Green", "quantity": "60 ml", "cost": "3.00"}
    response = as_user(owner).post(reverse(OPENING), sent(row, row | {"new_name": "kelp  green"}))
    assert response.status_code == 302, text_of(response)
    material = Material.objects.get()
    assert (material.name, material.kind, material.measure) == ("Kelp Green", Kind.PAINT, "volume")
    assert [held(lot) for lot in Lot.objects.all()] == [(units(60), money("3.00"))] * 2


@pytest.mark.parametrize(
    ("name", "amount", "kind", "measure"),
    [
        ("Nitrile gloves", "100 each", Kind.SUNDRY, "count"),
        ("Round board 20 cm", "4 each", Kind.SURFACE, "count"),
        ("Canvas 30 x 40 x 1.8 cm", "2 each", Kind.SURFACE, "count"),
        ("Gloss varnish", "750 ml", Kind.FINISH, "volume"),
        ("Copper powder", "25 g", Kind.PAINT, "mass"),
        ("Tissue paper", "100 each", Kind.PACKAGING, "count"),
        ("Pouring medium", "1 l", Kind.MEDIUM, "volume"),
    ],
)
def test_kind_measure_and_size_come_from_the_name_and_the_amount(
    owner: User, name: str, amount: str, kind: Kind, measure: str
) -> None:
    as_user(owner).post(reverse(OPENING), sent({"new_name": name, "quantity": amount, "cost": "1.00"}))
    material = Material.objects.get()
    assert (material.name, material.kind, material.measure) == (name, kind, measure)
    assert bool(material.height) == (kind == Kind.SURFACE)


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ({"new_name": "Board", "new_kind": "surface", "quantity": "4 each"}, "new_name"),
        ({"new_name": "Kelp Green", "quantity": "4"}, "quantity"),
        ({"new_name": "", "quantity": "4 ml"}, "material"),
        ({"new_name": "Archived", "quantity": "4 ml"}, "new_name"),
    ],
)
def test_a_new_material_that_cannot_be_added_is_refused_at_its_field(
    owner: User, row: dict[str, str], field: str
) -> None:
    make_material(name="Archived", is_archived=True)
    response = as_user(owner).post(reverse(OPENING), sent(row | {"cost": "1.00"}))
    assert response.status_code == 422
    assert response.context["formset"].errors[0].keys() == {field}
    assert Material.objects.count() == 1
    assert not Posting.objects.exists()


def test_nothing_is_added_when_the_books_refuse_the_delivery(owner: User) -> None:
    row = {"new_name": "Kelp Green", "pack": "60 ml", "packs": "1", "price": "3.00"}
    data = sent(row, new_supplier="Harbour Colours", carriage="2.00", carriage_shared_by="mass")
    response = as_user(owner).post(reverse(DELIVERY), data)
    assert response.status_code == 422
    assert not Material.objects.exists()
    assert not Supplier.objects.exists()


def test_a_delivery_from_a_new_supplier_brings_new_materials(owner: User) -> None:
    board = make_surface()
    read = as_user(owner).post(
        reverse(DELIVERY), reading(f"{board.name} x2 = 9.00\nKelp Green 60 ml 3 @ 3.00\nPostage 4.95")
    )
    first, second = rows_shown(read)
    assert (first["material"], first["packs"], first["price"]) == (board.pk, 2, "9.00")
    assert (second["new_name"], second["packs"], second["price"]) == ("Kelp Green", 3, "9.00")
    assert [line.text for line in read.context["written"].carried] == ["Postage 4.95"]
    response = as_user(owner).post(reverse(DELIVERY), sent(first, second, new_supplier="Harbour Colours"))
    assert response.status_code == 302, text_of(response)
    delivery = Delivery.objects.get()
    assert delivery.supplier == Supplier.objects.get(name="Harbour Colours")
    assert [line.lot.material.name for line in delivery.lines.order_by("pk")] == [board.name, "Kelp Green"]


def test_a_helper_reads_lines_but_adds_no_material() -> None:
    paint, supplier = make_material(name="Kelp Green"), make_supplier()
    helper = make_helper(may_see_money=True)
    read = as_user(helper).post(reverse(DELIVERY), reading("Kelp Green 60 ml 3.00\nTide Grey 60 ml 3.00"))
    known, unknown = rows_shown(read)
    assert (known["material"], unknown["material"]) == (paint.pk, "")
    row = {"new_name": "Tide Grey", "pack": "60 ml", "packs": "1", "price": "3.00"}
    refused = as_user(helper).post(reverse(DELIVERY), sent(row, supplier=supplier.pk))
    assert refused.status_code == 422
    assert Material.objects.count() == 1
