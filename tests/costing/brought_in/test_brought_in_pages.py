"""Finished pieces from before the books: by the page, from a table, and for programs."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from costing.cost_sheets.queries import cost_sheet
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.ledger.models import Posting
from inventory.ledger.verification import check
from inventory.materials.models import Kind, Material
from studio.accounts.models import User
from studio.imports.checking import RowState
from tests.costing.brought_in.stories import brought_in
from tests.days import TODAY, june
from tests.inventory.browsing import as_user, text_of
from tests.making import close_books, make_helper, make_surface, money, take_back, the_technique
from tests.studio.imports.making import checked, imported, problems_of

pytestmark = pytest.mark.django_db
PAGE = "costing:pieces-bring-in"


def sent(*rows: dict[str, Any], **said: Any) -> dict[str, Any]:
    data: dict[str, Any] = {
        "key": "0" * 32, "on": june(1).isoformat(), "rows-TOTAL_FORMS": str(len(rows) + 2), "rows-INITIAL_FORMS": "0",
    } | said  # fmt: skip
    for number, row in enumerate(rows):
        whole = {"technique": str(the_technique().pk), "state": "finished"} | row
        data |= {f"rows-{number}-{name}": text for name, text in whole.items()}
    data |= {f"rows-{len(rows)}-state": "finished", f"rows-{len(rows) + 1}-state": "finished"}
    return data


def test_the_page_brings_in_several_once_however_often_it_is_sent(owner: User) -> None:
    surface = make_surface()
    data = sent(
        {"title": "Old rope", "surface": surface.pk, "cost": "14.00", "price": "60", "state": "for_sale"},
        {
            "title": "First light",
            "new_surface": "Board 20 x 40 cm",
            "cost": "0",
            "labour": "9",
            "year": "2023",
        },
    )
    for _ in range(2):
        response = as_user(owner).post(reverse(PAGE), data)
    assert response["Location"] == reverse("costing:pieces")
    rope, light = Piece.objects.order_by("pk")
    assert (rope.state, rope.price) == (State.FOR_SALE, money(60))
    assert (cost_sheet(light).summary.whole, light.year) == (money(9), 2023)
    assert Material.objects.get(name="Board 20 x 40 cm").kind == Kind.SURFACE
    assert Posting.objects.count() == 1
    assert check().is_clean


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ({"title": ""}, "title"),
        ({"cost": ""}, "cost"),
        ({"cost": "-3"}, "cost"),
        ({"cost": "1.234"}, "cost"),
        ({"technique": ""}, "technique"),
        ({"surface": ""}, "surface"),
        ({"price": "sixty"}, "price"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_lost(
    owner: User, row: dict[str, str], field: str
) -> None:
    whole = {
        "title": "Old rope",
        "surface": str(make_surface().pk),
        "cost": "14.00",
        "description": "Grey sea",
    }
    response = as_user(owner).post(reverse(PAGE), sent(whole | row))
    assert response.status_code == 422
    assert field in response.context["formset"].forms[0].errors
    assert "Grey sea" in response.content.decode()
    assert not Piece.objects.exists()


def test_nothing_entered_and_a_closed_day_are_told(owner: User) -> None:
    response = as_user(owner).post(reverse(PAGE), sent())
    assert response.status_code == 422
    assert "Enter at least one piece." in text_of(response)
    close_books(through=june(5))
    whole = {"title": "Old rope", "surface": str(make_surface().pk), "cost": "14.00"}
    response = as_user(owner).post(reverse(PAGE), sent(whole))
    assert response.status_code == 422
    assert "is closed" in text_of(response)


def test_a_helper_without_money_cannot_by_any_way() -> None:
    client = as_user(make_helper())
    assert client.get(reverse(PAGE)).status_code == 403
    assert client.get(reverse("import-finished-pieces")).status_code == 403
    assert reverse(PAGE) not in client.get(reverse("costing:pieces")).content.decode()
    body = {"on": str(june(1)), "pieces": []}
    assert client.post("/api/pieces/brought-in/", body, "application/json").status_code == 403


def test_the_pages_of_the_piece_its_pour_and_its_posting_stand(owner: User) -> None:
    (piece,) = brought_in()
    client = as_user(owner)
    page = text_of(client.get(reverse("costing:piece", args=[piece.pk])))
    assert "Brought in at a stated cost" in page
    assert "All pieces of its session" not in page
    for address in (
        reverse("inventory:pour", args=[piece.pours[0].pk]),
        reverse("inventory:posting", args=[1]),
        reverse("inventory:posting-reverse", args=[1]),
        reverse("inventory:sessions"),
        reverse("costing:piece-edit", args=[piece.pk]),
    ):
        assert client.get(address).status_code == 200, address
    take_back(Posting.objects.get())
    assert client.get(reverse("costing:piece", args=[piece.pk])).status_code == 200


def test_programs_bring_them_in_once(owner: User) -> None:
    body = {
        "on": str(june(1)),
        "pieces": [
            {"title": "Old rope", "surface": make_surface().pk, "technique": the_technique().pk, "cost": "14.00",
             "overhead": "1.50", "price": "60.00", "is_for_sale": True},
        ],
    }  # fmt: skip
    client = Client()
    client.force_login(owner)
    for _ in range(2):
        answer = client.post(
            "/api/pieces/brought-in/", body, "application/json", headers={"Idempotency-Key": "k1"}
        )
        assert answer.status_code == 201, answer.content
    (piece,) = answer.json()["pieces"]
    assert (piece["cost"], piece["state"]) == ("15.500000", "for_sale")
    sheet = client.get(f"/api/cost-sheets/{piece['id']}/").json()
    assert sheet["lines"][0]["why"] == "Brought in at a stated cost"
    assert sheet["overhead"][0]["is_stated"] is True


HEAD = "Title,Surface,Size,Technique,Cost of materials,Labour,Price,Status,Location,Year,Stock as of\n"


def test_a_table_brings_in_a_piece_a_row_and_the_same_table_adds_nothing(owner: User) -> None:
    board = make_surface(name="Board 30 x 30 cm")
    text = HEAD + (
        "Old rope,board 30 x 30 cm,,ring pour,14.00,9.00,60.00,,the studio,2023,2025-06-01\n"
        "First light,Board,30 x 30 cm,Ring pour,0,,,,,,\n"
    )
    assert [row.state for row in checked("finished-pieces", text)] == [RowState.NEW] * 2
    assert imported("finished-pieces", text).saved == 2
    rope, light = Piece.objects.order_by("pk")
    assert (rope.state, light.state) == (State.FOR_SALE, State.FINISHED)
    assert (rope.made_on, light.made_on) == (june(1), TODAY)
    assert {piece.pours[0].surface for piece in (rope, light)} == {board}
    assert imported("finished-pieces", text).there == 2
    take_back(Posting.objects.get(number=2))
    assert imported("finished-pieces", text).saved == 1
    assert check().is_clean


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (",Canvas,,Ring pour,14,,,,,,", "title"),
        ("A,Moon,,Ring pour,14,,,,,,", "surface"),
        ("A,Canvas,20 x 20 cm,Ring pour,14,,,,,,", "size"),
        ("A,Canvas,,Moon,14,,,,,,", "technique"),
        ("A,Canvas,,Ring pour,,,,,,,", "cost"),
        ("A,Canvas,,Ring pour,-14.00,,,,,,", "cost"),
        ("A,Canvas,,Ring pour,(14.00),,,,,,", "cost"),
        ("A,Canvas,,Ring pour,14.005,,,,,,", "cost"),
        ("A,Canvas,,Ring pour,14,,,sold,,,", "state"),
        ("A,Canvas,,Ring pour,14,,,,Moon,,", "location"),
        ("A,Canvas,,Ring pour,14,,,,,23,", "year"),
        ("A,Canvas,,Ring pour,14,,,,,,2999-01-01", "on"),
    ],
)
def test_what_is_wrong_in_a_table_is_said_at_its_column(row: str, field: str) -> None:
    make_surface(name="Canvas")
    (found,) = checked("finished-pieces", f"{HEAD}{row}\n")
    assert [key for key, _text in problems_of(found)] == [field]


def test_a_title_that_there_is_is_refused_and_a_closed_day_too() -> None:
    make_surface(name="Canvas")
    brought_in()
    row = f"{HEAD}old rope,Canvas,,Ring pour,14,,,,,,2025-06-02\n"
    (found,) = checked("finished-pieces", row)
    assert [key for key, _text in problems_of(found)] == ["title"]
    close_books(through=june(5))
    (found,) = checked("finished-pieces", row.replace("old rope", "New rope"))
    assert [key for key, _text in problems_of(found)] == ["on"]


def test_a_past_sale_of_one_comes_with_the_table_of_pieces_and_sales() -> None:
    from tests.costing.stories import make_channel

    make_channel(name="Lantern Quay")
    brought_in()
    sales = "Title,Sold on,Sold for,Sales channel\nOld rope,2025-06-10,45.00,Lantern Quay\n"
    assert imported("pieces", sales).saved == 1
    assert Piece.objects.get().state == State.SOLD
    assert check().is_clean


def test_a_heading_that_asks_whether_it_was_sold_is_its_status(owner: User) -> None:
    make_surface(name="Board 30 x 30 cm")
    head = "Titel,Malgrund,Technik,Materialkosten,Preis,verkauft?\n"
    rows = "".join(
        f"{title},Board 30 x 30 cm,Ring pour,0,90,{word}\n"
        for title, word in (("A", ""), ("B", "nein"), ("C", "Galerie"), ("D", "ja"), ("E", "moon"))
    )
    free, unsold, lent, sold, unknown = checked("finished-pieces", head + rows)
    assert {row.words["state"] for row in (free, unsold, lent)} == {"for sale"}
    assert [problem.field for problem in sold.problems] == ["state"]
    assert "leave its row out" in str(sold.problems[0])
    assert "for sale" in str(unknown.problems[0])
