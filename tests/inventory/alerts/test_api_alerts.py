"""Alerts over JSON: listed with reasons and filtered, acknowledged, snoozed, shown again."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.alerts.models import Alert
from studio.accounts.models import User
from tests.days import DAY, TODAY
from tests.inventory.alerts.looking import look, low_material
from tests.making import make_delivery, make_lot, make_material, money, units
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


@pytest.fixture
def alert(db: None) -> Alert:
    low_material(name="Sail Loft White")
    look()
    return Alert.objects.get()


def test_an_alert_has_its_reason_and_its_figures(alert: Alert, program: Program) -> None:
    [row] = program.read("alerts/")["results"]
    assert row["material"] == {"id": alert.material_id, "name": "Sail Loft White"}
    assert (row["kind"], row["state"], row["since"]) == ("to_reorder", "open", "2025-06-10")
    assert row["reason"].replace("\xa0", " ") == "100 mL left; reorder level 250 mL. Your own level."
    assert row["stock"]["level"]["amount"] == units(250)
    [level] = program.read("reorder-levels/", low="true")["results"]
    assert {name: level[name] for name in row["stock"]} == row["stock"]
    assert "figures" not in row


def test_the_list_is_filtered(alert: Alert, program: Program) -> None:
    make_material(name="Used up", reorder_level=units(250))
    look()

    def kinds(**query: object) -> list[str]:
        return [row["kind"] for row in program.read("alerts/", **query)["results"]]

    assert sorted(kinds()) == ["out", "to_reorder"]
    assert kinds(kind="out") == ["out"]
    assert kinds(material=alert.material_id) == ["to_reorder"]
    assert kinds(state="cleared") == []
    assert program.get("alerts/", kind="forgotten").status_code == 400
    assert program.get("alerts/", state="lost").status_code == 400


def test_a_program_acknowledges_snoozes_and_shows_again(alert: Alert, program: Program, owner: User) -> None:
    until = (timezone.localdate() + timedelta(days=3)).isoformat()
    snoozed = program.send(f"alerts/{alert.pk}/snooze/", {"until": until}, status=200)
    assert (snoozed["state"], snoozed["snoozed_until"]) == ("snoozed", until)
    assert program.send(f"alerts/{alert.pk}/show-again/", status=200)["state"] == "open"
    done = program.send(f"alerts/{alert.pk}/acknowledge/", status=200)
    assert done["state"] == "acknowledged"
    assert [(event["what"], event["by"]) for event in done["events"]] == [
        ("raised", None),
        ("snoozed", owner.username),
        ("reopened", owner.username),
        ("acknowledged", owner.username),
    ]


def test_refusals_say_what_to_do(alert: Alert, program: Program) -> None:
    problem = program.refusal(f"alerts/{alert.pk}/snooze/", {"until": "2020-01-01"}, status=400)
    assert "until" in problem["errors"]
    program.refusal(f"alerts/{alert.pk}/snooze/", {}, status=400)
    assert alert.material is not None
    make_lot(material=alert.material, quantity=units(1_000))
    look()
    assert "cleared" in program.refusal(f"alerts/{alert.pk}/acknowledge/", status=409)["detail"]


def test_helpers_see_nothing_that_tells_about_money(helper: User, owner: User) -> None:
    paint = make_material()
    for ago, price in ((60, 10), (30, 10), (0, 20)):
        make_delivery(lines=[(paint, units(100), money(price))], on=TODAY - ago * DAY)
    look()
    number = Alert.objects.get().pk
    assert Program(owner).read(f"alerts/{number}/")["kind"] == "price_jump"
    assert Program(helper).read("alerts/")["results"] == []
    assert Program(helper).get(f"alerts/{number}/").status_code == 404


def test_a_bookkeeper_reads_and_changes_nothing(alert: Alert, bookkeeper: User) -> None:
    assert Program(bookkeeper).read(f"alerts/{alert.pk}/")["state"] == "open"
    Program(bookkeeper).refusal(f"alerts/{alert.pk}/acknowledge/", status=403)
