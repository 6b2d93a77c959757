"""A delivery from a file: shown line by line, then posted, with every problem named."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Entry, Lot, Place, Posting
from inventory.materials.models import Material, Supplier
from inventory.purchasing.models import Delivery
from studio.imports.reading import MOST_BYTES
from studio.preferences.models import Studio
from tests.days import june
from tests.inventory.browsing import KEY, text_of
from tests.making import make_material, make_supplier, make_surface, money, take_back, units
from tests.studio.imports.making import book, with_part

pytestmark = pytest.mark.django_db


GOOD = """material,quantity,packs,price,best before,place,batch
Sail Loft White,500 ml,2,19.00,2028-09-30,Window shelf,SW-204
lantern amber,8 fl oz,,9.40,,,
"""


def upload(text: str, name: str = "lines.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text.encode(), content_type="text/csv")


def head(supplier: Supplier, **more: Any) -> dict[str, Any]:
    return {
        "key": KEY,
        "supplier": supplier.pk,
        "received_on": "2025-06-10",
        "carriage_shared_by": "value",
    } | more


@pytest.fixture
def known() -> list[Material]:
    return [make_material(name="Sail Loft White"), make_material(name="Lantern Amber")]


def post_file(client: Client, supplier: Supplier, text: str = GOOD) -> tuple[Any, Any]:
    """Show the file, then post it."""
    address = reverse("inventory:delivery-file")
    preview = client.post(address, head(supplier, file=upload(text)))
    carried = {"carried": preview.context["form"].to_carry, "seen": preview.context["seen"]}
    return preview, client.post(address, head(supplier, **carried))


def test_a_file_is_shown_line_by_line_and_then_posted(signed: Client, known: list[Material]) -> None:
    supplier = make_supplier()
    preview, posted = post_file(signed, supplier)
    words = text_of(preview)
    assert "2 packs of 500 mL 1,000 mL 30 Sept 2028 Window shelf, SW-204 £19.00" in words
    assert (
        "8 imperial fluid ounces = 227.305 mL" in words
    )  # 28.4130625 mL each (Units of Measurement Regulations 1995)
    assert "Total £28.40" in words
    made = Delivery.objects.get()
    assert posted["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert sorted(made.lines.values_list("quantity", "price")) == [
        (units("227.305"), money("9.40")),
        (units(1000), money(19)),
    ]


def test_showing_a_file_posts_nothing(signed: Client, known: list[Material]) -> None:
    signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(GOOD)))
    assert not Posting.objects.exists()
    assert not Entry.objects.exists()


def test_every_problem_of_a_file_is_named_with_its_line(signed: Client, known: list[Material]) -> None:
    bad = "material,quantity,price\nSail Loft White,lots,1\nUnknown,5 ml,1\nLantern Amber,5 ml,free\n"
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(bad)))
    words = text_of(response)
    assert response.status_code == 422
    assert "Line 2, Pack size:" in words
    assert "Line 3, Material: “Unknown” is not one of your materials." in words
    assert "Line 4, Line price:" in words
    assert not response.context["is_ready"]
    assert not Posting.objects.exists()


def test_the_same_file_twice_posts_nothing_new_unless_it_was_taken_back(
    signed: Client, known: list[Material]
) -> None:
    supplier = make_supplier()
    post_file(signed, supplier)
    _, again = post_file(signed, supplier)
    made = Delivery.objects.get()
    assert again["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert "Nothing new was saved" in text_of(signed.get(again["Location"]))
    take_back(made.posting)
    post_file(signed, supplier)
    assert Delivery.objects.count() == 2


def test_a_file_changed_after_it_was_shown_is_shown_again(signed: Client, known: list[Material]) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    seen = signed.post(address, head(supplier, file=upload(GOOD))).context["seen"]
    other = GOOD.replace("19.00", "18.00")
    response = signed.post(address, head(supplier, file=upload(other), seen=seen))
    assert response.status_code == 200
    assert not Posting.objects.exists()


def test_the_file_is_kept_when_the_head_has_to_be_put_right(signed: Client, known: list[Material]) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    response = signed.post(address, head(supplier, file=upload(GOOD), carriage="dear"))
    assert response.status_code == 422
    assert "The file you chose is kept" in text_of(response)
    again = signed.post(address, head(supplier, carried=response.context["form"].to_carry, carriage="2"))
    assert again.context["is_ready"]
    assert not Posting.objects.exists()


def test_it_asks_for_a_file_that_was_not_chosen(signed: Client) -> None:
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier()))
    assert "Choose a file, or paste the cells" in text_of(response)
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), carried="%%%"))
    assert "Choose a file, or paste the cells" in text_of(response)


def test_a_file_that_is_too_large_is_refused(signed: Client, known: list[Material]) -> None:
    response = signed.post(
        reverse("inventory:delivery-file"), head(make_supplier(), file=upload(GOOD + " " * MOST_BYTES))
    )
    assert response.status_code == 422
    assert "larger than 3 MB" in text_of(response)


@pytest.mark.parametrize("rubbish", ["", "\x00\x01", "a,b\n1,2\n", '"'])
def test_rubbish_is_refused_without_a_failure(signed: Client, rubbish: str) -> None:
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(rubbish)))
    assert response.status_code == 422


def test_a_file_that_is_not_text_is_refused_in_words(signed: Client) -> None:
    photo = SimpleUploadedFile("lines.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=photo))
    assert "not a table" in text_of(response)


FROM_A_SHOP = """Order 5512;;;;
;;;;
Shade;Inhalt;Menge;Einzelpreis;Shelf
Sail Loft White;0,5 l;2;9,50;Window
Lantern Amber;250 ml;1;9,40;
Total;;;28,40;
"""


def test_columns_are_chosen_once_and_remembered(signed: Client, known: list[Material]) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    shop = SimpleUploadedFile("lines.csv", FROM_A_SHOP.encode("cp1252"))
    first = signed.post(address, head(supplier, file=shop))
    assert (first.status_code, first.context["is_ready"]) == (422, False)
    assert first.context["form"].left_out == ["Shade"]
    sent = {"carried": first.context["form"].to_carry, "column-0": "material"}
    sent |= {
        f"column-{place}": key for place, key in enumerate(("pack_size", "packs", "price_each", "place"), 1)
    }
    second = signed.post(address, head(supplier, **sent))
    assert second.context["is_ready"]
    assert not Posting.objects.exists()
    signed.post(address, head(supplier, **sent, seen=second.context["seen"]))
    made = Delivery.objects.get()
    assert sorted(made.lines.values_list("quantity", "price", "lot__place")) == [
        (units(250), money("9.40"), ""),
        (units(1000), money(19), "Window"),
    ]
    later = signed.post(address, head(supplier, text=FROM_A_SHOP.replace("9,40", "9,90")))
    assert later.context["is_ready"]
    assert not later.context["form"]["text"].value()  # carried on: sent again it would be another table


def test_a_column_chosen_after_the_lines_were_seen_shows_them_again(
    signed: Client, known: list[Material]
) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    form = signed.post(address, head(supplier, file=upload(GOOD))).context["form"]
    sent = {"carried": form.to_carry, "seen": form.what_was_seen, "column-2": "", "column-3": "price_each"}
    again = signed.post(address, head(supplier, **sent))
    assert (again.status_code, again.context["is_ready"]) == (200, True)
    assert not Posting.objects.exists()


def test_a_workbook_is_received_like_any_file(signed: Client, known: list[Material]) -> None:
    names = ["material", "quantity", "packs", "price", "best before"]
    rows: list[list[Any]] = [names, [], ["Sail Loft White", "500 ml", 2, 19.5, june(30)]]
    address, supplier = reverse("inventory:delivery-file"), make_supplier()
    preview = signed.post(address, head(supplier, file=SimpleUploadedFile("lines.xlsx", book(rows))))
    assert "£19.50" in text_of(preview)
    carried = {"carried": preview.context["form"].to_carry, "seen": preview.context["seen"]}
    signed.post(address, head(supplier, **carried))
    assert Delivery.objects.get().lines.get().lot.best_before == june(30)
    signed.post(address, head(supplier, **carried))
    assert Delivery.objects.count() == 1


def test_a_hostile_workbook_is_refused(signed: Client) -> None:
    with_macros = with_part(book([["material"]]), "xl/vbaProject.bin", b"x")
    upload = SimpleUploadedFile("lines.xlsx", with_macros)
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload))
    assert response.status_code == 422
    assert "macros" in text_of(response)


def test_the_owner_may_let_a_file_add_materials(signed: Client) -> None:
    text = "material,quantity,price,kind\nTidewrack Green,250 ml,8.00,paint\n"
    address, supplier = reverse("inventory:delivery-file"), make_supplier()
    preview = signed.post(address, head(supplier, file=upload(text), create_materials="on"))
    assert not Material.objects.filter(name="Tidewrack Green").exists()
    carried = {"carried": preview.context["form"].to_carry, "seen": preview.context["seen"]}
    signed.post(address, head(supplier, create_materials="on", **carried))
    assert Lot.objects.get().material.name == "Tidewrack Green"


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_the_example_file_reads_back_without_a_problem(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    for name in ("Sail Loft White", "Lantern Amber"):
        make_material(name=name)
    make_surface(name="Canvas 30 x 30 cm")
    example = signed.get(reverse("inventory:delivery-file-example"))
    assert "attachment" in example["Content-Disposition"]
    preview, posted = post_file(signed, make_supplier(), example.content.decode())
    assert not preview.context["form"].errors
    assert posted.status_code == 302
    assert Delivery.objects.get().lines.count() == 3
    assert Entry.objects.filter(place=Place.LOT).count() == 3
