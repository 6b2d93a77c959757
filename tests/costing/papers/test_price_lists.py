"""Rows for the printed price list: what is listed, in which order, and how sizes read."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries, Settings

from costing.papers.price_labels import draw_price_labels
from costing.papers.queries import (
    Order,
    Pictures,
    price_list,
    price_list_heading,
    sizes_in_cm,
    sizes_in_inches,
    support_words,
)
from costing.pieces.actions.photos import store_photo
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.materials.models import Material
from inventory.sessions.models import Pour, Technique
from studio.photos import listed_beside
from studio.preferences.models import Studio
from tests.costing.papers.drawing import draw_price_list
from tests.costing.stories import POURED_ON, a_piece, reverse_session_of, two_ring_pours
from tests.making import (
    make_delivery,
    make_material,
    make_rates,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
)
from tests.pictures import encoded, left_red_right_blue

pytestmark = pytest.mark.django_db


def hung(
    title: str, price: str | None = "45.00", state: State = State.FOR_SALE, **surface: int | bool
) -> Piece:
    """A piece for sale on a surface of its own."""
    canvas, paint = make_surface(**surface), make_material()
    make_delivery(lines=[(canvas, 1_000, money(2)), (paint, 100_000, money(1))], on=POURED_ON)
    session = make_session(pours=[pour_of(material=paint, quantity=1_000, surface=canvas)], on=POURED_ON)
    return a_piece(pours=session.pours.all(), title=title, price=price, state=state)


def titles(**choice: Any) -> list[str]:
    return [row.title for row in price_list(**choice).rows]


def test_a_row_is_ready_to_print() -> None:
    piece = hung("Low water", height=20_000, width=30_000)
    (row,) = price_list().rows
    assert (row.code, row.title, row.medium, row.year, row.price) == (
        piece.label, "Low water", "Acrylic on material, ring pour", "2025", "£45.00",
    )  # fmt: skip
    assert (row.size_cm, row.size_in, row.note, row.thumbnail) == (
        "20 × 30\xa0cm",
        "7.9 × 11.8\xa0in",
        "",
        None,
    )


def test_only_pieces_for_sale_are_listed_unless_others_are_asked_for() -> None:
    hung("For sale")
    hung("Reserved", state=State.RESERVED)
    hung("Drying", state=State.DRY)
    assert titles() == ["For sale"]
    both = price_list(states=[State.FOR_SALE, State.RESERVED]).rows
    assert [(row.title, row.note) for row in both] == [("For sale", ""), ("Reserved", "reserved")]


def test_a_piece_without_a_price_is_named_instead_of_listed() -> None:
    unpriced, priced = hung("Low water", price=None), hung("Ebb")
    listed = price_list()
    assert [row.title for row in listed.rows] == ["Ebb"]
    assert ([row.piece for row in listed.rows], listed.unpriced) == ([priced], (unpriced,))


def test_a_piece_whose_session_was_reversed_is_not_listed() -> None:
    reverse_session_of(hung("Low water"))
    assert titles() == []


def test_it_lists_by_choice_and_by_technique() -> None:
    first, second = hung("Ebb"), hung("Flood")
    second.parts.get().pour.session.pours.update(technique=Technique.objects.get(name="Dutch pour"))
    assert titles(ids=[first.pk]) == ["Ebb"]
    assert titles(technique=Technique.objects.get(name="Dutch pour").pk) == ["Flood"]


def test_it_orders_by_title_price_or_size() -> None:
    hung("b", price="9.00", height=30_000, width=30_000)
    hung("A", price="100.00", height=20_000, width=20_000)
    hung("c", price="20.00", height=10_000, width=10_000)
    assert [titles(order=order) for order in (Order.TITLE, Order.PRICE, Order.SIZE)] == [
        ["A", "b", "c"], ["b", "c", "A"], ["c", "A", "b"],
    ]  # fmt: skip


def test_a_set_gives_its_size_once_and_says_how_many() -> None:
    a_piece(pours=two_ring_pours(), price="80.00", state=State.FOR_SALE)
    (row,) = price_list().rows
    assert (row.size_cm, row.note) == ("30 × 30\xa0cm", "set of 2")
    Piece.objects.update(size_note="diptych")
    assert price_list().rows[0].note == "diptych"


@pytest.mark.parametrize(
    ("height", "width", "inches"),
    [
        (2_540, 25_400, "1.0 × 10.0\xa0in"),  # 1 in = 2.54 cm exactly (NIST SP 811, Appendix B.8)
        (20_000, 30_000, "7.9 × 11.8\xa0in"),
        (127, 381, "0.1 × 0.2\xa0in"),  # 0.05 and 0.15: halves up
        (126, 380, "0.0 × 0.1\xa0in"),
    ],
)
def test_inches_are_exact_to_one_decimal(height: int, width: int, inches: str) -> None:
    assert sizes_in_inches([Pour(surface=Material(height=height, width=width))]) == inches


def test_sizes_follow_the_studios_decimal_mark_and_a_round_board_has_one() -> None:
    board = [Pour(surface=Material(height=30_500, width=30_500, is_round=True))]
    assert sizes_in_cm(board, decimal_comma=True) == "30,5\xa0cm round"
    assert sizes_in_inches(board, decimal_comma=True) == "12,0\xa0in round"


def test_the_heading_says_where_when_in_what_currency_and_whether_tax_is_in_it() -> None:
    studio = Studio(name="Wrackline Studio")
    make_rates(tax_rate=200_000)
    make_rates(date(2026, 3, 15), tax_rate=0)
    heading = price_list_heading(studio=studio, on=date(2026, 3, 14), place="Lantern Quay spring market")
    assert heading.place_and_date == "Lantern Quay spring market, 14 Mar 2026"
    assert heading.currency_note == "Prices in GBP."
    assert heading.tax_note == "Prices include tax."
    assert price_list_heading(studio=studio, on=date(2026, 3, 15)).tax_note == ""


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Canvas 60 × 80 cm, deep", "canvas"),
        ("Round board 20 cm", "round board"),
        ("Tile 15 × 15 cm", "tile"),
        ("30 × 40 canvas", "30 × 40 canvas"),
        ("MDF board", "MDF board"),
    ],
)
def test_a_buyer_reads_what_a_surface_is_and_not_its_name_on_the_shelf(name: str, words: str) -> None:
    assert support_words(name) == words


def test_the_rows_print_as_a_list_and_as_labels() -> None:
    hung("Low water")
    rows = price_list().rows
    heading = price_list_heading(studio=Studio.current(), on=date(2026, 3, 14))
    assert draw_price_list(rows, heading).startswith(b"%PDF")
    assert draw_price_labels(rows, studio="Wrackline Studio").startswith(b"%PDF")


def test_a_photo_that_has_gone_from_the_disk_does_not_stop_the_list(
    settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    piece = hung("Low water")
    piece.thumbnail.save("quay.jpg", ContentFile(b"picture"))
    assert price_list().rows[0].thumbnail == b"picture"
    assert price_list(pictures=Pictures.NONE).rows[0].thumbnail is None
    piece.thumbnail.delete(save=False)
    assert price_list().rows[0].thumbnail is None


def test_a_list_takes_a_photo_into_the_file_as_it_is_kept_for_it(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    piece = hung("Low water")
    store_photo(piece=piece, upload=encoded(left_red_right_blue(900, 600)), submission=make_submission())
    with listed_beside(piece.thumbnail).open("rb") as file:
        kept = file.read()
    rows = price_list(pictures=Pictures.LISTED).rows
    heading = price_list_heading(studio=Studio.current(), on=date(2026, 3, 14))
    assert rows[0].thumbnail == kept
    assert kept in draw_price_list(rows, heading)


def test_a_photo_without_a_copy_for_lists_is_read_from_its_thumbnail(
    settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    hung("Low water").thumbnail.save("quay.jpg", ContentFile(b"picture"))
    assert price_list(pictures=Pictures.LISTED).rows[0].thumbnail == b"picture"


def test_a_longer_list_takes_no_more_queries(django_assert_num_queries: DjangoAssertNumQueries) -> None:
    hung("Ebb")
    with CaptureQueriesContext(connection) as one:
        price_list()
    for number in range(3):
        hung(f"Flood {number}")
    with django_assert_num_queries(len(one)):
        price_list()
