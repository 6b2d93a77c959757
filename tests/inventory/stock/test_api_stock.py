"""The shelf over JSON: materials, lots, the stock check, alerts, and what other addresses name by number."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import Entry, Posting
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.making import make_delivery, make_lot, make_material, make_recipe, money, units
from tests.programs import Program, names_of
from tests.small_studio import FIGURES, SmallStudio

pytestmark = pytest.mark.django_db
MONEY = {"value", "unit_cost", "money", "cost", "price", "landed", "cost_per_100ml"}


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def queries_of(program: Program, path: str, **query: Any) -> int:
    program.read(path, **query)
    with CaptureQueriesContext(connection) as made:
        program.read(path, **query)
    return len(made)


def row_of(rows: list[dict[str, Any]], name: str) -> dict[str, Any]:
    return next(row for row in rows if row["name"] == name)


def test_stock_is_told_in_thousandths_and_money_in_six_places(built: SmallStudio, program: Program) -> None:
    row = row_of(program.read("materials/")["results"], "Gloss varnish")
    assert row["held"] == {"amount": 500_000, "measure": "volume", "formatted": "500\xa0mL"}
    assert row["value"] == "17.430000"
    assert row["unit_cost"] == "0.034860"  # 17.43 / 500
    assert row["on_order"]["amount"] == units(500)
    assert row["is_low"] is True


def test_the_list_is_narrowed_by_words_kind_and_alert(built: SmallStudio, program: Program) -> None:
    def names(**query: Any) -> list[str]:
        return [row["name"] for row in program.read("materials/", **query)["results"]]

    assert names(search="loft") == ["Loft glue", "Sail Loft White"]
    assert names(kind="surface") == ["Canvas 30"]
    assert "Gloss varnish" in names(low="true")
    assert "Canvas 30" not in names(low="true")
    assert "Tap water" not in names()
    assert "Tap water" in names(free="true")
    assert names(sort="-name") == sorted(names(), key=str.casefold, reverse=True)


def test_the_shelf_is_read_as_of_a_past_day(built: SmallStudio, program: Program) -> None:
    before = TODAY - 30 * DAY
    assert (
        row_of(program.read("materials/", as_of=before)["results"], "Sail Loft White")["held"]["amount"] == 0
    )
    now = program.read(f"materials/{built.paint.pk}/")
    then = program.read(f"materials/{built.paint.pk}/", as_of=TODAY - 5 * DAY)
    assert now["held"]["amount"] == units(1_500)
    assert then["held"]["amount"] > now["held"]["amount"]
    assert then["held_lots"][0]["holds"] == then["held"]


def test_one_material_says_when_to_order_it(built: SmallStudio, program: Program) -> None:
    found = program.read(f"materials/{built.varnish.pk}/")
    assert found["reorder_at"]["amount"] == units(9_000)
    assert found["reorder_reason"]
    assert found["density"] == "1.120000"
    assert found["held_lots"][0]["label"].startswith("L")
    assert program.read(f"materials/{built.colour.recipe.makes_id}/")["recipe"] == built.recipe.pk


@pytest.mark.parametrize(
    ("query", "named"),
    [
        ({"colour": "blue"}, "colour"),
        ({"kind": "soup"}, "kind"),
        ({"as_of": "yesterday"}, "as_of"),
        ({"low": "perhaps"}, "low"),
        ({"search": "\0"}, "search"),
        ({"low": "true", "as_of": "2025-01-01"}, "low"),
        ({"sort": "density"}, "sort"),
    ],
)
def test_it_refuses_a_parameter_it_does_not_know_by_name(
    built: SmallStudio, program: Program, query: dict[str, str], named: str
) -> None:
    answer = program.get("materials/", **query)
    assert answer.status_code == 400
    assert named in answer.json()["errors"]


def test_it_refuses_a_parameter_said_twice(program: Program) -> None:
    answer = program.client.get("/api/materials/?kind=paint&kind=surface")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["kind"])


def test_a_page_holds_a_hundred_and_names_the_next(program: Program) -> None:
    others = program.read("materials/")["count"]
    for _ in range(101):
        make_material()
    first = program.read("materials/")
    assert (first["count"], len(first["results"])) == (101 + others, 100)
    assert "page=2" in first["next"]
    assert len(program.read("materials/", page=2)["results"]) == 1 + others
    for page in ("3", "0", "last page"):
        assert program.get("materials/", page=page).status_code == 404


def test_helpers_see_no_money_and_cannot_put_it_in_order(built: SmallStudio, helper: User) -> None:
    program = Program(helper)
    for path in ("materials/", f"materials/{built.paint.pk}/", "lots/", f"lots/{built.lot.pk}/"):
        answer = program.get(path)
        assert not names_of(answer.json()) & MONEY
        assert not [figure for figure in FIGURES if figure in answer.content.decode()]
    for sort in ("money", "-money"):
        answer = program.get("materials/", sort=sort)
        assert (answer.status_code, list(answer.json()["errors"])) == (400, ["sort"])


def test_lots_tell_what_they_hold_and_where_the_rest_went(built: SmallStudio, program: Program) -> None:
    listed = program.read("lots/", material=built.paint.pk, held="true")["results"]
    assert [lot["id"] for lot in listed] == [built.lot.pk]
    lot = program.read(f"lots/{built.lot.pk}/")
    assert lot["holds"]["amount"] == units(1_500)
    assert lot["delivery"] == built.delivery.pk
    assert lot["mix"] is None
    assert {movement["kind"] for movement in lot["movements"]} >= {"delivery", "session", "stocktake"}
    mixed = program.read(f"lots/{built.batch.lot_id}/")
    assert (mixed["mix"], mixed["origin"]) == (built.batch.pk, "mix")


def test_lists_take_the_same_queries_however_long_they_are(program: Program, owner: User) -> None:
    def grow(count: int) -> None:
        for _ in range(count):
            paint = make_material(reorder_level=units(1))
            make_delivery(lines=[(paint, units(10), money(1))])
            make_recipe(parts=[(paint, 1)])

    paths = ("materials/", "lots/", "alerts/", "recipes/", "suppliers/", "postings/", "deliveries/")
    grow(3)
    few = {path: queries_of(program, path) for path in paths}
    grow(20)
    assert {path: queries_of(program, path) for path in paths} == few


def plan(built: SmallStudio, count: int = 2) -> dict[str, Any]:
    return {
        "lines": [
            {
                "surface": built.canvas.pk,
                "count": count,
                "technique": built.session.pours.get(number=1).technique_id,
                "colours": [{"recipe": built.recipe.pk, "share": 1}],
            }
        ],
        "extra_paint": "0",
    }


def test_the_stock_check_says_what_to_mix_and_what_is_short(built: SmallStudio, program: Program) -> None:
    found = program.send("stock-check/", plan(built), status=200)
    # Four pours of 80 mL on 1,116 cm², and the technique's own 220 µL/cm² as half a pour beside them:
    # exp((½ ln 220 + 4 ln 71.7) ÷ 4½) = 81 µL/cm², and × 1,116 cm² = 90.396 mL each.
    (line,) = found["lines"]
    assert (line["rate"], line["own_pours"]) == (81, 4)
    assert line["paint_each"]["amount"] == 90_396
    assert line["least_paint"]["amount"] < line["paint"]["amount"] < line["most_paint"]["amount"]
    assert found["is_enough"] is True
    many = program.send("stock-check/", plan(built, count=400), status=200)
    assert many["is_enough"] is False
    short = {need["material"]["name"]: need["short"]["amount"] for need in many["needs"]}
    assert short["Canvas 30"] == units(7)  # 400 came, 4 were poured, 3 are planned, 400 are wanted
    assert short["Tap water"] == 0
    assert many["most_sets"] == 0
    # One line alone: however one chooses, it is as many as there is enough for.
    assert many["most_pours"] == many["most_pours_bound"] == many["lines"][0]["most"]
    assert many["choices"] == [
        {"count": 400, **dict.fromkeys(("most", "in_proportion", "filled", "in_order"), many["most_pours"])}
    ]


def test_the_stock_check_writes_nothing_and_bookkeepers_may_ask(
    built: SmallStudio, bookkeeper: User, helper: User
) -> None:
    before = (Posting.objects.count(), Entry.objects.count())
    assert "cost" in Program(bookkeeper).send("stock-check/", plan(built), status=200)
    assert "cost" not in Program(helper).send("stock-check/", plan(built), status=200)
    assert (Posting.objects.count(), Entry.objects.count()) == before


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"lines": []}, "lines"),
        ({"extra_paint": "half"}, "extra_paint"),
        ({"extra_paint": "2"}, "extra_paint"),
        ({"reserved": "0"}, "reserved"),
    ],
)
def test_the_stock_check_names_what_it_cannot_read(
    built: SmallStudio, program: Program, change: dict[str, Any], named: str
) -> None:
    refused = program.refusal("stock-check/", plan(built) | change, status=400)
    assert list(refused["errors"]) == [named]


def test_quantities_are_shown_the_studios_way(program: Program) -> None:
    lot = make_lot(quantity=1_234_500)
    Studio.objects.update(locale="de_DE")
    assert program.read(f"lots/{lot.pk}/")["holds"]["formatted"] == "1\xa0234,5\xa0mL"


def test_alerts_and_reference_rows_are_listed(built: SmallStudio, program: Program) -> None:
    found = program.read("alerts/")["results"]
    [alert] = [row for row in found if (row["material"] or {}).get("id") == built.varnish.pk]
    assert alert["stock"]["level"]["amount"] == units(9_000)
    assert "Limpet & Bung Colours" in {row["name"] for row in program.read("suppliers/")["results"]}
    assert "Ring pour" in {row["name"] for row in program.read("techniques/")["results"]}
    assert "spilled" in {row["code"] for row in program.read("reasons/")["results"]}


def test_recipes_are_told_part_by_part(built: SmallStudio, program: Program, helper: User) -> None:
    found = program.read(f"recipes/{built.recipe.pk}/")
    assert [(part["material"]["name"], part["parts"]) for part in found["versions"][0]["parts"]] == [
        ("Sail Loft White", "2"),
        (built.medium.recipe.makes.name, "1"),
    ]
    assert found["cost_per_100ml"] is not None
    assert "cost_per_100ml" not in Program(helper).read(f"recipes/{built.recipe.pk}/")
    assert [row["name"] for row in program.read("recipes/", search="poured")["results"]] == ["White, poured"]
