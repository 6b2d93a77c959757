"""Finished pieces from before the books: at a stated cost, as opening stock, and what becomes of them then."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from pytest_django import Settings

from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.locations.models import Location, LocationKind
from costing.locations.queries import where_are
from costing.overhead.queries import work_between
from costing.pieces.actions.pieces import add_labour, move_on, split_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import pours_without_piece, standing_pieces
from costing.pricing.failures import counted_failures
from costing.reports.calculations import Stage
from costing.reports.queries import Period, year_end
from costing.selling.actions.sales import sell
from inventory.errors import CannotReverse, ClosedPeriod
from inventory.ledger.models import CostingMethod, EntryRole, Place, Posting, PostingKind
from inventory.ledger.verification import check
from inventory.sessions.models import Pour, Session
from inventory.sessions.queries.last_used import LastUsed
from inventory.sessions.queries.paint_per_area import paint_of
from studio.archive.importing import import_archive
from studio.archive.writing import export_archive
from studio.errors import InputError
from tests.costing.brought_in.stories import BROUGHT_IN, brought_in, facts_of
from tests.costing.stories import make_channel, use_rates
from tests.days import AT, TODAY, june
from tests.making import (
    close_books,
    make_lot,
    make_material,
    make_opening,
    make_submission,
    make_surface,
    money,
    take_back,
    the_technique,
    units,
    use_cost_flow,
)
from tests.studio.archive.stories import gone_afterwards

pytestmark = pytest.mark.django_db


def test_its_cost_comes_from_where_opening_stock_of_materials_comes_from() -> None:
    make_opening(lines=[(make_material(), units(350), money("6.40"))], on=BROUGHT_IN)
    (piece,) = brought_in()
    of_material, of_piece = Posting.objects.order_by("number")
    assert of_material.kind == of_piece.kind == PostingKind.OPENING
    moved = [(each.place, each.quantity, each.money, each.role) for each in of_piece.entries.order_by("line")]
    assert moved == [
        (Place.OUTSIDE, -1_000, -money(14), EntryRole.OPENING),
        (Place.WORK, 1_000, money(14), EntryRole.OPENING),
    ]
    assert (piece.state, piece.made_on) == (State.FINISHED, BROUGHT_IN)
    assert re.fullmatch(r"P\d{4,}", piece.label)  # its number goes on from those of other tests
    assert check().is_clean


def test_its_cost_sheet_says_that_the_cost_was_stated() -> None:
    use_rates()
    (piece,) = brought_in(facts_of(labour=money(9), overhead=money("2.25")))
    sheet = cost_sheet(piece)
    (line,) = sheet.lines
    assert (line.role, line.money, line.sources[0].lot) == (EntryRole.OPENING, money(14), None)
    assert [(each.money, each.seconds, each.rate, each.is_stated) for each in sheet.labour] == [
        (money(9), 0, None, True)
    ]
    assert [each.money for each in sheet.overhead] == [money("2.25")]
    assert sheet.summary.whole == money("25.25") == cost_summaries([piece])[piece.pk].whole


def test_no_overhead_of_the_year_counts_as_absorbed_by_it() -> None:
    use_rates()
    brought_in(facts_of(labour=money(9), overhead=money("2.25")))
    assert work_between(BROUGHT_IN, TODAY) == []


def test_what_is_worked_on_it_on_its_day_keeps_its_rates_once_it_is_sold() -> None:
    use_rates()
    (piece,) = brought_in(facts_of(labour=money(9), price=money(60), is_for_sale=True))
    add_labour(piece=piece, work="Framing", minutes=60, submission=make_submission(on=BROUGHT_IN))
    before = cost_sheet(piece).summary.whole
    sell(piece=piece, channel=make_channel(), price=money(60), submission=make_submission())
    assert cost_sheet(piece).summary.whole == before == money(14 + 9 + 12 + 3)


def test_it_can_be_for_sale_and_somewhere_else_from_the_start() -> None:
    box = Location.objects.create(name="Crate 2", kind=LocationKind.BOX)
    (piece,) = brought_in(facts_of(price=money(60), is_for_sale=True, location=box, year=2023))
    assert (piece.state, piece.price, piece.shown_year) == (State.FOR_SALE, money(60), 2023)
    assert where_are([piece])[piece.pk].location == box


def test_year_end_counts_it_as_brought_in_and_adds_up_to_the_penny() -> None:
    kept, sold = brought_in(facts_of(), facts_of("First light", cost="11.37"))
    sell(piece=sold, channel=make_channel(), price=money(60), submission=make_submission(on=june(10)))
    stock = year_end(Period(june(1), june(30))).stock
    assert (stock.opened_with, stock.brought_in, stock.purchases) == (0, money("25.37"), 0)
    assert (stock.cost_of_sales, stock.closing[Stage.FINISHED]) == (money("11.37"), money(14))
    assert stock.adds_up
    later = year_end(Period(june(5), june(30))).stock
    assert (later.opening[Stage.FINISHED], later.brought_in) == (money("25.37"), 0)
    assert later.adds_up
    assert kept.state == State.FINISHED


@pytest.mark.parametrize("method", list(CostingMethod))
def test_it_stands_in_the_books_under_every_costing_method(method: CostingMethod) -> None:
    use_cost_flow(method)
    surface = make_surface()
    make_lot(material=surface, quantity=units(5), cost=money(20), on=june(2))
    brought_in(facts_of(surface=surface, cost="0.00"), facts_of("First light", surface=surface))
    assert check().is_clean


def test_reversed_it_is_in_no_list_and_its_cost_is_gone() -> None:
    (piece,) = brought_in(facts_of(location=Location.objects.create(name="Crate 2", kind=LocationKind.BOX)))
    take_back(Posting.objects.get())
    assert not standing_pieces().exists()
    assert not pours_without_piece()
    assert year_end(Period(june(1), june(30))).stock.closed_with == 0
    assert check().is_clean
    assert Piece.objects.get() == piece  # what is said of it can still be read


def test_it_is_not_split_and_not_reversed_once_something_has_happened_to_it() -> None:
    (piece,) = brought_in()
    with pytest.raises(Exception, match="brought in finished"):
        split_piece(piece=piece, submission=make_submission())
    move_on(piece=piece, to=State.RESERVED, submission=make_submission())
    with pytest.raises(CannotReverse, match="reserved"):
        take_back(Posting.objects.get())
    move_on(piece=piece, to=State.FOR_SALE, submission=make_submission())
    sell(piece=piece, channel=make_channel(), price=money(60), submission=make_submission())
    with pytest.raises(CannotReverse, match="sold"):
        take_back(Posting.objects.get(kind=PostingKind.OPENING))


def test_a_closed_period_refuses_it_and_the_same_key_posts_once() -> None:
    facts = facts_of()
    first = brought_in(facts, key="k" * 32)
    assert [piece.pk for piece in brought_in(facts, key="k" * 32)] == [piece.pk for piece in first]
    assert (Piece.objects.count(), Posting.objects.count()) == (1, 1)
    close_books(through=june(5))
    with pytest.raises(ClosedPeriod):
        brought_in(facts_of("First light"))
    assert Piece.objects.count() == 1


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"title": " "}, "title"),
        ({"cost": "-1.00"}, "cost"),
        ({"labour": -1}, "labour"),
        ({"overhead": -1}, "overhead"),
    ],
)
def test_what_makes_no_sense_is_said_at_its_field(facts: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        facts_of(**facts)
    assert [each.field for each in refused.value.problems] == [field]


def test_a_gallery_gets_it_by_a_consignment_note_and_paint_is_no_surface() -> None:
    gallery = Location.objects.create(name="Salt House", kind=LocationKind.GALLERY, channel=make_channel())
    with pytest.raises(InputError, match="consignment note"):
        facts_of(location=gallery)
    with pytest.raises(InputError, match="no surface"):
        facts_of(surface=make_material())


def test_it_tells_nothing_of_how_she_pours() -> None:
    brought_in()
    assert not Session.objects.exists()
    assert Session.with_brought_in.count() == 1
    assert counted_failures(TODAY).judged == 0
    technique = the_technique()
    assert technique.pk not in LastUsed().techniques
    assert not paint_of(technique).pours
    assert not Pour.objects.poured_here().exists()


def test_an_archive_brings_it_back_the_same(tmp_path: Path, settings: Settings) -> None:
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path / "data", tmp_path / "photos"
    file = tmp_path / "archive.zip"
    with gone_afterwards():
        (piece,) = brought_in(facts_of(labour=money(9), price=money(60), is_for_sale=True))
        before = cost_sheet(piece).summary, check().last_hash
        export_archive(file, at=AT)
    import_archive(file, at=AT)
    piece = Piece.objects.get()
    assert (cost_sheet(piece).summary, check().last_hash) == before
    assert (piece.state, check().is_clean) == (State.FOR_SALE, True)


def test_the_database_refuses_a_stated_cost_below_zero() -> None:
    (piece,) = brought_in()
    for column in ("stated_labour", "stated_overhead"):
        with pytest.raises(IntegrityError), transaction.atomic():
            Piece.objects.filter(pk=piece.pk).update(**{column: -1})
