"""Printed lists: kept once, and shown to be out of date as soon as a price on them changes or a piece has left."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.papers.actions import keep_list
from costing.papers.models import PrintedList
from costing.papers.printed_lists import lists_now
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from inventory.errors import KeyReused
from studio.accounts.models import User
from studio.errors import InputError
from tests.costing.pages import KEY, as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.making import make_submission, money
from tests.programs import Program

pytestmark = pytest.mark.django_db


def priced(*titles: str) -> list[Piece]:
    use_rates()
    return [a_piece(title=title, state=State.FOR_SALE, price="45.00") for title in titles]


def test_a_list_is_out_of_date_once_a_price_on_it_changes_or_a_piece_is_sold() -> None:
    ebb, flood, neap = priced("Ebb", "Flood", "Neap")
    printed = keep_list(
        pieces=[ebb, flood, neap], on=LATER, place="Stall", submission=make_submission(on=LATER)
    )
    (now,) = lists_now([printed])
    assert (now.count, now.is_out_of_date) == (3, False)
    Piece.objects.filter(pk=ebb.pk).update(price=money(50))
    sell(piece=flood, channel=make_channel(), price=money(45), submission=make_submission(on=LATER))
    (now,) = lists_now([printed])
    assert ([piece.title for piece in now.repriced], [piece.title for piece in now.gone]) == (
        ["Ebb"],
        ["Flood"],
    )
    assert now.is_out_of_date


def test_it_is_kept_once_under_its_key_and_never_empty(owner: User) -> None:
    pieces = priced("Ebb")
    first, again = (
        keep_list(pieces=pieces, on=LATER, place="", submission=make_submission(by=owner, on=LATER, key="k"))
        for _time in range(2)
    )
    assert first.pk == again.pk
    with pytest.raises(KeyReused):
        keep_list(pieces=pieces, on=LATER, place="x", submission=make_submission(by=owner, on=LATER, key="k"))
    with pytest.raises(InputError, match="nothing on this list"):
        keep_list(pieces=[], on=LATER, place="", submission=make_submission(on=LATER))
    assert PrintedList.objects.count() == 1


def test_the_page_keeps_what_it_shows_and_says_what_has_changed_since(owner: User, helper: User) -> None:
    ebb, _flood = priced("Ebb", "Flood")
    client = as_user(owner)
    query = f"order=title&paper=A4&on=2025-06-09&place=Stall&start=1&p={ebb.pk}&under=0"
    answer = client.post(f"/price-list/keep/?{query}", {"key": KEY}, follow=True)
    assert "The list is kept." in text_of(answer)
    assert list(PrintedList.objects.get().prices) == [str(ebb.pk)]
    Piece.objects.filter(pk=ebb.pk).update(price=money(50))
    words = text_of(client.get("/price-list/"))
    assert "Another price now: Ebb" in words
    assert "Out of date" in words
    assert as_user(helper).post(f"/price-list/keep/?{query}", {"key": KEY}).status_code == 403
    client.post(f"/price-list/keep/?{query}", {"key": "x" * 5000})
    assert PrintedList.objects.count() == 1


def test_a_program_keeps_one_and_reads_them_in_as_many_queries_as_one(owner: User) -> None:
    pieces = priced("Ebb", "Flood")
    program = Program(owner)
    body = {"pieces": [piece.pk for piece in pieces], "on": "2025-06-09", "place": "Stall"}
    assert program.post("printed-lists/", body, key="a").status_code == 201
    with CaptureQueriesContext(connection) as one:
        program.get("printed-lists/")
    program.post("printed-lists/", body, key="b")
    with CaptureQueriesContext(connection) as two:
        rows = program.get("printed-lists/").json()["results"]
    assert (len(rows), rows[0]["count"], rows[0]["is_out_of_date"]) == (2, 2, False)
    assert len(one) == len(two)
