"""A dash of something else in one cup: it comes on top of the recipe, from its own lot, and stays with that cup."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Entry, Lot, Place
from inventory.recipes.models import Mix, RecipePart
from inventory.sessions.models import Session
from studio.accounts.models import User
from tests.days import DAY, TODAY
from tests.inventory.browsing import KEY, text_of
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import held, make_delivery, money, units
from tests.programs import Program

pytestmark = pytest.mark.django_db

# 400 mL by 1 : 2 : 1 hold 100 mL white at 0.01 and 200 mL medium at 0.005: 2.00. Of amber a mL costs 0.02.
DASH = {"added_1": "lantern  AMBER", "added_amount_1": "5 ml"}


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def drawn_into(mix: Mix) -> dict[str, tuple[int, int]]:
    entries = Entry.objects.filter(mix=mix, place=Place.MIX, quantity__gt=0).select_related("lot__material")
    return {entry.material.name: (entry.quantity, entry.money) for entry in entries}


def test_a_dash_comes_on_top_of_the_recipe_at_its_own_cost(signed: Client, bench: Bench) -> None:
    parts = list(RecipePart.objects.values())
    response = log(signed, sent(cups=[bench.cup(0, **DASH)], pours=[bench.pours(alike="2", each="200 ml")]))
    session = Session.objects.get()
    mix = session.mixes.get()
    assert response["Location"] == reverse("inventory:session", args=[session.pk])
    assert drawn_into(mix)["Lantern Amber"] == (units(5), money("0.10"))
    # 2.10 for 405 mL, of which 5 mL are kept: 2.10 × 5 / 405
    assert held(mix.lot) == (units(5), 25_926)
    assert held(Lot.objects.get(material=bench.amber))[0] == units(495)
    assert list(RecipePart.objects.values()) == parts, "the recipe stays as it is"
    assert "Lantern Amber" in text_of(signed.get(response["Location"]))


def test_its_bottle_can_be_chosen_once_it_is_named(signed: Client, bench: Bench) -> None:
    make_delivery(lines=[(bench.amber, units(100), money(9))], on=TODAY - DAY)
    newer = Lot.objects.filter(material=bench.amber).latest("pk")
    page = log(signed, sent(cups=[bench.cup(0, **DASH)], do="parts"))
    assert f'name="cups-0-lot_{bench.amber.pk}"' in page.content.decode()
    chosen: dict[str, Any] = {f"lot_{bench.amber.pk}": newer.pk}
    log(signed, sent(cups=[bench.cup(0, **DASH, **chosen)], pours=[bench.pours(alike="1")]))
    assert held(newer)[0] == units(95)


def test_what_it_adds_stands_in_the_total_while_one_types(signed: Client, bench: Bench) -> None:
    page = log(signed, sent(cups=[bench.cup(0, **DASH)], do="parts"))
    cup = page.context["draft"].cups.forms[0]
    assert cup.totals.total.replace("\u00a0", " ") == "405 mL"
    assert value_of(page, "cups-0-added_2") == "", "there is room for another"


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"added_1": "Lantern Amber"}, "added_amount_1"),
        ({"added_amount_1": "5 ml"}, "added_1"),
        ({"added_1": "Salt of the moon", "added_amount_1": "5 ml"}, "added_1"),
        ({"added_1": "Loft medium", "added_amount_1": "5 ml"}, "added_1"),
        (DASH | {"added_2": "Lantern Amber", "added_amount_2": "1 ml"}, "added_2"),
        ({"added_1": "Lantern Amber", "added_amount_1": "a bit"}, "added_amount_1"),
    ],
    ids=["no amount", "no name", "unknown", "in the recipe", "twice", "unreadable"],
)
def test_what_cannot_be_added_is_said_where_it_was_typed(
    signed: Client, bench: Bench, typed: dict[str, Any], field: str
) -> None:
    page = log(signed, sent(cups=[bench.cup(0, **typed)], pours=[bench.pours()]))
    assert page.status_code == 422
    assert list(page.context["draft"].cups.forms[0].errors) == [field]
    assert not Session.objects.exists()


def test_a_session_is_repeated_with_its_dash(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0, **DASH)], pours=[bench.pours(alike="2", each="200 ml")]))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    assert value_of(page, "cups-0-added_1") == "Lantern Amber"
    assert value_of(page, "cups-0-added_amount_1") == "5 mL"
    assert value_of(page, f"cups-0-amount_{bench.white.pk}") == "100 mL"


def test_a_batch_outside_a_session_takes_a_dash_too(signed: Client, bench: Bench) -> None:
    dash = {f"cup-{name}": text for name, text in DASH.items()}
    cup = {"cup-contents": f"r{bench.recipes[0].recipe_id}", "cup-wanted": "400 ml"}
    signed.post(reverse("inventory:mix-new"), {"key": KEY, "mixed_on": "2025-06-10"} | cup | dash)
    assert held(Mix.objects.get().lot) == (units(405), money("2.10"))


def test_a_program_adds_a_dash_to_what_it_wants(owner: User, bench: Bench) -> None:
    dash = {"material": bench.amber.pk, "quantity": "3 drops"}
    body = {
        "recipe": bench.recipes[0].recipe_id,
        "on": TODAY.isoformat(),
        "wanted": "400 ml",
        "added": [dash],
    }
    answer = Program(owner).post("mixes/", body).json()
    mix = Mix.objects.get(pk=answer["id"])
    assert drawn_into(mix)["Lantern Amber"][0] == 150, "a drop is 0.05 mL"
    assert answer["estimates"] == [{"material": bench.amber.pk, "typed": "3 drops"}]
