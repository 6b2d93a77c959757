"""Opening stock counted in packs: two and a half bottles of 250 ml, at the price of one."""

from dataclasses import replace

import pytest

from inventory.ledger.models import LotBalance
from inventory.materials.models import Material
from studio.accounts.models import User
from studio.imports.checking import RowState
from studio.imports.checking import check as check_rows
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, filled_in, text_of
from tests.making import make_material, money, units
from tests.programs import Program
from tests.studio.imports.making import checked, imported, opened, problems_of

pytestmark = pytest.mark.django_db
HEAD = "Colour,Pack size,Pack price,Packs left\n"


@pytest.fixture(autouse=True)
def paint() -> None:
    make_material(name="Ebb Blue")


@pytest.mark.parametrize(
    ("size", "price", "left", "quantity", "cost"),
    [
        ("250 ml", "16.32", "1", 250, "16.32"),
        ("250 ml", "10.65", "0.5", 125, "5.33"),  # 5.325, half up
        ("2 x 500 ml", "12.68", "1", 1000, "12.68"),
        ("3 x 250 ml", "19.78", "1.5", 1125, "29.67"),
        ("1 l", "15.75", "½", 500, "7.88"),
        ("1 l", "15.75", "1/2", 500, "7.88"),
        ("120 ml", "9", "2 bottles", 240, "18"),
    ],
)
def test_packs_left_times_pack_size_and_price(
    size: str, price: str, left: str, quantity: int, cost: str
) -> None:
    assert imported("opening-stock", f"{HEAD}Ebb Blue,{size},{price},{left}\n").saved == 1
    balance = LotBalance.objects.get()
    assert (balance.quantity, balance.money) == (units(quantity), money(cost))


@pytest.mark.parametrize(
    "heading",
    [
        "Flaschen",
        "bottles",
        "Stück",
        "packs",
        "noch da (Flaschen)",
        "Left (bottles)",
        "bottles left",
        "Bestand Stk",
    ],
)
def test_a_heading_that_counts_bottles_means_packs_left(heading: str) -> None:
    table = opened("opening-stock", f"Farbe,Packung,Preis,{heading}\nEbb Blue,250 ml,5,2\n")
    assert table.headings.keys == ("material", "pack_size", "price", "packs")
    assert table.missing == []


def test_small_bare_numbers_beside_a_pack_size_are_packs_and_amounts_are_not() -> None:
    packs = opened("opening-stock", "Colour,Size,Price,Left\nEbb Blue,250 ml,5,2\nEbb Blue,1 l,5,0.5\n")
    assert packs.headings.keys[3] == "packs"
    for left in ("350", "100 ml"):
        amount = opened(
            "opening-stock", f"Colour,Size,Price,Left\nEbb Blue,500 ml,5,2\nEbb Blue,500 ml,5,{left}\n"
        )
        assert amount.headings.keys[3] == "quantity"
    millilitres = opened("opening-stock", "Colour,Size,Price,Left (ml)\nEbb Blue,250 ml,5,90\n")
    assert millilitres.headings.keys[3] == "quantity"


def test_an_amount_in_bottles_is_counted_in_packs_too() -> None:
    imported(
        "opening-stock", "Colour,Size,Price,Left\nEbb Blue,250 ml,5,2 bottles\nEbb Blue,250 ml,5,90 ml\n"
    )
    assert sorted(LotBalance.objects.values_list("quantity", flat=True)) == [units(90), units(500)]


def test_what_is_counted_itself_is_in_packs_of_so_many() -> None:
    make_material(name="Round board 20 cm", measure="count")
    imported("opening-stock", f"{HEAD}Round board 20 cm,5 pcs,24.50,2\nRound board 20 cm,,3.20,4\n")
    assert sorted(LotBalance.objects.values_list("quantity", "money")) == [
        (units(4), money("12.80")), (units(10), money(49))
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ("Ebb Blue,,5,2", "pack_size"),
        ("Ebb Blue,250 ml,5,many", "packs"),
        ("Ebb Blue,250 ml,5,0", "packs"),
        ("Ebb Blue,250 ml,5,2 ml", "packs"),
        ("Ebb Blue,250 ml,,2", "cost"),
        ("Ebb Blue,250 ml,5,", "quantity"),
    ],
)
def test_what_is_wrong_is_said_at_its_column(row: str, field: str) -> None:
    (found,) = checked("opening-stock", f"{HEAD}{row}\n")
    assert field in {key for key, _text in problems_of(found)}


def test_a_new_material_is_measured_as_its_pack_and_keeps_its_maker() -> None:
    table = (
        "Was;Hersteller / Laden;Packung;Preis Packg. €;noch da (Flaschen);gekauft\n"
        "Sail White;Sail Loft;2 x 500 ml;12,68;1;12.3.26\n"
        "Glue;;1 kg;8,49;0,5;\n"
        "Leinwand 30x40;;5 Stk;24,50;2;\n"
    )
    found = opened("opening-stock", table)
    assert found.headings.keys == ("material", "maker", "pack_size", "price", "packs", "")
    rows = check_rows(replace(found, may_add=True, add_new=True))
    assert [row.state for row in rows] == [RowState.NEW] * 3
    assert [row.words["quantity"].replace("\xa0", " ") for row in rows] == ["1,000 mL", "500 g", "10"]
    assert [row.words["cost"] for row in rows] == ["£12.68", "£4.25", "£49.00"]


def test_new_materials_are_counted_as_new_and_offered_beside_the_count(owner: User) -> None:
    client, address = as_user(owner), "/import/opening-stock/"
    table = (
        f"{HEAD.replace('Colour', 'Colour,Maker')}Sail White,Sail Loft,250 ml,4,0.5\nEbb Blue,,250 ml,4,1\n"
    )
    page = client.post(address, {"text": table})
    assert (page.context["new"], page.context["wrong"]) == (2, [])
    words = text_of(page)
    assert words.index("2 new") < words.index("Add the 1 material that is new") < words.index("Columns")
    sent = filled_in(page, "carried")
    without = client.post(
        address, {key: text for key, text in sent.items() if key != "add_new"} | {"do": "save"}
    )
    assert (without.context["new"], len(without.context["wrong"])) == (1, 1)
    client.post(address, sent | {"do": "save"})
    assert Material.objects.get(name="Sail White").maker == "Sail Loft"
    assert LotBalance.objects.count() == 2


def test_programs_may_count_packs_too(owner: User) -> None:
    body = {"kind": "opening-stock", "text": f"{HEAD}Ebb Blue,250 ml,10.65,0.5\n", "rows_to_save": "all"}
    assert Program(owner).send("imports/", body, status=200)["saved"] == 1
    assert LotBalance.objects.get().money == money("5.33")


def test_a_german_list_of_bottles_is_read_with_its_commas() -> None:
    studio = Studio.current()
    studio.locale = "de-DE"
    studio.save()
    imported("opening-stock", "Farbe;Packung;Preis;Flaschen\nEbb Blue;3 x 250 ml;19,78;1,5\n")
    balance = LotBalance.objects.get()
    assert (balance.quantity, balance.money) == (units(1125), money("29.67"))
