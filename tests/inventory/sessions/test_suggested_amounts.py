"""Amounts that the session form suggests while it is typed, and how they follow what they were worked out from."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.sessions.models import Session
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import make_surface, the_technique

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def worked_out(client: Client, **said: Any) -> Any:
    return log(client, sent(**said, do="parts"))


def test_what_a_surface_takes_is_its_area_at_the_rate_of_the_technique(signed: Client, bench: Bench) -> None:
    technique = the_technique("Ring pour")
    page = worked_out(
        signed, cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="", technique=technique.pk)]
    )
    # 30 × 30 cm with 18 mm sides are 1,116 cm²; without pours of its own the technique's figure holds.
    expected = round(1116 * technique.coverage / 1000)
    assert value_of(page, "pours-0-each") == value_of(page, "pours-0-suggested") == f"{expected} mL"


def help_of(page: Any) -> str:
    return str(page.context["draft"].pours.forms[0]["each"].help_text)


def test_own_pours_are_named_only_where_there_are_some(signed: Client, bench: Bench) -> None:
    free = {"cups": [bench.cup(0, "")], "pours": [bench.pours(alike="1", each="")]}
    assert help_of(worked_out(signed, **free)).startswith("Rule of thumb for this technique.")
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="100 ml")]))
    assert help_of(worked_out(signed, **free)).startswith("Suggested from your own pours.")
    typed = {"cups": [bench.cup(0)], "pours": [bench.pours(alike="1", each="100 ml")]}
    assert help_of(worked_out(signed, **typed)).startswith("Run-off is included")


def test_cups_that_hold_less_than_is_suggested_are_shared_by_area(signed: Client, bench: Bench) -> None:
    cups = [bench.cup(0, "200 ml"), bench.cup(1, "100 ml")]
    pours = [bench.pours(alike="2", each=""), bench.pours(alike="1", each="60 ml")]
    page = worked_out(signed, cups=cups, pours=pours)
    assert value_of(page, "pours-0-each") == value_of(page, "pours-0-suggested") == "120 mL"
    assert help_of(page).startswith("What the cups hold, shared by area.")


def test_of_surfaces_that_differ_each_gets_of_the_cups_by_its_area(signed: Client, bench: Bench) -> None:
    # 20 × 30 and 40 × 30 cm without painted sides: 600 and 1,200 cm².
    small, large = (
        make_surface(name=f"Panel {width}", height=30_000, width=width * 1_000, depth=None)
        for width in (20, 40)
    )
    pours = [
        bench.pours(alike="2", surface=small.pk, each=""),
        bench.pours(alike="1", surface=large.pk, each=""),
    ]
    page = worked_out(signed, cups=[bench.cup(0, "200 ml"), bench.cup(1, "40 ml")], pours=pours)
    assert [value_of(page, f"pours-{row}-each") for row in range(2)] == ["60 mL", "120 mL"]
    pours[0]["each"] = "20 ml"  # typed: the other takes what is left
    page = worked_out(signed, cups=[bench.cup(0, "200 ml"), bench.cup(1, "20 ml")], pours=pours)
    assert [value_of(page, f"pours-{row}-each") for row in range(2)] == ["20 ml", "180 mL"]


def test_cups_share_what_the_pours_take_and_a_tenth_more_less_what_is_typed(
    signed: Client, bench: Bench
) -> None:
    cups = [bench.cup(0, ""), bench.cup(1, "60 ml"), bench.cup(2, "")]
    page = worked_out(signed, cups=cups, pours=[bench.pours(alike="3", each="100 ml")])
    # 3 × 100 mL and a tenth more are 330 mL; 60 of them are typed, so that 135 mL are left for each of two.
    assert [value_of(page, f"cups-{number}-wanted") for number in range(3)] == ["135 mL", "60 ml", "135 mL"]


def test_a_suggestion_follows_and_what_was_typed_over_it_stays(signed: Client, bench: Bench) -> None:
    cups = [bench.cup(0, "165 mL", suggested="165 mL"), bench.cup(1, "170 mL", suggested="165 mL")]
    page = worked_out(signed, cups=cups, pours=[bench.pours(alike="4", each="100 ml")])
    assert value_of(page, "cups-0-wanted") == "270 mL"
    assert value_of(page, "cups-1-wanted") == "170 mL"


@pytest.mark.parametrize(
    "said", [{"cup_1": "40 ml"}, {"surface": ""}, {"technique": ""}, {"cups_before": "900 g"}]
)
def test_nothing_is_suggested_where_something_else_says_it_or_something_is_missing(
    signed: Client, bench: Bench, said: dict[str, str]
) -> None:
    page = worked_out(signed, cups=[bench.cup(0)], pours=[bench.pours(**({"each": ""} | said))])
    assert value_of(page, "pours-0-each") == ""


def test_the_total_of_a_cup_follows_its_parts_and_so_does_what_is_suggested_to_pour(
    signed: Client, bench: Bench
) -> None:
    planned = f"{bench.recipes[0].pk}:400000"
    cup = bench.cup(0, "400 ml", planned_for=planned, **{f"amount_{bench.medium.pk}": "80 ml"})
    pours = [bench.pours(alike="4", each="", suggested="")]
    page = worked_out(signed, cups=[cup], pours=pours)
    # 100 mL of paint, 80 of medium and 100 of water for four canvases.
    assert value_of(page, "cups-0-wanted") == "280 mL"
    assert value_of(page, "pours-0-each") == "70 mL"
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "80 ml"
    again = {name: value_of(page, f"cups-0-{name}") for name in ("wanted", "planned_for")}
    again |= {f"amount_{bench.medium.pk}": "200 ml", "added_1": bench.green.name, "added_amount_1": "20 ml"}
    page = worked_out(signed, cups=[cup | again], pours=pours)
    assert value_of(page, "cups-0-wanted") == "420 mL"
    assert page.context["draft"].cups.forms[0]["wanted"].value() == "420 mL"


def test_a_total_that_is_typed_after_it_followed_works_the_parts_out_anew(
    signed: Client, bench: Bench
) -> None:
    cup = bench.cup(
        0,
        "200 ml",
        planned_for=f"{bench.recipes[0].pk}:400000:280000",
        **{f"amount_{bench.medium.pk}": "80 ml"},
    )
    page = worked_out(signed, cups=[cup], pours=[bench.pours(alike="1")])
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "100 mL"


def test_a_cup_that_was_measured_gives_what_was_measured(signed: Client, bench: Bench) -> None:
    cup = bench.cup(0, "400 ml", measured="320 ml")
    page = worked_out(signed, cups=[cup], pours=[bench.pours(alike="4", each="")])
    assert value_of(page, "pours-0-each") == "80 mL"


def test_a_suggestion_goes_with_the_cup_that_it_was_made_for(signed: Client, bench: Bench) -> None:
    cups = [bench.cup(0, ""), {"contents": "", "wanted": "99 mL", "suggested": "99 mL"}]
    page = worked_out(signed, cups=cups, pours=[bench.pours(alike="1", each="100 ml")])
    assert value_of(page, "cups-1-wanted") == ""
    assert value_of(page, "cups-0-wanted") == "110 mL"


def test_an_amount_that_nobody_has_seen_is_not_saved(signed: Client, bench: Bench) -> None:
    answer = log(signed, sent(cups=[bench.cup(0, "")], pours=[bench.pours(each="")]))
    assert answer.status_code == 422
    assert not Session.objects.exists()


def test_without_a_technique_only_that_is_asked_for(signed: Client, bench: Bench) -> None:
    cups, pours = [bench.cup(0, ""), bench.cup(1, "")], [bench.pours(each="", technique="")]
    draft = log(signed, sent(cups=cups, pours=pours)).context["draft"]
    rows = [*draft.cups.forms, *draft.pours.forms, draft.form]
    assert [name for row in rows for name in row.errors] == ["technique"]
    assert not Session.objects.exists()


def test_a_new_row_begins_with_the_technique_used_last_and_alone_says_nothing(
    signed: Client, bench: Bench
) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="100 ml")]))
    used = str(Session.objects.get().pours.get().technique_id)
    page = signed.get(reverse("inventory:session-new"))
    first = page.context["draft"].pours.forms[0]
    assert first["technique"].value() == used
    assert not first.has_changed()
