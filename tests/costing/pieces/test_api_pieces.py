"""Pieces over JSON: made, moved on, priced, and what each really cost."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from costing.cost_sheets.queries import cost_sheet
from costing.pieces.models import Piece
from studio.accounts.models import User
from tests.costing.stories import LATER, a_piece
from tests.making import money
from tests.programs import Program, names_of
from tests.small_studio import FIGURES, SmallStudio

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def millionths(text: str) -> int:
    return int(text.replace(".", ""))


def test_pieces_are_chosen_and_put_in_order(built: SmallStudio, program: Program) -> None:
    def titles(**query: Any) -> list[str]:
        return [row["title"] for row in program.read("pieces/", **query)["results"]]

    assert titles(sort="title") == ["Ebb", "Slack tide"]  # what is sold has left
    assert titles(state="all", sort="-price") == ["Low water", "Slack tide", "Ebb"]
    assert titles(state="all", sort="price") == ["Slack tide", "Low water", "Ebb"]  # without a price: last
    assert titles(state="sold") == ["Low water"]
    assert titles(search="slack") == ["Slack tide"]
    assert titles(year=1999) == []


def test_a_piece_is_told_with_its_cost_sheet_to_the_last_millionth(
    built: SmallStudio, program: Program
) -> None:
    piece = program.read(f"pieces/{built.sold.pk}/")
    sheet = program.read(f"cost-sheets/{built.sold.pk}/")
    own = cost_sheet(Piece.objects.get(pk=built.sold.pk))
    assert millionths(sheet["whole"]) == own.summary.whole
    parts = [line["money"] for part in ("lines", "rework", "labour", "overhead") for line in sheet[part]]
    assert sum(map(millionths, parts)) == own.summary.whole
    assert sheet["sale"]["price"] == "83.290000"
    assert piece["cost"] == sheet["whole"]
    assert [step["to_state"] for step in piece["steps"]][-1] == "sold"
    assert piece["label"] == built.sold.label


def test_the_list_takes_the_same_queries_however_long_it_is(built: SmallStudio, program: Program) -> None:
    def queries() -> int:
        program.read("pieces/")
        with CaptureQueriesContext(connection) as made:
            program.read("pieces/")
        return len(made)

    few = queries()
    for number in range(12):
        a_piece(title=f"Piece {number}")
    assert queries() == few


def test_a_piece_is_made_of_a_pour_once(built: SmallStudio, program: Program) -> None:
    body = {"title": "Neap", "pours": [built.loose.pk], "size_note": "one panel"}
    made = program.send("pieces/", body)
    assert (made["state"], made["pours"], made["price"]) == ("wet", [built.loose.pk], None)
    refused = program.refusal("pieces/", body, status=422)
    assert "already part of" in refused["detail"]


@pytest.mark.parametrize(
    "body",
    [
        {"title": "", "pours": [1]},
        {"title": "x" * 161, "pours": [1]},
        {"title": "Neap", "pours": []},
        {"title": "Neap", "pours": [10**9]},
        {"title": "Neap", "pours": "1"},
        {"title": "Neap"},
        {"title": "Neap", "pours": [1], "price": "1.00"},
    ],
)
def test_a_piece_that_cannot_be_read_is_not_made(
    built: SmallStudio, program: Program, body: dict[str, Any]
) -> None:
    before = Piece.objects.count()
    assert program.post("pieces/", body).status_code == 400
    assert Piece.objects.count() == before


def test_a_piece_moves_on_by_the_steps_there_are(built: SmallStudio, program: Program) -> None:
    path = f"pieces/{built.dry.pk}/status/"
    assert program.send(path, {"to": "finished", "on": LATER.isoformat()}, status=200)["state"] == "finished"
    refused = program.refusal(path, {"to": "wet", "on": LATER.isoformat()}, status=409)
    assert refused["kind"] == "step-refused"
    assert program.post(path, {"to": "perfect", "on": LATER.isoformat()}).status_code == 400
    assert program.post(path, {"to": "for_sale"}).status_code == 400


def test_a_piece_that_is_still_drying_says_so(built: SmallStudio, program: Program) -> None:
    path = f"pieces/{built.dry.pk}/status/"
    soon = built.dry.made_on.isoformat()
    refused = program.refusal(path, {"to": "finished", "on": soon}, status=409)
    assert refused["kind"] == "still-drying"
    assert (
        program.send(path, {"to": "finished", "on": soon, "anyway": True}, status=200)["state"] == "finished"
    )


def test_a_price_that_was_not_seen_is_not_replaced_if_the_program_asks_for_that(
    built: SmallStudio, program: Program
) -> None:
    path = f"pieces/{built.for_sale.pk}/price/"
    read = program.get(path)
    assert read.json() == {"price": "61.770000"}
    assert program.post(path, {"price": "70.00"}, if_match=read.headers["ETag"]).status_code == 200
    refused = program.post(path, {"price": "55.00"}, if_match=read.headers["ETag"])
    assert (refused.status_code, refused.json()["type"]) == (412, "urn:meniscus:problem:edit-conflict")
    assert "Price: changed from “£61.77” to “£70.00” by" in refused.json()["detail"]
    assert Piece.objects.get(pk=built.for_sale.pk).price == money(70)
    for anyway in (program.get(path).headers["ETag"], "*"):
        assert program.post(path, {"price": "55.00"}, if_match=anyway).status_code == 200
    # RFC 6585, section 3: a change that names no version would overwrite blindly.
    assert program.post(path, {"price": "56.00"}, if_match="").status_code == 428
    for nonsense in ("7", 'W/"7"', '"x"', f'"{"9" * 30}"'):
        assert program.post(path, {"price": "56.00"}, if_match=nonsense).status_code == 400
    assert Piece.objects.get(pk=built.for_sale.pk).price == money(55)


def test_a_price_is_set_and_taken_off(built: SmallStudio, program: Program) -> None:
    path = f"pieces/{built.for_sale.pk}/price/"
    assert program.send(path, {"price": "45.00"}, status=200)["price"] == "45.000000"
    assert Piece.objects.get(pk=built.for_sale.pk).price == money(45)
    assert program.send(path, {"price": None}, status=200)["price"] is None
    assert program.send(path, {"price": 45.5}, status=200)["price"] == "45.500000"
    program.refusal(path, {"price": "45.001"}, status=422)
    program.refusal(f"pieces/{built.sold.pk}/price/", {"price": "45.00"}, status=422)


def test_helpers_see_pieces_without_money(built: SmallStudio, helper: User) -> None:
    program = Program(helper)
    for path in ("pieces/", f"pieces/{built.sold.pk}/"):
        answer = program.get(path)
        assert not names_of(answer.json()) & {"price", "cost", "market_value", "money"}
        assert not [figure for figure in FIGURES if figure in answer.content.decode()]
    answer = program.get("pieces/", sort="price")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["sort"])
    assert program.get(f"cost-sheets/{built.sold.pk}/").status_code == 403
    assert program.post(f"pieces/{built.dry.pk}/price/", {"price": "1.00"}).status_code == 403
    assert program.post("pieces/", {"title": "Neap", "pours": [built.loose.pk]}).status_code == 201


def test_bookkeepers_change_no_piece(built: SmallStudio, bookkeeper: User) -> None:
    program = Program(bookkeeper)
    assert "cost" in program.read(f"pieces/{built.sold.pk}/")
    assert "whole" in program.read(f"cost-sheets/{built.sold.pk}/")
    for path in ("pieces/", f"pieces/{built.dry.pk}/status/", f"pieces/{built.dry.pk}/price/"):
        assert program.post(path, {}).status_code == 403
