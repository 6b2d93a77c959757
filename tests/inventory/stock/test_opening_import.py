"""Opening stock from a table: a lot a row, posted once."""

from dataclasses import replace

import pytest

from inventory.ledger.models import Lot, LotBalance, Posting
from inventory.ledger.reversals import reverse
from inventory.ledger.verification import check
from inventory.materials.models import Material
from inventory.stock.file_import import OPENING_STOCK
from studio.accounts.models import User
from studio.errors import InputError
from studio.imports.actions import save_all
from studio.imports.checking import RowState
from studio.imports.checking import check as check_rows
from studio.imports.views.files import table_file
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, filled_in, text_of
from tests.making import make_helper, make_material, make_owner, make_submission, money, units
from tests.programs import Program
from tests.studio.imports.making import checked, imported, opened, problems_of

pytestmark = pytest.mark.django_db
HEAD = "Colour,Left,Cost,Place,Date\n"


@pytest.fixture(autouse=True)
def paint() -> None:
    make_material(name="Ebb Blue")


def test_each_row_becomes_a_lot_on_its_day() -> None:
    table = HEAD + "Ebb Blue,350 ml,6.40,Window,01/06/2025\nebb blue,1/2 l,9,Loft,01/06/2025\n"
    done = imported("opening-stock", table)
    assert done.saved == 2
    assert sorted(LotBalance.objects.values_list("quantity", "money")) == [
        (units(350), money("6.40")), (units(500), money(9))
    ]  # fmt: skip
    assert {lot.place for lot in Lot.objects.all()} == {"Window", "Loft"}
    assert {posting.effective_on.isoformat() for posting in Posting.objects.all()} == {"2025-06-01"}
    assert check().is_clean


def test_two_bottles_that_are_alike_are_two_lots_and_the_table_twice_is_still_two() -> None:
    table = HEAD + "Ebb Blue,350 ml,6.40,,\n" * 2
    assert imported("opening-stock", table).saved == 2
    again = imported("opening-stock", table)
    assert (again.saved, again.there, Lot.objects.count()) == (0, 2, 2)
    assert {row.state for row in checked("opening-stock", table)} == {RowState.THERE}


def test_what_was_reversed_can_be_imported_again() -> None:
    table = HEAD + "Ebb Blue,350 ml,6.40,,\n"
    imported("opening-stock", table)
    reverse(posting=Posting.objects.get(), submission=make_submission(by=make_owner()))
    assert imported("opening-stock", table).saved == 1
    assert imported("opening-stock", table).there == 1


def test_the_cost_of_what_is_left_follows_from_the_full_pack() -> None:
    imported("opening-stock", "Colour,Left,Size,Paid each\nEbb Blue,100 ml,250 ml,5.00\n")
    assert LotBalance.objects.get().money == money(2)


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ("Tide,350 ml,6.40,,", "material"),
        ("Ebb Blue,350 furlongs,6.40,,", "quantity"),
        ("Ebb Blue,,6.40,,", "quantity"),
        ("Ebb Blue,350 ml,,,", "cost"),
        ("Ebb Blue,350 ml,much,,", "cost"),
        ("Ebb Blue,350 ml,6.40,,2999-01-01", "on"),
        ("Ebb Blue,350 ml,6.40,,31/02/2025", "on"),
    ],
)
def test_what_is_wrong_is_said_at_its_column(row: str, field: str) -> None:
    (found,) = checked("opening-stock", HEAD + row + "\n")
    assert field in {key for key, _text in problems_of(found)}


def test_a_german_table_says_how_its_thousands_were_read() -> None:
    studio = Studio.current()
    studio.locale = "de-DE"
    studio.save()
    table = "Farbe;Stand;Wert\nEbb Blue;1.000 ml;12,50\n"
    found = opened("opening-stock", table)
    assert any("1.000" in note for note in found.notes)
    (row,) = check_rows(found)
    assert (row.state, row.words["quantity"].replace("\xa0", " ")) == (RowState.NEW, "1 000 mL")
    assert imported("opening-stock", table).saved == 1
    assert LotBalance.objects.get().quantity == units(1000)


def test_where_points_are_decimals_too_a_thousand_is_asked_about() -> None:
    studio = Studio.current()
    studio.locale = "de-DE"
    studio.save()
    table = "Farbe;Stand;Wert\nEbb Blue;1.000 ml;12,50\nEbb Blue;7.5 ml;1\n"
    unclear, _wrong = checked("opening-stock", table)
    assert [field for field, _text in problems_of(unclear)] == ["quantity"]


def test_the_echo_of_an_amount_is_written_as_the_studio_writes_numbers() -> None:
    table = "Farbe;Stand;Größe;Preis\nEbb Blue;0,5 l;1,5 l;12,60\n"
    (row,) = checked("opening-stock", table)
    words = {key: text.replace("\xa0", " ") for key, text in row.words.items()}
    assert (words["quantity"], words["cost"]) == ("0.5 litre = 500 mL", "£4.20")
    assert (words["pack_size"], words["price"]) == ("1.5 litres = 1,500 mL", "£12.60")


@pytest.mark.parametrize("text", ["03/2026", "2026-3", "3.2026"])
def test_a_month_is_not_answered_with_another_year(text: str) -> None:
    (found,) = checked("opening-stock", HEAD + f"Ebb Blue,350 ml,6.40,,{text}\n")
    ((field, advice),) = problems_of(found)
    assert (field, "01/03/2026" in advice) == ("on", True)


def test_the_numbers_for_the_bottles_are_listed_once_they_are_saved(owner: User) -> None:
    client = as_user(owner)
    page = client.post(
        "/import/opening-stock/", {"text": HEAD.replace(",", "\t") + "Ebb Blue\t9 ml\t1\t\t\n"}
    )
    sent = filled_in(page, "carried") | {"do": "save"}
    saved = text_of(client.post("/import/opening-stock/", sent, follow=True))
    assert f"{Lot.objects.get().label} Ebb Blue" in saved
    assert "1 row saved." in saved


def test_a_list_of_numbers_that_is_cut_short_says_so(owner: User, monkeypatch: pytest.MonkeyPatch) -> None:
    client, address = as_user(owner), "/import/opening-stock/"
    for most, is_cut in ((2, False), (1, True)):
        monkeypatch.setattr("studio.imports.views.outcomes.MOST_LISTED", most)
        page = client.post(address, {"text": f"{HEAD}Ebb Blue,{most} ml,1,,\nEbb Blue,9{most} ml,1,,\n"})
        saved = client.post(address, filled_in(page, "carried") | {"do": "save"}, follow=True)
        assert len(saved.context["outcome"].made) == most
        assert ("These are the first" in text_of(saved)) == is_cut


def test_every_column_that_can_be_chosen_is_listed(owner: User) -> None:
    page = text_of(as_user(owner).get("/import/opening-stock/"))
    assert all(label in page for label in OPENING_STOCK.labels.values())


def test_only_workers_who_see_money_may_import_it(helper: User) -> None:
    assert as_user(helper).get("/import/opening-stock/").status_code == 403
    trusted = make_helper(may_see_money=True)
    assert as_user(trusted).get("/import/opening-stock/").status_code == 200


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_example_can_be_imported_once_its_materials_are_there(form: str) -> None:
    for name in ("Sail Loft White", "Lantern Amber"):
        make_material(name=name)
    make_material(name="Round board 20 cm", measure="count")
    studio = Studio.current()
    raw = table_file(OPENING_STOCK, OPENING_STOCK.example(studio), studio, name="x", form=form).content
    assert [row.located(OPENING_STOCK.labels) for row in checked("opening-stock", raw) if row.problems] == []


MIXED_SHELF = """Article;Left;Cost
Cobalt Blue;0,25 l;6,40
cobalt blue;100 ml;2,50
Canvas 20x20 cm;6;12,00
PVA glue;1 l;9,80
Gloss varnish;250 ml;8,00
Gloves;100;7,00
"""


def test_materials_that_are_new_are_guessed_shown_and_added_with_their_stock(owner: User) -> None:
    client, address = as_user(owner), "/import/opening-stock/"
    page = client.post(address, {"text": MIXED_SHELF})
    assert page.context["additions"] == 5
    assert "Add the 5 materials that are new" in text_of(page)
    shown = text_of(page).replace("\xa0", " ")
    assert all(
        guess in shown for guess in ("Paint · Volume (mL)", "Surface · 20 × 20 cm", "Sundry · Count (each)")
    )
    assert not Material.objects.filter(name="PVA glue").exists()
    assert (page.context["wrong"], page.context["new"]) == ([], 6)
    saved = client.post(address, filled_in(page, "carried") | {"do": "save"}, follow=True)
    assert "6 rows saved." in text_of(saved)
    kinds = dict(Material.objects.exclude(name="Ebb Blue").values_list("name", "kind"))
    assert kinds == {
        "Cobalt Blue": "paint", "Canvas 20x20 cm": "surface", "PVA glue": "medium", "Gloss varnish": "finish",
        "Gloves": "sundry",
    }  # fmt: skip
    assert LotBalance.objects.filter(lot__material__name="Cobalt Blue").count() == 2
    assert check().is_clean


def test_nothing_is_added_unseen_or_by_who_may_not_add_materials(owner: User) -> None:
    page = as_user(owner).post("/import/opening-stock/", {"text": MIXED_SHELF})
    declined = {key: text for key, text in filled_in(page, "carried").items() if key != "add_new"}
    page = as_user(owner).post("/import/opening-stock/", declined)
    assert (page.context["new"], len(page.context["wrong"])) == (0, 6)
    unseen = filled_in(page, "carried") | {"add_new": "1", "do": "save-good"}
    assert as_user(owner).post("/import/opening-stock/", unseen).status_code == 200
    helper = make_helper(may_see_money=True)
    page = as_user(helper).post("/import/opening-stock/", {"text": MIXED_SHELF, "add_new": "1"})
    assert (page.context["additions"], page.context["new"]) == (0, 0)
    assert Material.objects.count() == 1


def test_a_material_is_not_added_where_its_stock_cannot_be_posted(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_facts: object) -> None:
        raise InputError("The tide is too high.")

    monkeypatch.setattr("inventory.stock.file_import.open_stock", refuse)
    table = replace(opened("opening-stock", MIXED_SHELF), may_add=True, add_new=True)
    done = save_all(table, submission=make_submission(by=make_owner()), good_only=True)
    assert (done.saved, len(done.wrong), Material.objects.count()) == (0, 6, 1)


def test_the_kind_that_a_table_gives_counts_and_a_surface_needs_its_size() -> None:
    table = "Article;Type;Left;Cost\nHarbour Mist;Medium;1 l;3\nBoard;Surface;4;3\nSea;Glitter;1 l;3\n"
    rows = check_rows(replace(opened("opening-stock", table), may_add=True, add_new=True))
    assert [row.state for row in rows] == [RowState.NEW, RowState.WRONG, RowState.WRONG]
    assert rows[0].words["kind"] == "Medium · Volume (mL)"


def test_programs_can_have_new_materials_added_too(owner: User) -> None:
    body = {"kind": "opening-stock", "text": MIXED_SHELF, "rows_to_save": "all"}
    assert Program(owner).send("imports/", body, status=200)["saved"] == 0
    assert Program(owner).send("imports/", body | {"add_new": True}, status=200)["saved"] == 6
    assert Material.objects.get(name="PVA glue").kind == "medium"
