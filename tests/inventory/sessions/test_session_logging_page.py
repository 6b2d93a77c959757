"""Logging a session in one go, and working out the parts of its cups first."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Entry, EntryRole, Lot, Place, Posting
from inventory.materials.models import Kind, Material
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour, Session
from tests.inventory.browsing import KEY, text_of
from tests.inventory.session_bench import Bench, log, sent, value_of
from tests.making import held, make_material, make_recipe, make_surface, units

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


# Logging one


def test_it_logs_three_colours_on_six_alike_canvases_in_one_go(signed: Client, bench: Bench) -> None:
    data = sent(
        cups=[bench.cup(number) for number in range(3)],
        pours=[bench.pours()],
        sundries=[{"material": bench.gloves.pk, "amount": "2"}],
        title="Harbour rings",
        minutes="90",
    )
    response = log(signed, data)

    session = Session.objects.get()
    assert response.status_code == 302
    assert response["Location"] == reverse("inventory:session", args=[session.pk])
    assert (session.title, session.minutes, session.mixes.count(), session.pours.count()) == (
        "Harbour rings", 90, 3, 6,
    )  # fmt: skip
    assert {pour.poured for pour in session.pours.all()} == {units(180)}
    # 6 × 180 mL come to 1,080 mL, a third of it from each 400 mL cup: 40 mL stay in each.
    for mix in session.mixes.all():
        assert held(mix.lot)[0] == units(40)
    assert held(Lot.objects.get(material=bench.gloves))[0] == units(18)


def test_what_was_saved_names_the_labels_to_write_on_the_backs(signed: Client, bench: Bench) -> None:
    def words(alike: str, key: str) -> str:
        pours = [bench.pours(alike=alike, each="50 ml")]
        return text_of(signed.get(log(signed, sent(cups=[bench.cup(0)], pours=pours, key=key))["Location"]))

    said = words("3", KEY)
    labels = ", ".join(pour.label for pour in Pour.objects.order_by("number"))
    assert f"Write these on the backs: {labels}." in said
    said = words("1", "1" * 32)
    assert f"Write {Pour.objects.latest('pk').label} on the back." in said


def test_a_mixed_colour_that_ran_out_is_offered_as_its_recipe_and_kept_where_it_was_chosen(
    signed: Client, bench: Bench
) -> None:
    mixed = bench.recipes[0].recipe.makes
    new = signed.get(reverse("inventory:session-new")).content.decode()
    assert f'value="r{bench.recipes[0].recipe_id}"' in new
    assert f'value="m{mixed.pk}"' not in new

    chosen = sent(cups=[{"contents": f"m{mixed.pk}", "wanted": "50 ml"}], do="parts")
    assert f'value="m{mixed.pk}" selected' in log(signed, chosen).content.decode()

    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="300 ml")]))
    assert f'value="m{mixed.pk}"' in signed.get(reverse("inventory:session-new")).content.decode()


def test_what_was_typed_over_a_planned_part_is_what_is_posted(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    cup = bench.cup(
        0,
        planned_for=f"{version.pk}:{units(400)}",
        **{
            f"amount_{bench.white.pk}": "120 ml",
            f"amount_{bench.medium.pk}": "200 ml",
            f"amount_{bench.water.pk}": "0",
        },
    )
    log(signed, sent(cups=[cup], pours=[bench.pours(alike="1", each="300 ml")]))

    mix = Mix.objects.get()
    drawn = dict(Entry.objects.filter(mix=mix, quantity__gt=0).values_list("material__name", "quantity"))
    assert drawn == {"Sail Loft White": units(120), "Loft medium": units(200)}
    assert held(mix.lot)[0] == units(20)


def test_a_cup_may_be_measured_and_its_rest_thrown_away(signed: Client, bench: Bench) -> None:
    cup = bench.cup(0, measured="390 ml", leftover="discarded", consistency="warm honey")
    log(signed, sent(cups=[cup], pours=[bench.pours(alike="2", each="150 ml")]))

    mix = Mix.objects.get()
    lost = Entry.objects.get(place=Place.LOSS)
    assert (mix.leftover, mix.consistency) == ("discarded", "warm honey")
    assert (lost.quantity, lost.reason.code) == (units(90), "leftover")  # type: ignore[union-attr]


def test_it_pours_straight_from_the_shelf_what_an_earlier_session_left(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="250 ml")]))
    left = Mix.objects.get().lot
    response = log(
        signed,
        sent(
            key="1" * 32,
            cups=[
                {"contents": f"m{left.material_id}", "wanted": "100 ml", f"lot_{left.material_id}": left.pk}
            ],
            pours=[bench.pours(alike="1", each="100 ml")],
        ),
    )
    assert response.status_code == 302
    assert held(left)[0] == units(50)


def test_one_cup_straight_from_a_bottle_need_not_say_how_much_was_in_it(signed: Client, bench: Bench) -> None:
    straight = {"contents": f"m{bench.white.pk}"}
    page = text_of(log(signed, sent(cups=[straight], do="parts")))
    assert "Amount in the cup optional" in page
    assert page.count("Total amount") == 3  # two cups that are not used yet, and the pattern of one more
    log(signed, sent(cups=[straight], pours=[bench.pours(alike="3", each="100 ml")]))
    assert [pour.poured for pour in Pour.objects.all()] == [units(100)] * 3
    assert held(Lot.objects.get(material=bench.white))[0] == units(700)


def test_beside_other_cups_a_bottle_says_how_much_of_it_there_was_to_share(
    signed: Client, bench: Bench
) -> None:
    straight = {"contents": f"m{bench.white.pk}"}
    for other in (bench.cup(1), {"contents": f"m{bench.amber.pk}", "wanted": "50 ml"}):
        refused = log(signed, sent(cups=[straight, other], pours=[bench.pours(alike="1", each="100 ml")]))
        assert "In cup 1, enter how much was in it" in text_of(refused)
    assert not Session.objects.exists()


def test_a_cup_changed_from_a_bottle_to_a_recipe_goes_in_as_planned(signed: Client, bench: Bench) -> None:
    """Without a script nothing had been worked out for the recipe yet, so nothing that was seen is replaced."""
    seen = log(signed, sent(cups=[{"contents": f"m{bench.white.pk}"}], do="parts"))
    cup = bench.cup(0, planned_for=value_of(seen, "cups-0-planned_for"))
    assert log(signed, sent(cups=[cup], pours=[bench.pours(alike="1")])).status_code == 302
    assert held(Mix.objects.get().lot)[0] == units(400 - 180)


def test_amounts_may_differ_from_cup_to_cup_and_failures_are_counted_from_the_end(
    signed: Client, bench: Bench
) -> None:
    row = bench.pours(
        alike="3", each="", cup_1="100 ml", cup_2="50 ml", failed="1", run_off="90 ml", arm="white first"
    )
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=[row]))

    pours = list(Pour.objects.order_by("number"))
    assert [pour.outcome for pour in pours] == ["open", "open", "failed"]
    assert [pour.poured for pour in pours] == [units(150)] * 3
    assert [pour.run_off for pour in pours] == [units(30)] * 3
    assert {pour.arm for pour in pours} == {"white first"}
    doses = Entry.objects.filter(pour=pours[0], role=EntryRole.POURED).values_list("quantity", flat=True)
    assert sorted(doses) == [units(50), units(100)]


def test_a_pour_over_a_failed_one_is_charged_no_second_surface(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="150 ml", failed="1")]))
    failed = Pour.objects.get()
    row = bench.pours(alike="1", surface="", over=failed.pk, each="150 ml")
    response = log(signed, sent(key="1" * 32, cups=[bench.cup(1)], pours=[row]))

    above = Pour.objects.exclude(pk=failed.pk).get()
    assert response.status_code == 302
    assert above.over == failed
    assert not Entry.objects.filter(pour=above, role=EntryRole.SURFACE).exists()


def test_sending_the_same_form_twice_posts_once(signed: Client, bench: Bench) -> None:
    data = sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")])
    first, second = log(signed, data), log(signed, data)
    assert first["Location"] == second["Location"]
    assert Session.objects.count() == 1


def test_minutes_are_stepped_by_five(signed: Client) -> None:
    page = signed.get(reverse("inventory:session-new")).content.decode()
    tag = re.search(r'<input[^>]*name="minutes"[^>]*>', page)
    assert tag is not None
    assert {"data-stepper", 'data-step-by="5"', 'min="0"'} <= set(tag.group().rstrip(">").split())


# Working out the parts


def test_it_works_out_the_parts_and_posts_nothing(signed: Client, bench: Bench) -> None:
    before = Posting.objects.count()
    response = log(signed, sent(cups=[bench.cup(0)], do="parts"))

    assert response.status_code == 200
    assert Posting.objects.count() == before
    assert value_of(response, f"cups-0-amount_{bench.white.pk}") == "100 mL"
    assert value_of(response, f"cups-0-amount_{bench.medium.pk}") == "200 mL"
    assert value_of(response, "key") == KEY
    words = text_of(response)
    # 100 mL at 1.12, 200 mL at 1.06 and 100 mL at 1.00 g/mL on one scale: 112, 324 and 424 g.
    for reading in ("scale shows 112 g", "scale shows 324 g", "scale shows 424 g"):
        assert reading in words
    assert "together 400 mL. 25% of it is water" in words


def test_amounts_typed_over_the_plan_survive_working_out_another_cup(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    typed = {"planned_for": f"{version.pk}:{units(400)}", f"amount_{bench.white.pk}": "111 ml"}
    response = log(signed, sent(cups=[bench.cup(0, **typed), bench.cup(1, "200 ml")], do="parts"))
    assert value_of(response, f"cups-0-amount_{bench.white.pk}") == "111 ml"
    assert value_of(response, f"cups-1-amount_{bench.amber.pk}") == "50 mL"


def test_an_amount_changed_after_the_parts_were_worked_out_is_shown_again_first(
    signed: Client, bench: Bench
) -> None:
    version = bench.recipes[0]
    cup = bench.cup(
        0, "200 ml", planned_for=f"{version.pk}:{units(400)}", **{f"amount_{bench.white.pk}": "100 ml"}
    )
    response = log(signed, sent(cups=[cup], pours=[bench.pours(alike="1", each="150 ml")]))

    assert response.status_code == 422
    assert not Session.objects.exists()
    assert "recalculated" in text_of(response)
    assert value_of(response, f"cups-0-amount_{bench.white.pk}") == "50 mL"


def test_a_mix_of_more_than_half_water_is_warned_of_and_posted_all_the_same(
    signed: Client, bench: Bench
) -> None:
    makes = make_material(name="Wash", kind=Kind.MIX, density=None)
    bench.recipes.append(
        make_recipe(parts=[(bench.white, 1), (bench.water, 2)], makes=makes, name="Thin wash")
    )
    preview = log(signed, sent(cups=[bench.cup(3, "300 ml")], do="parts"))
    assert "Too much water" in text_of(preview)

    posted = log(signed, sent(cups=[bench.cup(3, "300 ml")], pours=[bench.pours(alike="1", each="200 ml")]))
    shown = text_of(signed.get(posted["Location"]))
    assert "Thin wash was 66.7% water" in shown


def test_half_water_exactly_is_not_warned_of(signed: Client, bench: Bench) -> None:
    makes = make_material(name="Wash", kind=Kind.MIX, density=None)
    bench.recipes.append(make_recipe(parts=[(bench.white, 1), (bench.water, 1)], makes=makes))
    assert "Too much water" not in text_of(log(signed, sent(cups=[bench.cup(3)], do="parts")))


def test_an_amount_that_cannot_be_read_is_said_beside_the_cup(signed: Client, bench: Bench) -> None:
    preview = log(signed, sent(cups=[bench.cup(0, "a lot")], do="parts"))
    assert preview.status_code == 200
    assert "does not start with a number" in text_of(preview)


def test_more_rows_can_be_had_without_a_script(signed: Client, bench: Bench) -> None:
    page = log(signed, sent(cups=[bench.cup(0)], do="more-cups")).content.decode()
    assert 'name="cups-3-contents"' in page
    assert 'name="cups-4-contents"' not in page


def test_a_tap_on_a_surface_adds_a_pour_on_it_without_a_script(signed: Client, bench: Bench) -> None:
    other = make_surface(name="Round board")
    data = sent(cups=[bench.cup(0)], pours=[bench.pours(alike="2")])
    once_more = log(signed, data | {"do": f"pour-{bench.canvas.pk}"})
    assert value_of(once_more, "pours-0-alike") == "3"
    beside = log(signed, data | {"do": f"pour-{other.pk}"})
    assert value_of(beside, "pours-0-alike") == "2"
    assert value_of(beside, "pours-1-alike") == "1"
    assert f'<option value="{other.pk}" selected' in beside.content.decode()
    into_the_blank = log(signed, sent(cups=[bench.cup(0)], pours=[{"alike": "1"}], do=f"pour-{other.pk}"))
    assert value_of(into_the_blank, "pours-0-alike") == "1"
    assert 'name="pours-1-alike"' not in into_the_blank.content.decode()


@pytest.mark.parametrize("nonsense", ["pour-", "pour-none", "pour-999999"])
def test_a_tap_on_a_surface_that_is_not_there_adds_nothing(
    signed: Client, bench: Bench, nonsense: str
) -> None:
    page = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="2")], do=nonsense))
    assert value_of(page, "pours-0-alike") == "2"
    assert 'name="pours-1-alike"' not in page.content.decode()


def test_surfaces_to_tap_are_those_in_stock(signed: Client, bench: Bench) -> None:
    make_surface(name="Board of last year")
    page = signed.get(reverse("inventory:session-new")).content.decode()
    assert f'value="pour-{bench.canvas.pk}"' in page
    assert "pour on Board of last year" not in page


def test_a_surface_that_is_not_in_the_list_is_added_with_the_session(signed: Client, bench: Bench) -> None:
    named = bench.pours(alike="2", surface="", new_surface="Slipway board 30 x 40 cm")
    data = sent(cups=[bench.cup(0)], pours=[named])
    refused = signed.post(reverse("inventory:session-new"), data)
    assert "Slipway board 30 x 40 cm" in text_of(refused)  # none of it is in stock, which is asked about
    assert not Session.objects.exists()
    assert not Material.objects.filter(name__startswith="Slipway").exists()
    assert value_of(refused, "pours-0-new_surface") == "Slipway board 30 x 40 cm"
    signed.post(reverse("inventory:session-new"), data | {"confirm_gain": "on"})
    surface = Material.objects.get(name__startswith="Slipway")
    assert {pour.surface for pour in Session.objects.get().pours.all()} == {surface}
    assert {surface.height, surface.width} == {30_000, 40_000}


def test_working_out_the_parts_keeps_a_new_surface_and_adds_nothing(signed: Client, bench: Bench) -> None:
    named = bench.pours(alike="2", surface="", new_surface="Slipway board 30 x 40 cm")
    page = signed.post(reverse("inventory:session-new"), sent(cups=[bench.cup(0)], pours=[named], do="parts"))
    assert page.status_code == 200
    assert value_of(page, "pours-0-new_surface") == "Slipway board 30 x 40 cm"
    figures = signed.post(reverse("inventory:session-figures"), sent(cups=[bench.cup(0)], pours=[named]))
    assert figures.status_code == 200
    assert not Material.objects.filter(name__startswith="Slipway").exists()
