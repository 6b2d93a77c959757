"""Materials from a table, with packs and suppliers."""

import random

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.materials.file_import.kind import MATERIALS, recorded
from inventory.materials.models import Kind, Material, MeasureChoice, Supplier, Supply
from studio.accounts.models import User
from studio.imports.checking import RowState
from studio.imports.models import RememberedHeadings
from studio.imports.views.files import table_file
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user
from tests.making import make_material, make_supplier, money, units
from tests.studio.imports.making import book, checked, imported, opened, problems_of

pytestmark = pytest.mark.django_db
ONE = "Material,Kind,Supplier,Pack size,Pack price\nEbb Blue,paint,Quayside,250 ml,4.50\n"


def test_a_row_brings_a_material_its_supplier_and_a_pack() -> None:
    assert imported("materials", ONE).saved == 1
    pack = Supply.objects.get()
    assert (pack.material.name, pack.material.kind, pack.material.measure) == ("Ebb Blue", "paint", "volume")
    assert (pack.supplier.name, pack.supplier.currency) == ("Quayside", "GBP")
    assert (pack.pack_size, pack.price) == (units(250), money("4.50"))


def test_the_same_table_twice_adds_nothing() -> None:
    imported("materials", ONE)
    again = imported("materials", ONE)
    assert (again.saved, again.there) == (0, 1)
    assert (Material.objects.count(), Supplier.objects.count(), Supply.objects.count()) == (1, 1, 1)


def test_looking_at_a_table_writes_nothing() -> None:
    (row,) = checked("materials", ONE)
    assert row.state is RowState.NEW
    assert row.words["price"] == "£4.50"
    assert not Material.objects.exists()


def test_a_table_changes_nothing_that_is_recorded() -> None:
    imported("materials", ONE)
    (row,) = checked("materials", ONE.replace("paint", "medium").replace("4.50", "5.00"))
    assert {field for field, _text in problems_of(row)} == {"kind", "price"}
    assert imported("materials", ONE.replace("4.50", "5.00")).saved == 0
    assert Supply.objects.get().price == money("4.50")


def test_everything_wrong_with_a_row_is_said_with_its_column() -> None:
    (row,) = checked(
        "materials",
        "Material,Kind,Density,Supplier,Pack size,Pack price,Barcode,Shelf life\n"
        ",glitter,heavy,Quayside,250 furlongs,free,123,soon\n",
    )
    assert row.state is RowState.WRONG
    assert {field for field, _text in problems_of(row)} >= {"name", "kind", "density", "price", "keeps_days"}


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("Material\nEbb\n", "measure"),
        ("Material,Kind\nEbb,glitter\n", "kind"),
        ("Material,Kind\nEbb,paint\n", "measure"),
        ("Material,Kind,Pack size,Pack price\nEbb,paint,250 ml,3\n", "supplier"),
        ("Material,Kind,Supplier,Pack size\nEbb,paint,Quayside,250 ml\n", "price"),
        ("Material,Kind,Supplier,Pack price,Measured in\nEbb,paint,Quayside,3,volume\n", "pack_size"),
        ("Material,Kind,Measured in,Swatch\nEbb,paint,volume,blue\n", "colour"),
        ("Material,Kind,Measured in\nBoard,surface,count\n", "size"),
        ("Material,Kind,Measured in,Density\nEbb,paint,volume,99\n", "density"),
    ],
)
def test_what_is_missing_or_nonsense_is_said_at_its_column(text: str, field: str) -> None:
    (row,) = checked("materials", text)
    assert field in {key for key, _text in problems_of(row)}


def test_a_bad_row_stops_all_of_its_part_unless_only_the_good_ones_are_wanted() -> None:
    table = ONE + "Tide,glitter,Quayside,250 ml,3\nFoam,paint,Quayside,250 ml,3\n"
    refused = imported("materials", table)
    assert (refused.saved, len(refused.wrong), Material.objects.count()) == (0, 1, 0)
    assert imported("materials", table, good_only=True).saved == 2
    assert set(Material.objects.values_list("name", flat=True)) == {"Ebb Blue", "Foam"}


def test_rows_know_of_the_rows_above_them() -> None:
    table = ONE + "Ebb Blue,,Quayside,1 l,14\nebb  BLUE,,quayside,1 l,14\n"
    assert [row.state for row in checked("materials", table)] == [RowState.NEW, RowState.NEW, RowState.THERE]
    assert (imported("materials", table).saved, Supply.objects.count()) == (2, 2)


def test_a_unit_may_stand_in_the_heading_or_beside_the_figure() -> None:
    imported("materials", "Material,Kind,Supplier,Pack size (l),Price\nEbb,paint,Quayside,0.5,3\n")
    imported(
        "materials", 'Material,Kind,Supplier,Pack size,"Pack size, unit",Price\nTide,paint,Quayside,2,l,3\n'
    )
    assert sorted(Supply.objects.values_list("pack_size", flat=True)) == [units(500), units(2000)]


def test_a_new_supplier_has_the_currency_of_its_row_or_of_the_heading() -> None:
    imported("materials", "Material,Kind,Supplier,Pack size,Price (EUR)\nEbb,paint,Kontor,250 ml,3\n")
    imported(
        "materials", "Material,Kind,Supplier,Pack size,Price,Currency\nTide,paint,Depot,250 ml,300,JPY\n"
    )
    assert dict(Supplier.objects.values_list("name", "currency")) == {"Kontor": "EUR", "Depot": "JPY"}


def test_a_surface_has_its_size() -> None:
    imported("materials", "Material,Surface size\nRound board,20 cm round x 1.2 cm\n")
    board = Material.objects.get()
    assert (board.kind, board.measure, board.is_round, board.depth) == ("surface", "count", True, 1_200)


def test_what_headings_meant_is_remembered() -> None:
    table = opened("materials", "Wot,Kind,Measured in\nEbb,paint,volume\n")
    assert table.missing
    RememberedHeadings.objects.create(kind="materials", meant={"wot": "name"})
    assert not opened("materials", "Wot,Kind,Measured in\nEbb,paint,volume\n").missing
    imported("materials", "Wot,Kind,Measured in\nEbb,paint,volume\n")
    assert RememberedHeadings.of("materials") == {"wot": "name", "kind": "kind", "measured in": "measure"}


def messy() -> bytes:
    """Sixty bottles as somebody kept them: a title, blank lines, decimal commas, words for amounts, a total."""
    shades = ["Ebb", "Foam", "Kelp", "Rope", "Tar", "Lantern", "Slate", "Gull", "Rust", "Net"]
    draw = random.Random(60)
    head: list[object] = ["", "Colour", "size", "paid each (£)", "shop", "hm?"]
    rows: list[list[object]] = [["Paint cupboard, net loft"], [], head]
    for number in range(60):
        if number % 12 == 5:
            rows.append([])
        size = draw.choice(["250 ml", "250ML", " 0,5 l", "1/2 l", "8 fl oz"])
        name = f"{shades[number % 10]} {number // 10 + 1}" + (" " if number % 7 else "")
        paid = f"{draw.randint(3, 19)},{draw.randint(10, 99)}"
        cells: list[object] = ["x" if number % 3 else "", name, size, paid, "Quayside Colours", "?"]
        rows.append(cells)
    rows += [[], ["", "Total", "", "612,40"]]
    return book(rows)


def test_a_messy_sheet_of_sixty_bottles_comes_in_as_paint() -> None:
    rows = checked("materials", messy())
    assert {row.state for row in rows} == {RowState.NEW}
    assert {row.words["kind"] for row in rows} == {"Paint"}
    done = imported("materials", messy())
    assert (done.saved, done.wrong) == (60, [])
    assert Supply.objects.count() == 60
    # The imperial fluid ounce is 28.413 062 5 mL (Weights and Measures Act 1985, schedule 1).
    assert set(Supply.objects.values_list("pack_size", flat=True)) == {
        units(250),
        units(500),
        units("227.305"),
    }
    assert set(Supplier.objects.values_list("name", flat=True)) == {"Quayside Colours"}
    assert imported("materials", messy()).there == 60


NAMES = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S"]), min_size=1, max_size=30)


class TestWhatIsRecordedImportsAgain(TestCase):
    @settings(max_examples=15, deadline=None)
    @given(st.data())
    def test_as_the_same_rows(self, data: st.DataObject) -> None:
        self._something(data)
        studio = Studio.current()
        for form in ("csv", "xlsx"):
            raw = table_file(MATERIALS, recorded(studio), studio, name="materials", form=form).content
            before = (Material.objects.count(), Supply.objects.count())
            rows = checked("materials", raw)
            assert {row.state for row in rows} == {RowState.THERE}, [
                row.located(MATERIALS.labels) for row in rows
            ]
            assert imported("materials", raw).saved == 0
            assert (Material.objects.count(), Supply.objects.count()) == before

    def _something(self, data: st.DataObject) -> None:
        currency = data.draw(st.sampled_from(["GBP", "EUR", "JPY"]))
        supplier = make_supplier(name=f"S {data.draw(NAMES)}"[:100], currency=currency)
        whole = 1 if supplier.currency == "JPY" else 100
        for number in range(data.draw(st.integers(1, 4))):
            measure = data.draw(st.sampled_from(MeasureChoice.values))
            material = make_material(
                name=f"{data.draw(NAMES)} {number}",
                kind=Kind.PAINT,
                measure=measure,
                density=data.draw(st.none() | st.integers(100_000, 25_000_000)),
                water_share=data.draw(st.integers(0, 10_000)) * 100,
                reorder_level=data.draw(st.none() | st.integers(0, 10**9)),
                maker=data.draw(NAMES),
            )
            if data.draw(st.booleans()):
                Supply.objects.create(
                    supplier=supplier,
                    material=material,
                    pack_size=data.draw(st.integers(1, 10**9)),
                    price=data.draw(st.integers(0, 10**6)) * 1_000_000 // whole,
                    minimum_packs=data.draw(st.integers(1, 30)),
                    is_preferred=data.draw(st.booleans()),
                )


def test_the_example_of_the_studio_can_be_imported() -> None:
    studio = Studio.current()
    for form in ("csv", "xlsx"):
        raw = table_file(MATERIALS, MATERIALS.example(studio), studio, name="x", form=form).content
        rows = checked("materials", raw)
        assert {row.state for row in rows} == {RowState.NEW}, [row.located(MATERIALS.labels) for row in rows]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_list_of_materials_imports_again_too(owner: User, form: str) -> None:
    make_material(name="=Ebb", kind=Kind.PAINT, measure="volume", reorder_level=units("512.5"))
    answer = as_user(owner).get(reverse("inventory:materials"), {"export": form})
    (row,) = checked("materials", answer.content)
    assert row.state is RowState.THERE, row.located(MATERIALS.labels)


@pytest.mark.parametrize(
    ("name", "pack", "kind", "measure"),
    [
        ("Slack Tide Black", "250 ml", "paint", "volume"), ("PVA glue", "1 l", "medium", "volume"),
        ("Gloss varnish", "0.5 l", "finish", "volume"), ("Canvas 20x20 cm", "1 each", "surface", "count"),
        ("Cradled board 25 x 25 cm", "", "surface", "count"), ("Nitrile gloves", "100", "sundry", "count"),
        ("Klarlack", "250 ml", "finish", "volume"), ("Keilrahmen 20 x 30 cm", "", "surface", "count"),
    ],
)  # fmt: skip
def test_kind_and_measure_are_guessed_where_the_columns_are_missing(
    name: str, pack: str, kind: str, measure: str
) -> None:
    assert imported("materials", f"Material,Pack size\n{name},{pack}\n").saved == 1
    made = Material.objects.get()
    assert (made.kind, made.measure) == (kind, measure)
    assert bool(made.height) == (kind == "surface")


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("Varnish", "finish"), ("Firnis", "finish"), ("Canvas", "surface"), ("Leinwand", "surface"),
        ("Board", "surface"), ("Glue", "medium"), ("Kleber", "medium"), ("Leim", "medium"), ("Gloves", "sundry"),
        ("Handschuhe", "sundry"), ("Acrylics", "paint"), ("Farbe", "paint"), ("Lack", "finish"),
    ],
)  # fmt: skip
def test_usual_words_for_kinds_are_known(word: str, kind: str) -> None:
    (row,) = checked("materials", f"Material,Kind,Measured in\nEbb 20 x 20 cm,{word},count\n")
    assert (row.state, row.words["kind"]) == (RowState.NEW, str(Kind(kind).label))


def test_what_is_not_recorded_of_a_material_is_filled_in_and_the_rest_never_changed() -> None:
    make_material(name="Ebb Blue", kind=Kind.PAINT, measure="volume", maker="", colour="#112233")
    table = "Material,Maker,Swatch\nEbb Blue,Sail Loft,{}\n"
    assert [field for field, _text in problems_of(checked("materials", table.format("#445566"))[0])] == [
        "colour"
    ]
    assert imported("materials", table.format("#112233")).saved == 1
    assert (Material.objects.get().maker, Material.objects.get().colour) == ("Sail Loft", "#112233")
    assert imported("materials", table.format("#112233")).there == 1


def test_every_figure_is_shown_as_the_studio_writes_it() -> None:
    table = "Material;Density;Surface size;Pack size;Share of water\nEbb;1,15;;0,5 l;12,5 %\nBoard;;20 x 30,5 cm;;\n"
    paint, board = checked("materials", table)
    shown = " ".join([*paint.words.values(), board.words["size"]]).replace("\xa0", " ")
    assert all(text in shown for text in ("1.15", "0.5 litre = 500 mL", "12.5%", "30.5")), shown
    assert "," not in shown
