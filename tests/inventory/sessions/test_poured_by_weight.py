"""Pouring by weight at the bench: grams are turned into millilitres by the density of that very mix, and back."""

from dataclasses import replace
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Material
from inventory.recipes.actions.mixes import MixFacts, planned
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts
from inventory.sessions.actions.weighings import WeighingFacts
from inventory.sessions.models import Pour, Session, Weighing
from inventory.sessions.queries.densities import densities_of, density_of_pour
from inventory.sessions.queries.session_costs import account_of, pour_account
from inventory.sessions.weighing import Readings
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import make_bookkeeper, make_helper, make_owner, make_submission, units
from tests.programs import Program, names_of
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db

# 1 part paint at 1.12, 2 medium at 1.06, 1 water at 1.00 g/mL: (1.12 + 2 × 1.06 + 1.00) ÷ 4, by arithmetic.
DENSITY = 1_060_000


@pytest.fixture
def bench(db: None) -> Bench:
    found = Bench()
    Material.objects.filter(pk=found.water.pk).update(density=1_000_000)
    return found


WEIGHED = {
    "alike": "2",
    "each": "",
    "cups_before": "500 g",
    "cups_after": "182 g",
    "tray_before": "200 g",
    "tray_after": "253 g",
    "surfaces_before": "640 g",
    "surfaces_after": "900 g",
}


def send(signed: Client, bench: Bench, **row: Any) -> Any:
    return log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(**row)]))


def row_errors(response: Any) -> set[str]:
    return set(response.context["draft"].pours.forms[0].errors)


def test_run_off_typed_in_grams_becomes_millilitres_by_the_mix_it_came_from(
    signed: Client, bench: Bench
) -> None:
    assert send(signed, bench, alike="2", run_off="53 g").status_code == 302
    assert [pour.run_off for pour in Pour.objects.all()] == [units(25), units(25)]  # 53 ÷ 1.06 = 50 mL


def test_the_density_is_that_of_the_mix_as_it_was_mixed(signed: Client, bench: Bench) -> None:
    """With 100 mL of water more, 424 + 100 g fill 500 mL: 1.048 g/mL, and 52.4 g are 50 mL."""
    cup = bench.cup(0, planned_for=f"{bench.recipes[0].pk}:400000", **{f"amount_{bench.water.pk}": "200 ml"})
    cup |= {f"amount_{bench.white.pk}": "100 ml", f"amount_{bench.medium.pk}": "200 ml"}
    data = sent(cups=[cup], pours=[bench.pours(alike="1", each="100 ml", run_off="52.4 g")])
    assert log(signed, data).status_code == 302
    pour = Pour.objects.get()
    assert pour.run_off == units(50)
    assert density_of_pour(pour_account(pour)) == 1_048_000


def test_what_was_poured_may_be_typed_in_grams_too(signed: Client, bench: Bench) -> None:
    assert send(signed, bench, alike="1", each="106 g").status_code == 302
    assert Pour.objects.get().poured == units(100)


def test_an_amount_from_one_cup_may_be_typed_in_grams(signed: Client, bench: Bench) -> None:
    assert send(signed, bench, alike="1", each="", cup_1="53 g").status_code == 302
    assert Pour.objects.get().poured == units(50)


def test_grams_of_a_mix_without_a_known_density_name_what_to_weigh(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.medium.pk).update(density=None)
    response = send(signed, bench, alike="2", run_off="53 g")
    assert (response.status_code, row_errors(response)) == (422, {"run_off"})
    assert "Loft medium has no density" in text_of(response)
    assert not Session.objects.exists()
    assert send(signed, bench, alike="2", run_off="50 ml").status_code == 302


def test_cups_before_and_after_say_how_much_was_poured_and_the_tray_how_much_ran_off(
    signed: Client, bench: Bench
) -> None:
    assert send(signed, bench, **WEIGHED).status_code == 302
    assert [(pour.poured, pour.run_off) for pour in Pour.objects.all()] == [(units(150), units(25))] * 2
    (weighing,) = Weighing.objects.all()
    assert (weighing.cups_before, weighing.cups_after, weighing.scale_step) == (500_000, 182_000, 100)
    assert set(weighing.pours.all()) == set(Pour.objects.all())


def test_the_session_shows_where_the_paint_went_in_mass_and_volume(signed: Client, bench: Bench) -> None:
    """318 g left the cups, 53 g ran off, 260 g stayed on: 5 g are missing, 300 mL were poured."""
    send(signed, bench, **WEIGHED)
    (shown,) = signed.get(reverse("inventory:session", args=[Session.objects.get().pk])).context["weighings"]
    rows = [(row.mass, row.volume) for row in shown.table.rows]
    assert rows == [(318_000, units(300)), (53_000, units(50)), (260_000, 245_283), (5_000, 4_717)]
    assert sum(row.share for row in shown.table.rows[1:]) == pytest.approx(1_000_000, abs=2)
    assert shown.is_closed  # a quarter of an hour over 2,232 cm² alone dries 8 g


def test_a_gap_too_large_to_be_usual_is_pointed_out(signed: Client, bench: Bench) -> None:
    send(signed, bench, **WEIGHED | {"surfaces_after": "850 g"})
    words = text_of(signed.get(reverse("inventory:session", args=[Session.objects.get().pk])))
    assert "55 g is missing" in words


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ({"cups_after": ""}, "cups_after"),
        ({"cups_after": "501 g"}, "cups_after"),
        ({"tray_before": "heavy"}, "tray_before"),
        ({"each": "150 ml"}, "each"),
        ({"cup_1": "150 ml"}, "cup_1"),
        ({"run_off": "50 ml"}, "run_off"),
        ({"surfaces_after": "12 ml"}, "surfaces_after"),
    ],
)
def test_weights_that_cannot_be_come_back_by_their_field(
    signed: Client, bench: Bench, row: dict[str, str], field: str
) -> None:
    response = send(signed, bench, **WEIGHED | row)
    assert (response.status_code, row_errors(response)) == (422, {field})
    assert not Session.objects.exists()
    assert 'value="640 g"' in response.content.decode()  # what was typed stays


def test_more_paint_by_weight_than_was_mixed_is_refused_at_its_cup(signed: Client, bench: Bench) -> None:
    response = send(signed, bench, **WEIGHED | {"cups_before": "900 g"})
    assert response.status_code == 422
    assert response.context["draft"].cups.forms[0].errors
    assert not Session.objects.exists()


def test_a_row_may_be_weighed_by_its_tray_alone(signed: Client, bench: Bench) -> None:
    weighed = {"alike": "2", "tray_before": "200 g", "tray_after": "200 g", "drips": "53 g"}
    assert send(signed, bench, **weighed).status_code == 302
    assert [pour.run_off for pour in Pour.objects.all()] == [units(25), units(25)]
    assert "nothing to set against each other" in text_of(
        signed.get(reverse("inventory:session", args=[Session.objects.get().pk]))
    )


def test_a_session_of_many_weighings_asks_no_more_queries(signed: Client, bench: Bench) -> None:
    rows = [bench.pours(**WEIGHED | {"alike": "1", "cups_after": "450 g", "surfaces_after": "680 g",
                                     "tray_after": "205 g"}) for _ in range(5)]  # fmt: skip
    addresses = []
    for number, count in enumerate((1, 5)):
        data = sent(cups=[bench.cup(number)], pours=rows[:count], key=f"{number}" * 32)
        addresses.append(log(signed, data)["Location"])
    few, many = [queries(signed, address) for address in [*addresses, *addresses]][2:]
    assert many == few


def test_run_off_measured_later_may_be_typed_in_grams(signed: Client, bench: Bench) -> None:
    send(signed, bench, alike="1")
    pour = Pour.objects.get()
    page = reverse("inventory:pour", args=[pour.pk])
    Tab(signed, page, page).send(run_off="21.2 g")
    pour.refresh_from_db()
    assert pour.run_off == units(20)
    assert "1.06 g/mL" in text_of(signed.get(page))


def test_run_off_in_grams_without_a_density_leads_to_a_weighed_sample(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.water.pk).update(density=None)
    send(signed, bench, alike="1")
    pour = Pour.objects.get()
    page = reverse("inventory:pour", args=[pour.pk])
    sample = reverse("inventory:material-density", args=[bench.water.pk])
    assert sample in signed.get(page).content.decode()
    assert Tab(signed, page, page).send(run_off="21.2 g").status_code == 422
    Tab(signed, sample, sample).send(sample="100 ml", full="112 g", empty="12 g")
    assert Material.objects.get(pk=bench.water.pk).density == 1_000_000
    Tab(signed, page, page).send(run_off="21.2 g")
    assert Pour.objects.get().run_off == units(20)


def test_the_stock_check_leads_to_a_weighed_sample_too(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.white.pk).update(measure="mass", density=None)
    asked = {"surface": bench.canvas.pk, "count": 1, "technique": bench.ring.pk, "colour_1": bench.white.pk}
    response = signed.get(reverse("inventory:stock-check"), asked)
    assert reverse("inventory:material-density", args=[bench.white.pk]) in response.content.decode()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"sample": ""}, "sample"),
        ({"sample": "50 g"}, "sample"),
        ({"full": "12 g"}, "full"),
        ({"full": "2 g", "empty": ""}, "full"),  # 0.04 g/mL
        ({"empty": "light"}, "empty"),
    ],
)
def test_a_sample_that_cannot_be_is_refused_by_its_field(
    bench: Bench, typed: dict[str, str], field: str
) -> None:
    helper, address = as_user(make_helper()), reverse("inventory:material-density", args=[bench.white.pk])
    known = {"sample": "50 ml", "full": "72 g", "empty": "12 g"}
    response = Tab(helper, address, address).send(**known | typed)
    assert (response.status_code, set(response.context["form"].errors)) == (422, {field})
    assert Material.objects.get(pk=bench.white.pk).density == 1_120_000


def test_only_bought_paint_by_volume_or_weight_has_a_sample_weighed(bench: Bench) -> None:
    helper = as_user(make_helper())
    for material, status in (
        (bench.white, 200), (bench.canvas, 404), (bench.recipes[0].recipe.makes, 404)
    ):  # fmt: skip
        address = reverse("inventory:material-density", args=[material.pk])
        assert helper.get(address).status_code == status
    assert as_user(make_bookkeeper()).get(
        reverse("inventory:material-density", args=[bench.white.pk])
    ).status_code == 403  # fmt: skip


def body(bench: Bench, **change: Any) -> dict[str, Any]:
    pour = {
        "technique": bench.ring.pk,
        "surface": bench.canvas.pk,
        "doses": [{"mix": 1, "quantity": "106 g"}],
        "run_off": "21.2 g",
    }
    weighing = {
        "pours": [1, 2],
        "scale_step": "0.1 g",
        "cups_before": "400 g",
        "cups_after": "188 g",
        "tray_before": {"amount": 0, "measure": "mass"},
        "tray_after": "42.4 g",
        "surfaces_before": "600 g",
        "surfaces_after": "769 g",
    }
    said = {
        "held_on": TODAY.isoformat(),
        "mixes": [{"recipe": bench.recipes[0].recipe_id, "wanted": "400 ml"}],
        "pours": [pour, pour],
        "weighings": [weighing],
    }
    return said | change


def test_a_program_sends_grams_and_reads_how_the_weights_close(bench: Bench) -> None:
    made = Program(make_owner()).send("sessions/", body(bench))
    assert [pour["pour"]["poured"]["amount"] for pour in made["pours"]] == [units(100)] * 2
    assert [pour["pour"]["run_off"]["amount"] for pour in made["pours"]] == [units(20)] * 2
    (weighing,) = made["weighings"]
    assert weighing["pours"] == [pour["pour"]["id"] for pour in made["pours"]]
    assert (weighing["balance"]["poured"]["amount"], weighing["balance"]["gap"]) == (212_000, 600)
    assert weighing["balance"]["verdict"] == "closes"
    assert Studio.current().currency  # the books stand
    assert densities_of(account_of(Session.objects.get()).pours) == dict.fromkeys(weighing["pours"], DENSITY)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"pours": [1, 3]}, "pours"),
        ({"pours": [1, 1]}, "pours"),
        ({"cups_after": "401 g"}, "cups_after"),
        ({"drips": "5 ml"}, "drips"),
        ({"tray": "5 g"}, "tray"),
    ],
)
def test_a_program_is_told_which_weight_is_wrong(bench: Bench, change: dict[str, Any], named: str) -> None:
    wrong = body(bench)
    wrong["weighings"] = [wrong["weighings"][0] | change]
    refused = Program(make_owner()).refusal("sessions/", wrong, status=400)
    assert named in names_of(refused["errors"]["weighings"])
    assert not Session.objects.exists()


def test_a_pour_is_part_of_one_weighing_only(bench: Bench) -> None:
    twice = body(bench)
    twice["weighings"] *= 2
    assert "weighings" in Program(make_owner()).refusal("sessions/", twice, status=400)["errors"]


def test_the_database_refuses_weights_that_cannot_be(signed: Client, bench: Bench) -> None:
    send(signed, bench, **WEIGHED)
    for change in (
        {"cups_after": 600_000},
        {"cups_after": None},
        {"tray_after": 1},
        {"surfaces_before": None},
        {"drips": -1},
        {"scale_step": 0},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            Weighing.objects.update(**change)


def test_weights_in_a_correction_take_the_place_of_earlier_ones(signed: Client, bench: Bench) -> None:
    send(signed, bench, **WEIGHED)
    session, mix = Session.objects.get(), Session.objects.get().mixes.get()
    pours = [
        PourFacts(
            bench.ring, [Dose(pour.poured, mix=0)], surface=bench.canvas, run_off=pour.run_off, pour=pour
        )
        for pour in session.pours.order_by("number")
    ]
    mixed = MixFacts(mix.version, planned(mix.version, units(400)), mix=mix)
    as_it_was = SessionFacts(session.held_on, [mixed], pours)
    correct_session(session=session, facts=as_it_was, submission=make_submission())
    assert Weighing.objects.get().cups_before == 500_000  # nothing was said about weights
    again = WeighingFacts((0, 1), Readings(1_000, cups_before=600_000, cups_after=282_000))
    weighed = replace(as_it_was, weighings=[again])
    correct_session(session=session, facts=weighed, submission=make_submission())
    assert (Weighing.objects.get().cups_before, Weighing.objects.get().pours.count()) == (600_000, 2)
