"""How much runs off, by technique, size and medium, and month by month."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.sessions import Dose, PourFacts
from inventory.sessions.models import Pour
from inventory.sessions.queries.run_off import RunOff, measured_pours, run_off_of
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    make_delivery,
    make_material,
    make_owner,
    make_recipe,
    make_session,
    make_surface,
    make_water,
    money,
    take_back,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


def found() -> RunOff:
    return run_off_of(measured_pours())


def shares(groups: Any) -> dict[Any, int]:
    return {group.key: group.share for group in groups}


def poured(
    run_off: int | None, *, technique: str = "Ring pour", medium: Material | None = None, **facts: Any
) -> Pour:
    """One pour of 100 mL, straight from the bottle or of a mix of paint and a medium in equal parts."""
    surface, paint = facts.pop("surface", None) or make_surface(), make_material()
    days_back = facts.pop("days_back", 0)
    day = TODAY - timedelta(days=days_back)
    lines = [(paint, units(500), money(5)), (surface, units(1), money(1))]
    mixes = []
    if medium is not None:
        lines.append((medium, units(500), money(5)))
        # Tap water is kept among the media, and is none.
        version = make_recipe(parts=[(paint, 1), (medium, 1), (make_water(kind=Kind.MEDIUM), 1)])
        mixes = [MixFacts(version=version, ingredients=planned(version, units(200)))]
    make_delivery(lines=lines, on=day)
    dose = Dose(units(100), mix=0) if mixes else Dose(units(100), material=paint)
    pour = PourFacts(
        technique=the_technique(technique),
        doses=[dose],
        surface=surface,
        run_off=None if run_off is None else units(run_off),
        **facts,
    )
    return make_session(mixes=mixes, pours=[pour], on=day).pours.get()


def test_run_off_is_summed_by_technique() -> None:
    poured(10)
    poured(30)
    poured(50, technique="Swipe")
    poured(None, technique="Dutch pour")
    ring, swipe = sorted(found().by_technique, key=lambda group: group.share)
    assert (ring.key, ring.pours, ring.share, ring.least, ring.largest) == (
        "Ring pour", 2, 200_000, 100_000, 300_000
    )  # fmt: skip
    assert (swipe.key, swipe.share) == ("Swipe", 500_000)


def test_run_off_is_summed_by_size_the_smallest_first() -> None:
    poured(20)
    poured(40, surface=make_surface(height=10_000, width=10_000))
    sizes = found().by_size
    assert [(group.key.height, group.share) for group in sizes] == [(10_000, 400_000), (30_000, 200_000)]  # type: ignore[attr-defined]


def test_run_off_is_summed_by_the_medium_in_the_mix() -> None:
    glue, bought = (make_material(name=name, kind=Kind.MEDIUM) for name in ("Loft glue", "Slackwater"))
    poured(10, medium=glue)
    poured(30, medium=bought)
    poured(20)
    assert shares(found().by_medium) == {"Loft glue": 100_000, "Slackwater": 300_000, "": 200_000}


def test_run_off_is_followed_from_month_to_month() -> None:
    poured(10, days_back=40)
    poured(30)
    assert [group.share for group in found().by_month] == [100_000, 300_000]


def test_a_reversed_session_ran_off_nothing() -> None:
    take_back(poured(10).session.posting)
    assert found().pours == 0


def test_the_page_says_it_in_figures_and_narrows_to_a_technique() -> None:
    poured(10)
    poured(50, technique="Swipe")
    owner, address = as_user(make_owner()), reverse("inventory:run-off")
    words = text_of(owner.get(address))
    assert "2 measured pours" in words
    assert "60 mL ran off of 200 mL poured, 30%" in words
    assert "50%" in words
    narrowed = text_of(owner.get(address, {"technique": the_technique("Ring pour").pk}))
    assert "1 measured pour." in narrowed
    assert "50%" not in narrowed
    assert "Nothing matches" in text_of(owner.get(address, {"first": "2999-01-01"}))


def test_the_page_says_how_to_begin() -> None:
    assert "No run-off has been measured yet" in text_of(
        as_user(make_owner()).get(reverse("inventory:run-off"))
    )


def test_the_page_takes_the_same_queries_however_many_pours_there_are() -> None:
    owner: Client = as_user(make_owner())
    address = reverse("inventory:run-off")
    glue = make_material(kind=Kind.MEDIUM)
    poured(10, medium=glue)
    queries(owner, address)
    few = queries(owner, address)
    for share in (10, 20, 30, 40):
        poured(share, medium=glue)
        poured(share, technique="Swipe", days_back=share)
    assert queries(owner, address) == few


def test_programs_read_the_same_groups() -> None:
    poured(10)
    poured(50, technique="Swipe")
    program = Program(make_owner())
    body = program.read("run-off/")
    assert [(group["name"], group["share"]) for group in body["by_technique"]] == [
        ("Swipe", "0.500000"),
        ("Ring pour", "0.100000"),
    ]
    assert program.read("run-off/", technique=the_technique("Swipe").pk)["pours"] == 1
    assert program.get("run-off/", first="soon").status_code == 400
