"""Opening stock from a table: a lot a row, posted once."""

import pytest

from inventory.ledger.models import Lot, LotBalance, Posting
from inventory.ledger.reversals import reverse
from inventory.ledger.verification import check
from inventory.stock.file_import import OPENING_STOCK
from studio.accounts.models import User
from studio.imports.checking import RowState
from studio.imports.views.files import table_file
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user
from tests.making import make_helper, make_material, make_owner, make_submission, money, units
from tests.studio.imports.making import checked, imported, problems_of

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
