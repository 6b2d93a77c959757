"""Too much of a part, typed in the session form: the rest of the cup is rescaled, and nothing is saved."""

from typing import Any

import pytest
from django.test import Client

from inventory.ledger.models import Posting
from inventory.materials.models import Material
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import units

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def rescaled(client: Client, bench: Bench, after: Any, shown: str, do: str = "parts") -> Any:
    """A cup of 100 mL white at 1.12, 200 mL medium at 1.06 and 100 mL water at 1.00 g/mL: 112, 324 and 424 g."""
    version = bench.recipes[0]
    typed = {"planned_for": f"{version.pk}:{units(400)}", "shown_after": after.pk, "shown": shown}
    typed |= {f"amount_{material.pk}": text for material, text in bench_parts(bench).items()}
    return log(client, sent(cups=[bench.cup(0, **typed)], do=do))


def bench_parts(bench: Bench) -> dict[Any, str]:
    return {bench.white: "100 ml", bench.medium: "200 ml", bench.water: "100 ml"}


def test_the_parts_and_the_whole_follow_what_was_shown(signed: Client, bench: Bench) -> None:
    before = Posting.objects.count()
    page = rescaled(signed, bench, bench.white, "140 g")  # 125 mL: a quarter more
    assert value_of(page, "cups-0-wanted") == "500 mL"
    assert value_of(page, f"cups-0-amount_{bench.white.pk}") == "125 mL"
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "250 mL"
    assert value_of(page, f"cups-0-amount_{bench.water.pk}") == "125 mL"
    assert not value_of(page, "cups-0-shown")
    words = page.context["draft"].cups.forms[0].rescaled.replace("\u00a0", " ")
    assert words == (
        "Add 265 g of Loft medium, until it shows 405 g. Add 125 g of Tap water, until it shows 530 g."
    )
    assert Posting.objects.count() == before


def test_what_lies_before_it_is_taken_as_the_form_has_it(signed: Client, bench: Bench) -> None:
    page = rescaled(signed, bench, bench.medium, "377 g")  # 112 g white, then 265 g of medium: 250 mL
    assert value_of(page, f"cups-0-amount_{bench.white.pk}") == "125 mL"
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "250 mL"


def test_near_enough_goes_on_as_planned(signed: Client, bench: Bench) -> None:
    page = rescaled(signed, bench, bench.white, "113 g")
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "200 mL"
    assert page.context["draft"].cups.forms[0].rescaled.startswith("Near enough")


@pytest.mark.parametrize("shown", ["wide", "100 g"])
def test_a_reading_that_makes_no_sense_is_said_and_kept(signed: Client, bench: Bench, shown: str) -> None:
    page = rescaled(signed, bench, bench.medium, shown)
    cup = page.context["draft"].cups.forms[0]
    assert cup.shown_problem
    assert cup.shown_problem in page.content.decode()
    assert value_of(page, "cups-0-shown") == shown
    assert value_of(page, "cups-0-wanted") == "400 ml"


def test_a_reading_that_was_not_used_is_not_dropped_in_silence(signed: Client, bench: Bench) -> None:
    page = rescaled(signed, bench, bench.white, "140 g", do="")
    assert page.status_code == 422
    assert "shown" in page.context["draft"].cups.forms[0].errors


def sampled(bench: Bench, volume: str, weight: str, do: str = "density") -> dict[str, Any]:
    version = bench.recipes[0]
    typed = {"planned_for": f"{version.pk}:{units(400)}", f"amount_{bench.white.pk}": "111 ml"}
    pk = bench.medium.pk
    typed |= {f"sample_{pk}": volume, f"weighs_{pk}": weight, f"seen_{pk}": "0"}
    return sent(cups=[bench.cup(0, **typed)], do=do)


def test_a_missing_density_is_weighed_in_the_form_and_nothing_typed_is_lost(
    signed: Client, bench: Bench
) -> None:
    Material.objects.filter(pk=bench.medium.pk).update(density=None)
    asked = log(signed, sent(cups=[bench.cup(0)], do="parts"))
    assert [material.pk for material, *_rest in asked.context["draft"].cups.forms[0].samples] == [
        bench.medium.pk
    ]
    page = log(signed, sampled(bench, "50 ml", "53 g"))
    bench.medium.refresh_from_db()
    assert bench.medium.density == 1_060_000
    assert value_of(page, f"cups-0-amount_{bench.white.pk}") == "111 ml"
    assert page.context["draft"].cups.forms[0].samples == []


@pytest.mark.parametrize(("volume", "weight"), [("50 ml", ""), ("wide", "53 g"), ("50 ml", "53 kg")])
def test_a_sample_that_makes_no_sense_is_said_and_not_saved(
    signed: Client, bench: Bench, volume: str, weight: str
) -> None:
    Material.objects.filter(pk=bench.medium.pk).update(density=None)
    page = log(signed, sampled(bench, volume, weight))
    assert page.status_code == 200
    assert [message.level_tag for message in page.context["messages"]] == ["error"]
    bench.medium.refresh_from_db()
    assert bench.medium.density is None


def test_a_sample_that_was_not_saved_is_not_dropped_in_silence(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.medium.pk).update(density=None)
    page = log(signed, sampled(bench, "50 ml", "53 g", do=""))
    assert page.status_code == 422
    assert f"sample_{bench.medium.pk}" in page.context["draft"].cups.forms[0].errors


@pytest.mark.parametrize("typed", ["2.5 parts", "2½ parts", "2,5 Teile"])
def test_a_part_may_be_typed_in_parts_of_the_recipe(signed: Client, bench: Bench, typed: str) -> None:
    # 400 mL by 1 : 2 : 1 is 100 mL a part.
    parts = {f"amount_{each.pk}": text for each, text in (bench_parts(bench) | {bench.medium: typed}).items()}
    cup = bench.cup(0, planned_for=f"{bench.recipes[0].pk}:{units(400)}", **parts)
    page = log(signed, sent(cups=[cup], do="parts"))
    assert value_of(page, f"cups-0-amount_{bench.medium.pk}") == "250 mL"
