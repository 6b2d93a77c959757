"""Cautions stand beside the step that they are about and before its button, with what the data sheets say."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Kind, Material, SignalWord
from inventory.purchasing.models import Delivery
from inventory.sessions.models import Pour
from tests.inventory.browsing import KEY, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import make_delivery, make_lot, make_material, make_order, make_recipe, money, units

pytestmark = pytest.mark.django_db
DANGER, STATEMENT = "Flow spirit: Danger", "H225: highly flammable liquid and vapour."
STORED = "Keep alcohol, solvents and aerosols cool, closed and upright"


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


@pytest.fixture
def spirit(db: None) -> Material:
    facts = {"signal_word": SignalWord.DANGER, "hazards": STATEMENT}
    return make_material(name="Flow spirit", kind=Kind.MEDIUM, density=790_000, **facts)


def says_before(page: str, words: str, button: str) -> bool:
    return 0 <= page.find(words) < page.rfind(button)


@pytest.mark.parametrize(
    ("words", "step"),
    [
        ("Wear gloves and open a window", "Add a cup"),
        ("Pigment powder harms the lungs", "Add a cup"),
        ("Never use a torch near alcohol or aerosols, or after spraying silicone", "Add other pours"),
        ("Clear paper and cups away first", "Add other pours"),
        ("Never leave the torch lit", "Add other pours"),
        ("Never pour paint down the drain", "Save session"),
        ("hazardous-waste collection", "Save session"),
        ("Follow the label, the data sheet and local rules", "Save session"),
    ],
)
def test_what_can_hurt_stands_at_its_step_of_a_session(
    signed: Client, bench: Bench, words: str, step: str
) -> None:
    assert says_before(text_of(signed.get(reverse("inventory:session-new"))), words, step)


def test_a_cup_says_what_the_data_sheets_say_of_what_goes_in(
    signed: Client, bench: Bench, spirit: Material
) -> None:
    version = make_recipe(parts=[(bench.white, 3), (spirit, 1)], name="Spirit white")
    cups = [{"contents": f"r{version.recipe_id}", "wanted": "100 ml"}, {"contents": f"m{spirit.pk}"}]
    page = text_of(log(signed, sent(cups=cups, do="parts")))
    assert page.count(f"{DANGER} {STATEMENT}") == 2
    figures = text_of(signed.post(reverse("inventory:session-figures"), sent(cups=cups)))
    assert figures.count(DANGER) == 2


def _batch(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    version = make_recipe(parts=[(bench.white, 3), (spirit, 1)], name="Spirit white")
    asked = {"contents": f"r{version.recipe_id}", "wanted": "100 ml"}
    data = {f"cup-{name}": text for name, text in asked.items()} | {"do": "parts"}
    return text_of(signed.post(reverse("inventory:mix-new"), data)), "Save mix"


def _filling(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    version = make_recipe(parts=[(bench.white, 3), (spirit, 1)], name="Spirit white")
    asked = reverse("inventory:cup", args=[version.recipe_id])
    return text_of(signed.get(asked, {"wanted": "100 ml"})), "Rescale the rest"


def _decanted(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    return text_of(signed.get(reverse("inventory:decant", args=[make_lot(material=spirit).pk]))), "Decant"


def _written_off(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    return text_of(
        signed.get(reverse("inventory:write-off", args=[make_lot(material=spirit).pk]))
    ), "Write off"


def _on_its_lot(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    return text_of(signed.get(reverse("inventory:lot", args=[make_lot(material=spirit).pk]))), "Decant"


def _received(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    order = make_order((spirit, units(500), money(9)))
    page = signed.get(reverse("inventory:delivery-new"), {"order": order.pk})
    return text_of(page), "Save"


def _opened(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    line = {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0", "lines-0-material": spirit.pk}
    refused = signed.post(reverse("inventory:opening-stock"), {"key": KEY, "on": "2025-06-10", **line})
    assert refused.status_code == 422
    # What a script shows beside a choice stands on the page for every material; without one the row itself says it.
    return re.sub(
        r"<template.*?</template>", "", refused.content.decode(), flags=re.DOTALL
    ), "Save opening stock"


def _written(signed: Client, bench: Bench, spirit: Material) -> tuple[str, str]:
    version = make_recipe(parts=[(bench.white, 3), (spirit, 1)], name="Spirit white")
    return text_of(signed.get(reverse("inventory:recipe-version", args=[version.recipe_id]))), "Save"


@pytest.mark.parametrize(
    "step", [_batch, _filling, _decanted, _written_off, _on_its_lot, _received, _opened, _written]
)
def test_hazards_stand_before_the_button_wherever_a_material_is_used(
    signed: Client, bench: Bench, spirit: Material, step: Callable[..., tuple[str, str]]
) -> None:
    page, button = step(signed, bench, spirit)
    assert says_before(" ".join(re.sub(r"<[^>]+>", " ", page).split()), f"{DANGER} {STATEMENT}", button)


def test_what_burns_is_stored_as_the_delivery_says_and_other_paint_is_not(
    signed: Client, bench: Bench, spirit: Material
) -> None:
    plain = Delivery.objects.get()
    make_delivery(lines=[(spirit, units(500), money(9))])
    burns = Delivery.objects.latest("pk")
    words = text_of(signed.get(reverse("inventory:delivery", args=[burns.pk])))
    assert DANGER in words
    assert STORED in words
    assert STORED in text_of(signed.get(reverse("inventory:material", args=[spirit.pk])))
    assert STORED not in text_of(signed.get(reverse("inventory:delivery", args=[plain.pk])))


def test_a_write_off_says_how_each_kind_is_disposed_of(
    signed: Client, bench: Bench, spirit: Material
) -> None:
    page, button = _written_off(signed, bench, spirit)
    for words in ("down the drain", "solvents, aerosols and uncured resin", "resin cure before you bin them"):
        assert says_before(page, words, button)


def test_failed_pours_are_scraped_wet_and_thrown_away_dry(signed: Client, bench: Bench) -> None:
    failed: dict[str, Any] = {"alike": "2", "each": "100 ml", "failed": "1"}
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(**failed)]))
    session = Pour.objects.filter(outcome="failed").get().session_id
    page = text_of(signed.get(reverse("inventory:session-throw-away", args=[session])))
    assert page.find("Work wet, and wear a respirator") > 0
    assert page.find("let it settle and dry, then bin the solids") > 0
