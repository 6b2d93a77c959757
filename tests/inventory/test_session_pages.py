"""Session pages: logging one in one go, its parts worked out, the list, the session, its pours, and batches."""

import re
from collections.abc import Iterable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory import comparison
from inventory.errors import InventoryError
from inventory.forms.pours import spread
from inventory.models import (
    Entry,
    EntryRole,
    Kind,
    Lot,
    Material,
    Mix,
    Place,
    Posting,
    PostingKind,
    Pour,
    RecipeVersion,
    Session,
)
from inventory.pours import amend_pour
from studio.models import Studio, User
from tests.days import AT, DAY, TODAY
from tests.making import (
    held,
    make_delivery,
    make_helper,
    make_material,
    make_pour,
    make_recipe,
    make_session,
    make_surface,
    make_water,
    money,
    pour_of,
    sell,
    take_back,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db
KEY = "0" * 32
HOSTILE = "<script>alert(1)</script>"


class Bench:
    """A usual set: three colours of paint, medium and water, canvases, and gloves."""

    def __init__(self, *, canvases: int = 10) -> None:
        self.white, self.amber, self.green = (
            make_material(name=name) for name in ("Net Loft White", "Lantern Amber", "Tidewrack Green")
        )
        self.medium = make_material(name="Loft medium", kind=Kind.MEDIUM, density=1_060_000)
        self.water = make_water(name="Tap water")
        self.canvas = make_surface(name="Canvas 30")
        self.gloves = make_material(name="Gloves", kind=Kind.SUNDRY, measure="count")
        make_delivery(
            lines=[
                (self.white, units(1000), money(10)),
                (self.amber, units(500), money(10)),
                (self.green, units(500), money(10)),
                (self.medium, units(3000), money(15)),
                (self.canvas, units(canvases), money("3.50") * canvases),
                (self.gloves, units(20), money(4)),
            ],
            on=TODAY - 5 * DAY,
        )
        self.recipes = [
            self.recipe(name, paint)
            for name, paint in (("White", self.white), ("Amber", self.amber), ("Green", self.green))
        ]
        self.ring = the_technique("Ring")

    def recipe(self, name: str, paint: Material) -> RecipeVersion:
        makes = make_material(name=f"{name}, mixed", kind=Kind.MIX, density=None)
        return make_recipe(
            parts=[(paint, 1), (self.medium, 2), (self.water, 1)], makes=makes, name=f"{name} recipe"
        )

    def cup(self, number: int, wanted: str = "400 ml", **more: Any) -> dict[str, Any]:
        return {"contents": f"r{self.recipes[number].recipe_id}", "wanted": wanted, **more}

    def pours(self, **more: Any) -> dict[str, Any]:
        usual = {"alike": "6", "surface": self.canvas.pk, "technique": self.ring.pk, "each": "180 ml"}
        return usual | more


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


@pytest.fixture
def signed(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def sent(
    *,
    cups: Iterable[dict[str, Any]] = (),
    pours: Iterable[dict[str, Any]] = (),
    sundries: Iterable[dict[str, Any]] = (),
    **head: Any,
) -> dict[str, Any]:
    """A session as the browser sends it, with the rows nobody touched."""
    data: dict[str, Any] = {"key": KEY, "held_on": "2025-06-10"} | head
    untouched = {
        "cups": (3, {"rest": "kept"}),
        "pours": (1, {"alike": "1", "failed": "0"}),
        "sundries": (1, {}),
    }
    for prefix, rows in (("cups", cups), ("pours", pours), ("sundries", sundries)):
        typed = list(rows)
        at_first, row_at_first = untouched[prefix]
        total = max(len(typed), at_first)
        data |= {f"{prefix}-TOTAL_FORMS": str(total), f"{prefix}-INITIAL_FORMS": "0"}
        for number in range(total):
            row = row_at_first | (typed[number] if number < len(typed) else {})
            data |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return data


def text_of(response: Any) -> str:
    """The page's words with all spaces plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


def value_of(response: Any, name: str) -> str:
    """What stands in a field of the page."""
    tag = re.search(rf'<input[^>]*name="{re.escape(name)}"[^>]*>', response.content.decode())
    assert tag is not None, name
    found = re.search(r'value="([^"]*)"', tag.group())
    return found.group(1) if found else ""


def log(client: Client, data: dict[str, Any]) -> Any:
    return client.post(reverse("inventory:session-new"), data)


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
    assert drawn == {"Net Loft White": units(120), "Loft medium": units(200)}
    assert held(mix.lot)[0] == units(20)


def test_a_cup_may_be_measured_and_its_rest_thrown_away(signed: Client, bench: Bench) -> None:
    cup = bench.cup(0, measured="390 ml", rest="discarded", consistency="warm honey")
    log(signed, sent(cups=[cup], pours=[bench.pours(alike="2", each="150 ml")]))

    mix = Mix.objects.get()
    lost = Entry.objects.get(place=Place.LOSS)
    assert (mix.rest, mix.consistency) == ("discarded", "warm honey")
    assert (lost.quantity, lost.cause.code) == (units(90), "leftover")  # type: ignore[union-attr]


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


def test_amounts_may_differ_from_cup_to_cup_and_failures_are_counted_from_the_end(
    signed: Client, bench: Bench
) -> None:
    row = bench.pours(
        alike="3", each="", cup_1="100 ml", cup_2="50 ml", failed="1", run_off="90 ml", arm="new medium"
    )
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=[row]))

    pours = list(Pour.objects.order_by("number"))
    assert [pour.outcome for pour in pours] == ["good", "good", "failed"]
    assert [pour.poured for pour in pours] == [units(150)] * 3
    assert [pour.run_off for pour in pours] == [units(30)] * 3
    assert {pour.arm for pour in pours} == {"new medium"}
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
    assert "together 400 mL, 25 % of it water" in words


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
    assert "worked out afresh" in text_of(response)
    assert value_of(response, f"cups-0-amount_{bench.white.pk}") == "50 mL"


def test_a_mix_of_more_than_half_water_is_warned_of_and_posted_all_the_same(
    signed: Client, bench: Bench
) -> None:
    makes = make_material(name="Wash", kind=Kind.MIX, density=None)
    bench.recipes.append(
        make_recipe(parts=[(bench.white, 1), (bench.water, 2)], makes=makes, name="Thin wash")
    )
    preview = log(signed, sent(cups=[bench.cup(3, "300 ml")], do="parts"))
    assert "More than half is water" in text_of(preview)

    posted = log(signed, sent(cups=[bench.cup(3, "300 ml")], pours=[bench.pours(alike="1", each="200 ml")]))
    shown = text_of(signed.get(posted["Location"]))
    assert "Thin wash was 66.7 % water" in shown


def test_half_water_exactly_is_not_warned_of(signed: Client, bench: Bench) -> None:
    makes = make_material(name="Wash", kind=Kind.MIX, density=None)
    bench.recipes.append(make_recipe(parts=[(bench.white, 1), (bench.water, 1)], makes=makes))
    assert "More than half" not in text_of(log(signed, sent(cups=[bench.cup(3)], do="parts")))


def test_an_amount_that_cannot_be_read_is_said_beside_the_cup(signed: Client, bench: Bench) -> None:
    preview = log(signed, sent(cups=[bench.cup(0, "a lot")], do="parts"))
    assert preview.status_code == 200
    assert "does not begin with a number" in text_of(preview)


def test_more_rows_can_be_had_without_a_script(signed: Client, bench: Bench) -> None:
    page = log(signed, sent(cups=[bench.cup(0)], do="more-cups")).content.decode()
    assert 'name="cups-3-contents"' in page
    assert 'name="cups-4-contents"' not in page


# What is refused


def test_too_little_on_the_shelf_lists_every_shortfall_and_posts_nothing(
    signed: Client, bench: Bench
) -> None:
    before = Posting.objects.count()
    data = sent(cups=[bench.cup(1, "4 l")], pours=[bench.pours(alike="12", each="100 ml")])
    response = log(signed, data)

    words = text_of(response)
    assert response.status_code == 422
    assert Posting.objects.count() == before
    assert "Lantern Amber: 1,000 mL needed, 500 mL on the shelf, 500 mL short." in words
    assert "Canvas 30: 12 each needed, 10 each on the shelf, 2 each short." in words
    assert 'name="confirm_gain"' in response.content.decode()


def test_confirming_that_the_bottles_held_more_posts_the_gain_and_then_the_session(
    signed: Client, bench: Bench
) -> None:
    data = sent(cups=[bench.cup(1, "4 l")], pours=[bench.pours(alike="6", each="500 ml")])
    assert log(signed, data).status_code == 422
    assert log(signed, data | {"confirm_gain": "on"}).status_code == 302

    gain = Posting.objects.get(kind=PostingKind.COUNT_GAIN)
    assert Session.objects.get().posting_id == gain.number + 1
    assert gain.entries.get(place=Place.LOT, material=bench.amber).quantity == units(500)


@pytest.mark.parametrize(
    ("cup", "pour", "said"),
    [
        ({"contents": "", "wanted": "300 ml"}, None, "Choose what is in this cup"),
        ({"wanted": ""}, None, "Say how much of it was mixed"),
        ({}, {"surface": ""}, "Choose the surface"),
        ({}, {"technique": ""}, "Choose how it was poured"),
        ({}, {"each": ""}, "Say how much was poured on each"),
        ({}, {"each": "", "cup_2": "50 ml"}, "Cup 2 is not used"),
        ({}, {"alike": "61"}, "less than or equal to 60"),
        ({}, {"failed": "7"}, "only 6 of them"),
        ({}, {"each": "100 ml", "cup_1": "90 ml"}, "The cups come to 90 mL"),
        ({}, {"alike": "1", "each": "100 ml", "run_off": "120 ml"}, "run-off is part of what was poured"),
        ({}, {"each": "180 ml"}, "only 400 mL was mixed"),
        ({}, {"each": "5 oz"}, "An ounce is a weight"),
    ],
)  # fmt: skip
def test_it_refuses_what_makes_no_sense_beside_its_field_and_posts_nothing(
    signed: Client, bench: Bench, cup: dict[str, str], pour: dict[str, str] | None, said: str
) -> None:
    before = Posting.objects.count()
    rows = [bench.pours(**pour)] if pour is not None else []
    response = log(signed, sent(cups=[bench.cup(0) | cup], pours=rows))
    assert response.status_code == 422
    assert said in text_of(response)
    assert Posting.objects.count() == before


def test_what_was_typed_comes_back_with_the_errors(signed: Client, bench: Bench) -> None:
    response = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(each="")], title=HOSTILE))
    assert value_of(response, "cups-0-wanted") == "400 ml"
    assert HOSTILE not in response.content.decode()
    assert "&lt;script&gt;" in response.content.decode()


def test_an_empty_form_asks_for_a_mix_or_a_pour(signed: Client, bench: Bench) -> None:
    response = log(signed, sent())
    assert response.status_code == 422
    assert "at least one mix or one pour" in text_of(response)


def test_a_seventh_cup_is_refused_kindly(signed: Client, bench: Bench) -> None:
    response = log(signed, sent(cups=[bench.cup(0, "10 ml")] * 7))
    assert response.status_code == 422
    assert "At most 6 rows" in text_of(response)


# Sharing over cups


@given(
    each=st.integers(1, 10**9),
    alike=st.integers(1, 60),
    weights=st.lists(st.integers(0, 10**7), min_size=1, max_size=6).filter(any),
)
def test_shares_give_every_surface_exactly_its_amount_and_no_cup_more_than_its_part(
    each: int, alike: int, weights: list[int]
) -> None:
    rows = list(spread(each, alike, weights))
    assert [sum(row) for row in rows] == [each] * alike
    for column, weight in zip(zip(*rows, strict=True), weights, strict=True):
        assert abs(sum(column) * sum(weights) - each * alike * weight) < sum(weights)
        if each * alike <= sum(weights):
            assert sum(column) <= weight


def test_sharing_over_empty_cups_is_refused() -> None:
    with pytest.raises(InventoryError, match="hold nothing"):
        list(spread(1000, 1, [0, 0]))


# Repeating


def test_repeating_a_session_fills_the_form_and_can_be_posted_as_it_stands(
    signed: Client, bench: Bench
) -> None:
    data = sent(
        cups=[bench.cup(0), bench.cup(1, "200 ml")],
        pours=[bench.pours(alike="3", each="180 ml")],
        sundries=[{"material": bench.gloves.pk, "amount": "2"}],
        title="Harbour rings",
    )
    log(signed, data)
    first = Session.objects.get()
    page = signed.get(reverse("inventory:session-new"), {"repeat": first.pk})

    assert value_of(page, "title") == "Harbour rings"
    assert value_of(page, "cups-0-wanted") == "400 mL"
    assert value_of(page, f"cups-1-amount_{bench.amber.pk}") == "50 mL"
    assert value_of(page, "pours-0-alike") == "3"
    assert value_of(page, "pours-0-each") == "180 mL"
    assert value_of(page, "sundries-0-amount") == "2 each"

    again = {
        name: value_of(page, name) for name in re.findall(r'<input[^>]*name="([^"]+)"', page.content.decode())
    }
    again |= {name: value for name, value in data.items() if name.endswith(("contents", "rest", "surface"))}
    again |= {name: value for name, value in data.items() if name.endswith(("technique", "material"))}
    again = {
        name: value for name, value in again.items() if "__prefix__" not in name and "DELETE" not in name
    }
    assert log(signed, again | {"held_on": "2025-06-10", "confirm_gain": ""}).status_code == 302
    repeated = Session.objects.exclude(pk=first.pk).get()
    assert [p.poured for p in repeated.pours.all()] == [p.poured for p in first.pours.all()]


def test_repeating_keeps_amounts_that_differed_from_cup_to_cup(signed: Client, bench: Bench) -> None:
    row = bench.pours(alike="2", each="", cup_1="100 ml", cup_2="30 ml")
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=[row]))
    page = signed.get(reverse("inventory:session-new"), {"repeat": Session.objects.get().pk})
    assert value_of(page, "pours-0-each") == ""
    assert value_of(page, "pours-0-cup_1") == "100 mL"
    assert value_of(page, "pours-0-cup_2") == "30 mL"


def test_repeating_an_unknown_session_is_not_found(signed: Client, bench: Bench) -> None:
    assert signed.get(reverse("inventory:session-new"), {"repeat": "999"}).status_code == 404
    assert signed.get(reverse("inventory:session-new"), {"repeat": "x"}).status_code == 404


# The session


def test_the_session_shows_parts_by_lot_leftovers_and_what_each_pour_cost(
    signed: Client, bench: Bench
) -> None:
    data = sent(
        cups=[bench.cup(0, rest="residue")], pours=[bench.pours(alike="2", each="180 ml", run_off="72 ml")]
    )
    words = text_of(signed.get(log(signed, data)["Location"]))
    # 180 mL on 1,116 cm² is 0.161 mL/cm²; 36 of 180 mL ran off, a fifth.
    for said in (
        "0.161 mL/cm²",
        "36 mL, 20 %",
        "40 mL, in the cost of the pours",
        "100 mL",
        "Net Loft White",
    ):
        assert said in words
    # White 100 mL of a litre at 10.00 and 200 mL of three at 15.00 make 2.00, and two canvases 7.00.
    assert "£9.00" in words
    assert "£4.50" in words


def test_a_helper_sees_the_session_without_any_money(bench: Bench) -> None:
    client = as_user(make_helper())
    page = text_of(
        client.get(log(client, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")]))["Location"])
    )
    assert "Canvas 30" in page
    assert "£" not in page


def test_a_session_taken_back_says_so_plainly(signed: Client, bench: Bench) -> None:
    where = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")]))["Location"]
    take_back(Session.objects.get().posting)
    page = signed.get(where)
    assert "This session was taken back" in text_of(page)
    assert "Take back this session" not in text_of(page)


def test_arms_are_set_side_by_side_and_other_differences_flagged(signed: Client, bench: Bench) -> None:
    flip = the_technique("Flip cup").pk
    pours = [
        bench.pours(alike="2", each="100 ml", arm="old"),
        bench.pours(alike="2", each="100 ml", arm="new", failed="1", technique=flip),
    ]
    words = text_of(signed.get(log(signed, sent(cups=[bench.cup(0)], pours=pours))["Location"]))
    # Each pour: canvas 3.50 and a quarter of a mix of 2.00. Two good for 8.00; one good for 8.00.
    assert "old 2 2 0 0.09 mL/cm² £8.00 £4.00" in words
    assert "new 2 1 1 0.09 mL/cm² £8.00 £8.00" in words
    assert "Technique: Ring in “old”; Flip cup in “new”." in words


def test_an_arm_without_a_good_pour_has_no_cost_per_good_pour() -> None:
    pours = [comparison.ArmPour("a", False, 5, 100, {}), comparison.ArmPour("b", True, 7, 100, {})]
    arms = comparison.compare(pours)
    assert [arm.cost_per_good_pour for arm in arms] == [None, 7]
    assert comparison.other_differences(pours) == []


def test_amounts_more_than_a_tenth_apart_are_unlike() -> None:
    def arms(first: int, second: int) -> list[comparison.Arm]:
        return [comparison.Arm("a", 1, 1, 0, first), comparison.Arm("b", 1, 1, 0, second)]

    assert not comparison.poured_unlike(arms(200, 180))
    assert comparison.poured_unlike(arms(200, 179))
    assert not comparison.poured_unlike([])


# The list


def test_the_list_filters_by_technique_year_and_words(signed: Client, bench: Bench) -> None:
    log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")], title="Harbour rings"))
    flip = bench.pours(alike="1", technique=the_technique("Flip cup").pk)
    log(signed, sent(key="1" * 32, cups=[bench.cup(1)], pours=[flip], title="Tile day", notes="cold room"))

    def titles(**query: Any) -> list[str]:
        page = text_of(signed.get(reverse("inventory:sessions"), query))
        return [title for title in ("Harbour rings", "Tile day") if title in page]

    assert titles() == ["Harbour rings", "Tile day"]
    assert titles(technique=bench.ring.pk) == ["Harbour rings"]
    assert titles(words="cold") == ["Tile day"]
    assert titles(words="Amber recipe") == ["Tile day"]
    assert titles(year="2025") == ["Harbour rings", "Tile day"]
    assert titles(year="1999") == []
    assert titles(technique="nonsense", year="x") == ["Harbour rings", "Tile day"]


def test_the_list_and_the_session_ask_as_many_queries_for_few_rows_as_for_many(signed: Client) -> None:
    bench = Bench(canvases=80)

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(address).status_code == 200
        return len(counted)

    small = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1", each="50 ml")]))["Location"]
    few, few_in_one = queries(reverse("inventory:sessions")), queries(small)
    for number in range(12):
        row = bench.pours(alike="1", each="5 ml")
        log(signed, sent(key=f"{number + 1:032x}", cups=[bench.cup(0, "20 ml")], pours=[row]))
    large = log(
        signed,
        sent(
            key="f" * 32,
            cups=[bench.cup(0), bench.cup(1), bench.cup(2)],
            pours=[bench.pours(alike="20", each="50 ml"), bench.pours(alike="10", each="5 ml")],
        ),
    )["Location"]
    assert Session.objects.count() == 14
    assert queries(reverse("inventory:sessions")) == few
    assert queries(large) == few_in_one


def test_the_form_asks_as_many_queries_for_few_recipes_as_for_many(signed: Client, bench: Bench) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(reverse("inventory:session-new")).status_code == 200
        return len(counted)

    few = queries()
    for number in range(10):
        bench.recipe(f"Colour {number}", make_material())
        make_surface()
    assert queries() == few


def test_an_empty_list_teaches_what_goes_there(signed: Client) -> None:
    assert "No session yet" in text_of(signed.get(reverse("inventory:sessions")))


# One pour


def test_the_pour_shows_its_lines_each_with_its_posting(signed: Client) -> None:
    pour = make_pour()
    page = signed.get(reverse("inventory:pour", args=[pour.pk]))
    words = text_of(page)
    assert "£3.50" in words
    assert "£2.00" in words
    assert "£5.50" in words
    assert reverse("inventory:posting", args=[pour.session.posting_id]) in page.content.decode()


def test_outcome_run_off_and_notes_are_kept_with_who_changed_them(signed: Client, owner: User) -> None:
    pour = make_pour()
    address = reverse("inventory:pour", args=[pour.pk])
    response = signed.post(address, {"outcome": "failed", "run_off": "60 ml", "notes": HOSTILE})
    assert response.status_code == 302
    pour.refresh_from_db()
    assert (pour.outcome, pour.run_off, pour.notes) == ("failed", units(60), HOSTILE)
    page = signed.get(address)
    assert "marked as failed; run-off 60 mL; notes changed" in text_of(page)
    assert HOSTILE not in page.content.decode()


def test_run_off_above_what_was_poured_is_refused(signed: Client) -> None:
    pour = make_pour(quantity=units(200))
    response = signed.post(
        reverse("inventory:pour", args=[pour.pk]), {"outcome": "good", "run_off": "201 ml", "notes": ""}
    )
    assert response.status_code == 422
    assert "cannot be more than 200 mL" in text_of(response)
    pour.refresh_from_db()
    assert pour.run_off is None


def test_a_sold_pour_cannot_fail_and_one_that_was_poured_over_stays_failed(owner: User) -> None:
    sold = make_pour()
    sell(pours=[sold])
    with pytest.raises(InventoryError, match="has been sold"):
        amend_pour(pour=sold, outcome="failed", run_off=None, notes="", by=owner, at=AT)

    beneath = make_pour(outcome="failed")
    paint = make_material()
    make_delivery(lines=[(paint, units(500), money(5))])
    over = make_session(pours=[pour_of(material=paint, quantity=units(100), over=beneath)]).pours.get()
    with pytest.raises(InventoryError, match=f"lies under {over.label}"):
        amend_pour(pour=beneath, outcome="good", run_off=None, notes="", by=owner, at=AT)


def test_a_pour_of_a_session_taken_back_is_not_changed_any_more(signed: Client) -> None:
    pour = make_pour()
    take_back(pour.session.posting)
    address = reverse("inventory:pour", args=[pour.pk])
    assert "How did it turn out?" not in text_of(signed.get(address))
    response = signed.post(address, {"outcome": "failed", "run_off": "", "notes": ""})
    assert response.status_code == 422
    assert "was taken back" in text_of(response)


def test_the_pour_asks_as_many_queries_for_few_lines_as_for_many(signed: Client, bench: Bench) -> None:
    def queries(pour: Pour) -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(reverse("inventory:pour", args=[pour.pk])).status_code == 200
        return len(counted)

    queries(make_pour())
    few = queries(make_pour())
    row = bench.pours(alike="1", each="180 ml")
    log(signed, sent(cups=[bench.cup(number) for number in range(3)], pours=[row]))
    assert queries(Pour.objects.order_by("-pk")[0]) <= few


# A mix by itself


def test_a_batch_is_posted_with_its_parts_and_leads_to_its_lot(signed: Client, bench: Bench) -> None:
    version = bench.recipes[0]
    data = {
        "key": KEY,
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{version.recipe_id}",
        "cup-wanted": "800 ml",
        "cup-place": "Window shelf",
        "cup-use_by": "2025-07-10",
    }
    response = signed.post(reverse("inventory:mix-new"), data)
    mix = Mix.objects.get()
    assert response["Location"] == reverse("inventory:lot", args=[mix.lot_id])
    assert held(mix.lot) == (units(800), money(4))
    assert (mix.lot.place, str(mix.lot.best_before)) == ("Window shelf", "2025-07-10")


def test_the_batch_page_shows_the_running_totals_of_one_scale(signed: Client, bench: Bench) -> None:
    query: dict[str, str | int] = {"recipe": bench.recipes[0].recipe_id, "wanted": "400 ml"}
    words = text_of(signed.get(reverse("inventory:mix-new"), query))
    assert "scale shows 112 g" in words
    assert "scale shows 424 g" in words


def test_a_batch_beyond_the_shelf_is_refused_until_confirmed(signed: Client, bench: Bench) -> None:
    data = {
        "key": KEY,
        "mixed_on": "2025-06-10",
        "cup-contents": f"r{bench.recipes[1].recipe_id}",
        "cup-wanted": "4 l",
    }
    response = signed.post(reverse("inventory:mix-new"), data)
    assert response.status_code == 422
    assert "500 mL short" in text_of(response)
    assert not Mix.objects.exists()
    assert signed.post(reverse("inventory:mix-new"), data | {"confirm_gain": "on"}).status_code == 302


def test_a_batch_needs_a_recipe_and_an_amount(signed: Client, bench: Bench) -> None:
    response = signed.post(reverse("inventory:mix-new"), {"key": KEY, "mixed_on": "2025-06-10"})
    assert response.status_code == 422
    assert "Choose a recipe" in text_of(response)


def test_without_a_recipe_the_batch_page_teaches_to_write_one(signed: Client) -> None:
    assert "There is no recipe yet" in text_of(signed.get(reverse("inventory:mix-new")))


# Who may


@pytest.mark.parametrize("name", ["sessions", "session-new", "mix-new"])
def test_a_stranger_is_sent_to_the_door(client: Client, name: str) -> None:
    response = client.get(reverse(f"inventory:{name}"))
    assert response.status_code == 302
    assert reverse("login") in response["Location"]


def test_a_bookkeeper_reads_and_writes_nothing(bookkeeper: User, bench: Bench) -> None:
    pour = make_pour()
    client = as_user(bookkeeper)
    page = client.get(reverse("inventory:session", args=[pour.session_id]))
    assert "£5.50" in text_of(page)
    assert "Take back" not in text_of(page)
    assert client.get(reverse("inventory:pour", args=[pour.pk])).status_code == 200
    assert client.get(reverse("inventory:session-new")).status_code == 403
    assert client.get(reverse("inventory:mix-new")).status_code == 403
    refused = client.post(reverse("inventory:pour", args=[pour.pk]), {"outcome": "failed", "notes": ""})
    assert refused.status_code == 403
    pour.refresh_from_db()
    assert pour.outcome == "good"


def test_hostile_names_are_shown_as_text(signed: Client, bench: Bench) -> None:
    Material.objects.filter(pk=bench.canvas.pk).update(name=HOSTILE)
    Studio.objects.update(name=HOSTILE)
    where = log(signed, sent(cups=[bench.cup(0)], pours=[bench.pours(alike="1")], title=HOSTILE))["Location"]
    for address in (where, reverse("inventory:sessions"), reverse("inventory:session-new")):
        assert HOSTILE not in signed.get(address).content.decode()
