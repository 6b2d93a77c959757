"""Pieces and past sales from a table."""

import pytest

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.models import Sale
from inventory.ledger.verification import check
from inventory.sessions.models import Pour
from studio.imports.checking import RowState
from tests.costing.stories import make_channel
from tests.days import TODAY
from tests.making import make_pour, money
from tests.studio.imports.making import checked, imported, opened, problems_of

pytestmark = pytest.mark.django_db
HEAD = "Title,Number,Poured on,Surface,Price,Status,Sold on,Sold for,Sales channel\n"


@pytest.fixture(autouse=True)
def pour() -> Pour:
    make_channel(name="Lantern Quay")
    return make_pour(outcome=Pour.Outcome.GOOD)


def table(pour: Pour, *, sold: bool = True, title: str = "Low water") -> str:
    sale = f"{TODAY},45.00,lantern quay" if sold else ",,"
    return f"{HEAD}{title},{pour.label},,,48.00,,{sale}\n"


def test_a_row_is_a_piece_of_a_pour_and_its_sale(pour: Pour) -> None:
    (row,) = checked("pieces", table(pour))
    assert (row.state, Piece.objects.count()) == (RowState.NEW, 0)
    assert imported("pieces", table(pour)).saved == 1
    piece = Piece.objects.get()
    assert (piece.title, piece.state, piece.price) == ("Low water", State.SOLD, money(48))
    sale = Sale.objects.get()
    assert (sale.sold_on, sale.channel.name) == (TODAY, "Lantern Quay")
    assert check().is_clean


def test_the_same_table_twice_adds_nothing(pour: Pour) -> None:
    imported("pieces", table(pour))
    assert imported("pieces", table(pour)).there == 1
    assert (Piece.objects.count(), Sale.objects.count()) == (1, 1)


def test_a_piece_that_there_is_can_be_sold_by_a_later_table(pour: Pour) -> None:
    imported("pieces", table(pour, sold=False))
    assert Piece.objects.get().state == State.FOR_SALE
    assert imported("pieces", table(pour)).saved == 1
    assert (Piece.objects.get().state, Sale.objects.count()) == (State.SOLD, 1)


def test_without_a_number_the_first_free_pour_of_its_day_and_surface_is_taken(pour: Pour) -> None:
    row = f"Low water,,{pour.session.held_on},{pour.surface.name},,dry,,,\n"
    assert imported("pieces", HEAD + row).saved == 1
    assert Piece.objects.get().state == State.DRY
    (again,) = checked("pieces", HEAD + row.replace("Low water", "High water"))
    assert [field for field, _text in problems_of(again)] == ["poured_on"]


@pytest.mark.parametrize(
    ("cells", "field"),
    [
        (",P0001,,,,,,,", "title"), ("A,P9999,,,,,,,", "pour"), ("A,,,,,,,,", "pour"), ("A,P0001,,,free,,,,", "price"),
        ("A,P0001,,,,framed,,,", "state"), ("A,P0001,,,,sold,,,", "sold_on"),
        ("A,P0001,,,,,2999-01-01,3,Lantern Quay", "sold_on"),
        ("A,P0001,,,,,2025-06-10,,Lantern Quay", "sold_for"), ("A,P0001,,,,,2025-06-10,3,Moon", "channel"),
        ("A,P0001,,,,,2025-06-10,3,", "channel"), ("A,P0001,,,,,,3,", "sold_on"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_column(cells: str, field: str) -> None:
    (row,) = checked("pieces", f"{HEAD}{cells}\n")
    assert field in {key for key, _text in problems_of(row)}


def test_a_title_stands_once_in_a_table(pour: Pour) -> None:
    (_first, second) = checked("pieces", table(pour) + table(pour).splitlines()[1] + "x\n")
    assert "title" in {key for key, _text in problems_of(second)}


def test_a_heading_that_asks_whether_it_was_sold_is_a_status_unless_days_stand_below() -> None:
    asked = opened("pieces", "Titel,verkauft?\nA,ja\nB,Galerie\nC,\n")
    assert asked.headings.keys == ("title", "state")
    dated = opened("pieces", "Titel,verkauft?\nA,12.3.2025\nB,\n")
    assert dated.headings.keys == ("title", "sold_on")


@pytest.mark.parametrize("word", ["zu verkaufen", "for sale", "nein", ""])
def test_words_of_a_status_are_understood(pour: Pour, word: str) -> None:
    assert imported("pieces", f"Title,Number,Price,Sold?\nLow water,{pour.label},48,{word}\n").saved == 1
    assert Piece.objects.get().state == State.FOR_SALE


def test_an_unknown_status_is_told_with_what_is_allowed_and_a_sold_one_needs_its_day(pour: Pour) -> None:
    head = "Title,Number,Price,Sold?\n"
    (unknown,) = checked("pieces", f"{head}Low water,{pour.label},48,Galerie\n")
    ((field, words),) = problems_of(unknown)
    assert field == "state"
    assert all(word in words for word in ("finished", "for sale", "sold"))
    (sold,) = checked("pieces", f"{head}Low water,{pour.label},48,ja\n")
    assert [key for key, _text in problems_of(sold)] == ["sold_on"]
