"""The ledger over JSON: postings, one taken back, write-offs and stocktakes."""

from typing import Any

import pytest
from django.db import IntegrityError

from inventory.ledger.models import Posting
from inventory.stock.api import counting as stocktakes
from inventory.stock.models import Stocktake
from studio.accounts.models import User
from tests.days import TODAY
from tests.making import held, the_reason, units
from tests.programs import Program, names_of
from tests.small_studio import SmallStudio

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def write_off(built: SmallStudio, **change: Any) -> dict[str, Any]:
    return {
        "lot": built.lot.pk,
        "quantity": "100 ml",
        "reason": the_reason().pk,
        "on": TODAY.isoformat(),
        "note": "Knocked over",
    } | change


def test_a_posting_is_told_movement_by_movement(built: SmallStudio, program: Program) -> None:
    found = program.read(f"postings/{built.delivery.posting_id}/")
    assert found["posting"]["kind"] == "delivery"
    assert len(found["posting"]["hash"]) == 64
    assert found["movements"][0]["material"]["name"] == "Sail Loft White"
    assert found["movements"][0]["money"] == "-29.170000"  # seen from the supplier, who gave


def test_postings_are_chosen_by_kind_day_material_place_and_cause(
    built: SmallStudio, program: Program
) -> None:
    def kinds(**query: Any) -> set[str]:
        return {row["kind"] for row in program.read("postings/", **query)["results"]}

    assert kinds(kind="sale") == {"sale"}
    assert "delivery" in kinds(material=built.varnish.pk)
    assert "sale" not in kinds(material=built.varnish.pk)
    assert kinds(place="sold") >= {"sale"}
    assert kinds(reason=the_reason().pk) == {"write_off", "reversal"}
    assert kinds(first="2030-01-01") == set()


def test_a_posting_is_reversed_once(built: SmallStudio, program: Program) -> None:
    made = program.send("write-offs/", write_off(built))
    number = made["posting"]["number"]
    before = held(built.lot)
    mirror = program.send(f"postings/{number}/reverse/", {"reason": "It was another bottle"}, key="back")
    assert mirror["posting"]["reverses"] == number
    assert held(built.lot)[0] == before[0] + units(100)
    again = program.send(
        f"postings/{number}/reverse/", {"reason": "It was another bottle"}, key="back", status=200
    )
    assert again == mirror
    refused = program.refusal(f"postings/{number}/reverse/", {}, status=409)
    assert refused["kind"] == "cannot-reverse"
    assert program.read(f"postings/{number}/")["posting"]["reversed_by"] == mirror["posting"]["number"]


def test_a_sale_is_not_taken_back_as_a_mere_posting(built: SmallStudio, program: Program) -> None:
    refused = program.refusal(f"postings/{built.sale.lines.get().posting_id}/reverse/", {}, status=409)
    assert "return of the piece" in refused["detail"]


def test_stock_is_written_off_with_its_cost(built: SmallStudio, program: Program) -> None:
    before = held(built.lot)
    made = program.send("write-offs/", write_off(built), key="once")
    assert made["movements"][0]["counterpart"] == the_reason().name
    assert held(built.lot)[0] == before[0] - units(100)
    assert program.send("write-offs/", write_off(built), key="once", status=200) == made
    refused = program.refusal("write-offs/", write_off(built, quantity="9 l"), status=409)
    assert refused["shortfalls"][0]["held"]["amount"] == held(built.lot)[0]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"quantity": "0"}, "quantity"),
        ({"lot": 10**9}, "lot"),
        ({"reason": -1}, "reason"),
        ({"on": "x"}, "on"),
    ],
)
def test_a_write_off_names_what_it_cannot_read(
    built: SmallStudio, program: Program, change: dict[str, Any], named: str
) -> None:
    refused = program.refusal("write-offs/", write_off(built, **change), status=400)
    assert list(refused["errors"]) == [named]


def test_a_count_difference_is_posted_by_a_stocktake_alone(built: SmallStudio, program: Program) -> None:
    refused = program.refusal("write-offs/", write_off(built, reason=the_reason("count").pk), status=400)
    assert list(refused["errors"]) == ["reason"]


def test_a_stocktake_is_counted_measured_and_weighed(built: SmallStudio, program: Program) -> None:
    glue = built.glue.lots.get()
    said = {
        "counted_on": TODAY.isoformat(),
        "notes": "Half-year",
        "counts": [
            {"lot": built.lot.pk, "counted": "1.4 l"},
            # 560 g of glue at 1.12 g/mL in a bottle of 40 g
            {"lot": glue.pk, "weighed": "600 g", "empty": "40 g"},
        ],
    }
    made = program.send("stocktakes/", said, key="count")
    assert [line["counted"]["amount"] for line in made["lines"]] == [units(1_400), units(500)]
    assert [line["how"] for line in made["lines"]] == ["counted", "weighed"]
    assert held(glue)[0] == units(500)
    assert program.send("stocktakes/", said, key="count", status=200) == made
    assert program.read(f"stocktakes/{made['id']}/") == made
    assert program.read("stocktakes/", first=TODAY)["count"] == 2


def test_a_stocktake_that_agrees_is_kept_once_too(built: SmallStudio, program: Program) -> None:
    counts = [{"lot": built.lot.pk, "counted": "1.5 l"}]
    said = {"counted_on": TODAY.isoformat(), "counts": counts}
    made = program.send("stocktakes/", said, key="agreed")
    assert made["posting"] is None
    assert program.send("stocktakes/", said, key="agreed", status=200) == made


@pytest.mark.parametrize(
    "count",
    [
        {"counted": "1 l", "weighed": "1 kg"},
        {},
        {"weighed": "1 kg"},
        {"weighed": "1 g", "empty": "2 g"},
        {"counted": "2 each"},
    ],
)
def test_a_count_names_what_it_cannot_read(
    built: SmallStudio, program: Program, count: dict[str, Any]
) -> None:
    before = Stocktake.objects.count()
    said = {"counted_on": TODAY.isoformat(), "counts": [{"lot": built.lot.pk, **count}]}
    assert program.refusal("stocktakes/", said, status=400)["errors"]["counts"]
    assert Stocktake.objects.count() == before


def test_what_comes_to_more_than_the_books_hold_is_refused(built: SmallStudio, program: Program) -> None:
    before = Posting.objects.count()
    # The count itself can be held; what it would be worth at the lot's own cost cannot.
    said = {"counted_on": TODAY.isoformat(), "counts": [{"lot": built.lot.pk, "counted": "9000000000 l"}]}
    program.refusal("stocktakes/", said, status=422)
    line = {"material": built.paint.pk, "pack": "1 l", "price": "9000000000"}
    dear = {
        "supplier": built.supplier.pk,
        "received_on": TODAY.isoformat(),
        "carriage": "1.00",
        "lines": [line],
    }
    program.refusal("deliveries/", dear, status=422)
    doses = [{"material": built.paint.pk, "quantity": "9000000000 l"}] * 2
    pour = {"technique": built.loose.technique_id, "surface": built.canvas.pk, "doses": doses}
    poured = {"held_on": TODAY.isoformat(), "pours": [pour], "confirm_gain": True}
    assert "doses" in program.refusal("sessions/", poured, status=400)["errors"]["pours"][0]
    assert Posting.objects.count() == before


def test_helpers_see_movements_without_money(built: SmallStudio, helper: User) -> None:
    program = Program(helper)
    assert "money" not in names_of(program.read(f"postings/{built.delivery.posting_id}/"))
    assert "money" not in names_of(program.send("write-offs/", write_off(built)))


def test_a_clash_in_the_database_is_a_409(
    built: SmallStudio, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    def clash(**facts: Any) -> Posting:
        raise IntegrityError("UNIQUE constraint failed")

    monkeypatch.setattr(stocktakes, "write_off", clash)
    refused = program.refusal("write-offs/", write_off(built), status=409)
    assert refused["kind"] == "conflict"


def test_what_is_not_there_is_a_404(built: SmallStudio, program: Program) -> None:
    for path in ("postings/999999/", "lots/99999999999999999999/", "materials/0/", "stocktakes/77/"):
        assert program.get(path).status_code == 404
