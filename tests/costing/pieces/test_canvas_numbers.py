"""One number for each canvas, from its first pour to the sold piece, whatever happens to it in between."""

from itertools import count
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.http import QueryDict
from django.urls import reverse
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from costing.papers.queries import price_list
from costing.pieces.actions.pieces import PieceFacts, make_piece, split_piece
from costing.pieces.calculations import ENDS, State
from costing.pieces.filters import PieceFilter
from costing.pieces.models import Piece
from costing.pieces.queries import pours_without_piece, with_parts
from costing.selling.actions import scrape_piece
from costing.selling.filters import SaleFilter
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.filters import PourFilter, SessionFilter
from inventory.sessions.models import Pour, Stage
from inventory.sessions.queries.pours import bare_failed_pours
from studio.accounts.models import User
from studio.pages.filters import ListFilterSet
from tests.costing.stories import a_piece, moved_to, poured_over
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    make_delivery,
    make_lot,
    make_material,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    take_back,
)
from tests.programs import Program
from tests.small_studio import small_studio

pytestmark = pytest.mark.django_db


def listed(kind: type[ListFilterSet], **query: str) -> list[Any]:
    data = QueryDict(mutable=True)
    data.update(query)
    return list(kind(data).qs)


def a_set(size: int) -> Piece:
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(paint, 1_000_000, money(10)), (canvas, size * 1_000, money(size))], on=TODAY)
    one = pour_of(material=paint, quantity=20_000, surface=canvas)
    session = make_session(pours=[one] * size)
    return make_piece(
        facts=PieceFacts(title="Coasters", pours=list(session.pours.all())), submission=make_submission()
    )


def test_a_piece_of_one_pour_bears_the_pours_number() -> None:
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    (pour,) = piece.pours
    assert piece.label == piece.number == pour.label == pour.canvas_label
    assert [row.code for row in price_list().rows] == [pour.label]


def test_a_set_is_named_by_its_first_canvas_and_shows_all_of_them() -> None:
    piece = a_set(4)
    first, *_between, last = [pour.label for pour in piece.pours]
    assert (piece.number, piece.label) == (first, f"{first}–{last}")
    for pour in piece.pours:
        assert listed(PieceFilter, search=pour.label) == [piece]
    assert listed(PieceFilter, search=piece.label) == [piece]


def test_a_pour_over_a_failed_one_keeps_the_number_on_the_back_and_says_which_it_is() -> None:
    failed, over = poured_over()
    assert over.canvas_label == failed.label
    assert over.label == f"{failed.label}-2"
    assert a_piece(pours=[over]).label == failed.label
    assert set(listed(PourFilter, search=failed.label)) == {failed, over}
    assert listed(PourFilter, search=over.label) == [over]
    assert listed(SessionFilter, search=over.label) == [over.session]


def test_a_layer_that_was_undone_keeps_its_number() -> None:
    failed, over = poured_over()
    take_back(over.session.posting)
    again = make_session(pours=[pour_of(material=make_lot().material, quantity=5_000, over=failed)])
    assert again.pours.get().label == f"{failed.label}-3"


def test_accounts_of_the_ledger_go_by_the_number_on_the_back(owner: User) -> None:
    failed, over = poured_over()
    page = as_user(owner).get(reverse("inventory:posting", args=[over.session.posting_id]))
    assert f"Pour {failed.label}-2" in text_of(page)


def test_a_sold_piece_is_reached_by_the_number_on_its_back(owner: User) -> None:
    built = small_studio()
    sold = with_parts(Piece.objects.all()).get(pk=built.sold.pk)
    assert listed(PieceFilter, search=sold.label.lower()) == [sold]
    assert listed(PieceFilter, search=sold.label, state="for_sale") == []
    page = as_user(owner).get(reverse("costing:pieces"), {"search": sold.label, "state": "here"})
    assert "1 piece" in text_of(page)
    assert "piece in the studio" not in text_of(page)
    assert {sale.lines.get().piece for sale in listed(SaleFilter, search=sold.label)} == {sold}


def test_programs_read_the_number_and_the_whole_label(owner: User) -> None:
    piece = a_set(2)
    body = Program(owner).read(f"pieces/{piece.pk}/")
    assert (body["number"], body["label"]) == (piece.number, piece.label)


def test_the_database_keeps_a_layer_from_standing_twice_on_a_canvas() -> None:
    failed, over = poured_over()
    other = make_pour()
    for wrong in (
        {"canvas": failed},
        {"layer": 2},
        {"over": failed, "canvas": failed, "layer": 1},
        {"over": failed, "canvas": failed, "layer": over.layer},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            Pour.objects.filter(pk=other.pk).update(**wrong)


steps = st.lists(
    st.tuples(
        st.sampled_from(["pour", "fail", "over", "piece", "set", "scrape", "split", "undo"]),
        st.integers(0, 9),
    ),
    min_size=4,
    max_size=14,
)


@examples(max_examples=6)
@given(steps=steps)
def test_no_two_unsold_canvases_bear_one_number_whatever_happens(steps: list[tuple[str, int]]) -> None:
    titles, paint = count(), make_lot().material
    alive = Piece.objects.exclude(state__in=ENDS)
    for step, which in steps:
        loose, failed, pieces = list(pours_without_piece()), list(bare_failed_pours()), list(alive.all())
        if step == "pour":
            make_pour(quantity=1_000)
        elif step == "fail" and loose:
            facts = JudgementFacts(loose[which % len(loose)], Pour.Outcome.FAILED, Stage.WET)
            judge_pours(judgements=[facts], submission=make_submission())
        elif step == "over" and failed:
            make_session(pours=[pour_of(material=paint, quantity=1_000, over=failed[which % len(failed)])])
        elif step in ("piece", "set") and loose:
            chosen = loose[: which % len(loose) + 1] if step == "set" else [loose[which % len(loose)]]
            make_piece(
                facts=PieceFacts(title=f"Tide {next(titles)}", pours=chosen), submission=make_submission()
            )
        elif step == "scrape" and pieces:
            scrape_piece(piece=pieces[which % len(pieces)], submission=make_submission())
        elif step == "split" and pieces:
            split_piece(piece=pieces[which % len(pieces)], submission=make_submission())
        elif step == "undo" and loose and len(loose[0].session.pours.all()) == 1:
            take_back(loose[0].session.posting)
    labels = [pour.label for pour in Pour.with_struck.all()]
    assert len(set(labels)) == len(labels)
    pieces = list(with_parts(alive))
    backs = [number for piece in pieces for number in {pour.canvas_number for pour in piece.pours}]
    backs += [pour.canvas_number for pour in pours_without_piece()]
    assert len(set(backs)) == len(backs)
    assert len({piece.number for piece in pieces}) == len(pieces)
    for piece in pieces:
        for pour in piece.pours:
            reached = listed(PieceFilter, search=pour.canvas_label)
            assert [each for each in reached if each.state not in ENDS] == [piece]


def test_a_moved_on_piece_keeps_its_number() -> None:
    piece = a_piece()
    number = piece.number
    assert moved_to(piece, State.RESERVED).number == number
