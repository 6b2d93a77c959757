"""Do I have enough? The question as a form with an address of its own, the answer in words, cups and packs."""

from datetime import timedelta
from operator import attrgetter
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.models import Posting
from inventory.materials.models import Kind, Material, Supply
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_order,
    make_owner,
    make_recipe,
    make_supplier,
    make_surface,
    make_water,
    money,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db
ENOUGH = "inventory:stock-check"
WAYS = ("need.line.count", "most", "in_proportion", "filled", "in_order")


@pytest.fixture
def canvas(db: None) -> Material:
    """Ten canvases of 1,116 cm², on which ring pours take 0.18 mL/cm² (one fluid ounce per 25 square inches)."""
    Technique.objects.filter(name="Ring pour").update(coverage=180, source="general rule of thumb")
    Studio.objects.update(reserve=0)
    found = make_surface(name="Deep canvas")
    make_lot(material=found, quantity=units(10), cost=money(35))
    return found


@pytest.fixture
def paint(db: None) -> Material:
    """A litre of white for £10."""
    return make_lot(material=make_material(name="Sail Loft White")).material


def ask(user: User, board: Material, *colours: Material, **said: Any) -> Any:
    """The page with the question in its address."""
    asked = {"surface": board.pk, "count": 1, "technique": the_technique().pk}
    asked |= {f"colour_{number}": colour.pk for number, colour in enumerate(colours, start=1)}
    return as_user(user).get(reverse(ENOUGH), asked | said)


def medium() -> RecipeVersion:
    """Home-made medium: 2 parts glue to 1 of water (common practice, no source)."""
    glue = make_material(name="Glue", density=1_090_000, kind=Kind.MEDIUM)
    made = make_material(name="Loft medium", kind=Kind.MEDIUM, density=None)
    return make_recipe(parts=[(glue, 2), (make_water(name="Tap water"), 1)], makes=made)


# The answer


def test_it_says_yes_and_how_far_the_shelf_goes(owner: User, canvas: Material, paint: Material) -> None:
    # 1,116 cm² × 0.18 mL/cm² = 200.88 mL each: four from a litre.
    response = ask(owner, canvas, paint, count=4)
    words = text_of(response)
    assert response.status_code == 200
    assert "Yes Enough for 4 Materials cost" in words
    assert "Sail Loft White 803.5 mL 1 L" in words
    assert "Deep canvas 4 10" in words


def test_it_says_no_and_what_is_short(owner: User, canvas: Material, paint: Material) -> None:
    words = text_of(ask(owner, canvas, paint, count=6))
    # 1,205.28 mL less a litre.
    assert "No Not enough for 6 You have enough for 4. 1 material short." in words
    assert "Sail Loft White 1.21 L 1 L 1 L 205.3 mL" in words


def test_not_even_one_is_said_plainly(owner: User, canvas: Material) -> None:
    words = text_of(ask(owner, canvas, make_material()))
    assert "Not enough for 1 Not enough for even one." in words


def test_the_studios_reserve_stands_where_none_is_typed(
    owner: User, canvas: Material, paint: Material
) -> None:
    Studio.objects.update(reserve=100_000)
    assert "221 mL" in text_of(ask(owner, canvas, paint))  # 200.88 × 1.1
    assert "241.1 mL" in text_of(ask(owner, canvas, paint, reserve="20 %"))
    assert "200.9 mL" in text_of(ask(owner, canvas, paint, reserve="0"))


def test_shares_are_parts(owner: User, canvas: Material, paint: Material) -> None:
    blue = make_material(name="Blue")
    words = text_of(ask(owner, canvas, paint, blue, parts_1="1.5", parts_2="½"))
    assert "Sail Loft White 150.7 mL" in words
    assert "Blue 50.2 mL" in words


def test_it_says_where_the_paint_figure_comes_from(owner: User, canvas: Material, paint: Material) -> None:
    words = text_of(ask(owner, canvas, paint, count=2))
    assert "1,116 cm² 0.18 mL/cm² general rule of thumb 200.9 mL 401.8 mL" in words


def test_each_cup_is_written_out_with_what_the_scale_shows(owner: User, canvas: Material) -> None:
    version = medium()
    words = text_of(ask(owner, canvas, version.recipe.makes))
    # 200.88 mL: two thirds glue at 1.09 g/mL, 133.92 mL = 145.97 g; one third water, 66.96 g; together 212.9 g.
    assert "Loft medium 201 mL" in words
    assert "Glue 134 mL 146 g 146 g" in words
    assert "Tap water 67 mL 66.9 g 212.9 g" in words
    assert "33.3% of it is water" in words
    assert "never runs out" in words


def test_the_scale_is_read_to_its_own_step(owner: User, canvas: Material) -> None:
    Studio.objects.update(scale_step=1000, measuring_step=100)
    makes = medium().recipe.makes
    words = text_of(ask(owner, canvas, makes))
    assert "Glue 133.9 mL 146 g 146 g Tap water 67 mL 67 g 213 g" in words
    Studio.objects.update(measures_by="volume", measuring_step=5000)
    words = text_of(ask(owner, canvas, makes))
    assert "Glue 135 mL 146 g 135 mL Tap water 65 mL 67 g 200 mL" in words


def test_a_part_without_a_density_shows_no_weight(owner: User, canvas: Material) -> None:
    version = make_recipe(parts=[(make_material(name="Unweighed", density=None), 1)])
    assert "Unweighed 201 mL – –" in text_of(ask(owner, canvas, version.recipe.makes))


def test_what_is_mixed_already_goes_first_and_medium_is_mixed_before_the_cups(
    owner: User, canvas: Material, paint: Material
) -> None:
    base = medium()
    make_lot(material=base.parts.all()[0].material)
    make_batch(version=base, quantity=units(50), use_by=timezone.localdate() + timedelta(days=9))
    colour = make_recipe(parts=[(paint, 1), (base.recipe.makes, 1)])
    words = text_of(ask(owner, canvas, colour.recipe.makes))
    first, cups = words.index("Mix first"), words.index("What goes in each cup")
    assert first < cups
    assert "Loft medium 100 mL 50 mL is already mixed; mix 50 mL more." in words[first:cups]


def test_the_water_limit_is_the_studios_own_with_its_reason(
    owner: User, canvas: Material, paint: Material
) -> None:
    Studio.objects.update(water_limit=300_000, water_reason="Cells sink.")
    words = text_of(ask(owner, canvas, medium().recipe.makes))
    assert "Too much water 33.3% of it is water; the limit is 30%. Cells sink." in words


def test_a_bought_paint_is_poured_straight(owner: User, canvas: Material, paint: Material) -> None:
    words = text_of(ask(owner, canvas, paint))
    assert "Sail Loft White 200.9 mL Poured unmixed from the bottle" in words


def test_a_second_surface_shares_the_colours(owner: User, canvas: Material, paint: Material) -> None:
    # A round tile: π/4 × 10² cm² face, 2.5 cm deep sides left unpainted: 78.54 cm².
    tile = make_surface(
        name="Tile", height=10_000, width=10_000, depth=None, is_round=True, sides_painted=False
    )
    make_lot(material=tile, quantity=units(20))
    response = ask(owner, canvas, paint, count=2, surface_2=tile.pk, count_2=12)
    words = text_of(response)
    # A tile takes 3 to the power of 0.3 times the paint for its area: 0.250 mL/cm², so 19.635 mL.
    # 2 × 200.88 + 12 × 19.635 = 637.4 mL of the litre: once over.
    assert "Yes Enough for the whole set Materials cost" in words
    assert "Sail Loft White 637.4 mL" in words
    assert "2 × Deep canvas, Ring pour; 12 × Tile, Ring pour" in words


def test_of_a_set_that_is_too_large_it_says_how_many_pours_there_is_enough_for_and_by_which_choice(
    owner: User, canvas: Material, paint: Material
) -> None:
    """Ten at 180 mL and ten at 90 mL from 2.25 L: 17 at most, 8 of each by equal shares, 10 + 5 in their order."""
    Technique.objects.filter(name="Ring pour").update(coverage=100)
    make_lot(material=paint, quantity=units(1250))
    # One face of 900 cm², so one rate; painted sides 7.5 cm deep make it 1,800 cm².
    large = make_surface(name="Large board", depth=7_500)
    small = make_surface(name="Small board", depth=None, sides_painted=False)
    for board in (large, small):
        make_lot(material=board, quantity=units(10))
    response = ask(owner, large, paint, count=10, surface_2=small.pk, count_2=10)
    words = text_of(response)
    assert "Not enough for the whole set You have enough for 17 of its 20 pours." in words
    rows = [tuple(attrgetter(*WAYS)(row)) for row in response.context["choices"].rows]
    assert rows == [(10, 8, 8, 8, 10), (10, 9, 8, 9, 5)]
    assert response.context["choices"].totals["most"] == 17
    none = text_of(ask(owner, large, make_material(), surface_2=small.pk, count_2=1))
    assert "Not enough for the whole set Not enough for even one." in none


def test_the_second_surface_may_have_a_technique_of_its_own(
    owner: User, canvas: Material, paint: Material
) -> None:
    Technique.objects.filter(name="Dutch pour").update(coverage=100)
    words = text_of(
        ask(owner, canvas, paint, surface_2=canvas.pk, count_2=1, technique_2=the_technique("Dutch pour").pk)
    )
    assert "0.18 mL/cm²" in words
    assert "0.1 mL/cm²" in words


def test_what_is_past_its_day_counts_only_when_asked(owner: User, canvas: Material) -> None:
    glue = make_lot(material=make_material(name="Glue")).material
    version = make_recipe(parts=[(glue, 1)])
    make_batch(version=version, quantity=units(1000), use_by=timezone.localdate() - timedelta(days=1))
    refused = ask(owner, canvas, version.recipe.makes)
    taken = ask(owner, canvas, version.recipe.makes, include_expired="on")
    assert "Not enough for 1" in text_of(refused)
    assert "Enough for 1" in text_of(taken)
    assert "Not enough" not in text_of(taken)


# What to buy


def test_it_names_the_packs_the_supplier_and_the_price_in_his_currency(
    owner: User, canvas: Material, paint: Material
) -> None:
    supplier = make_supplier(name="Limpet Colours", currency="EUR")
    Supply.objects.create(supplier=supplier, material=paint, pack_size=units(120), price=money("7.25"))
    words = text_of(ask(owner, canvas, paint, count=6))
    assert "What to buy Sail Loft White 2 × 120 mL from Limpet Colours €14.50" in words


def test_what_nobody_sells_is_named(owner: User, canvas: Material, paint: Material) -> None:
    assert "No supplier recorded for Sail Loft White" in text_of(ask(owner, canvas, paint, count=6))


def test_what_is_on_its_way_is_not_bought_again(owner: User, canvas: Material, paint: Material) -> None:
    make_order((paint, units(500), money(5)), on=timezone.localdate())
    words = text_of(ask(owner, canvas, paint, count=6))
    assert "The missing items are on order, but not expected by then." in words
    assert "Sail Loft White 1.21 L 1 L 1 L 205.3 mL 500 mL" in words
    assert "What to buy" not in words


def test_the_cost_is_what_the_shelf_holds_it_at(owner: User, canvas: Material, paint: Material) -> None:
    # Two canvases at £3.50 and 401.76 mL at a penny: £7.00 + £4.02.
    assert "Materials cost about £11.02 at today's costs" in text_of(ask(owner, canvas, paint, count=2))


def test_a_cost_that_is_not_known_is_named(owner: User, canvas: Material) -> None:
    words = text_of(ask(owner, canvas, make_material(name="Never bought")))
    assert "Cost not known yet: Never bought." in words


def test_a_helper_plans_and_sees_no_money(helper: User, canvas: Material, paint: Material) -> None:
    supplier = make_supplier(name="Limpet Colours")
    Supply.objects.create(supplier=supplier, material=paint, pack_size=units(120), price=money("7.25"))
    words = text_of(ask(helper, canvas, paint, count=6))
    assert "2 × 120 mL from Limpet Colours" in words
    assert "£" not in words
    assert "Cost" not in words
    assert "Log this session" in words


# The question


def test_asking_writes_nothing(owner: User, canvas: Material, paint: Material) -> None:
    postings = Posting.objects.count()
    with CaptureQueriesContext(connection) as asked:
        ask(owner, canvas, paint)
    written = [query["sql"] for query in asked if query["sql"].split()[0] in ("INSERT", "UPDATE", "DELETE")]
    assert all("session" in sql or "last_login" in sql for sql in written)
    assert Posting.objects.count() == postings
    assert as_user(owner).post(reverse(ENOUGH), {}).status_code == 405


def test_the_page_asks_first_and_answers_nothing(owner: User, canvas: Material, paint: Material) -> None:
    words = text_of(as_user(owner).get(reverse(ENOUGH)))
    assert "What do you want to pour?" in words
    assert "Sail Loft White (1 L)" in words
    assert "What you need" not in words


def test_a_link_may_fill_in_a_colour(owner: User, canvas: Material, paint: Material) -> None:
    response = as_user(owner).get(reverse(ENOUGH), {"colour_1": paint.pk})
    assert response.status_code == 200
    assert f'<option value="{paint.pk}" selected>' in response.content.decode()


def test_the_answer_keeps_the_question(owner: User, canvas: Material, paint: Material) -> None:
    content = ask(owner, canvas, paint, count=7, parts_1="2.5").content.decode()
    assert 'value="7"' in content
    assert 'value="2.5"' in content


@pytest.mark.parametrize(
    ("said", "problem"),
    [
        ({"surface": ""}, "Choose what you pour on"),
        ({"surface": "99999"}, "Select a valid choice"),
        ({"count": "0"}, "from 1 to 999"),
        ({"count": "many"}, "from 1 to 999"),
        ({"technique": ""}, "required"),
        ({"colour_1": ""}, "at least one colour"),
        ({"parts_1": "0"}, "above zero"),
        ({"parts_1": "two"}, "is not a single number"),
        ({"parts_1": "0.0001"}, "at most three decimals"),
        ({"parts_2": "1"}, "Choose the colour for these parts"),
        ({"reserve": "lots"}, "is not a single number"),
        ({"count_2": "3"}, "Choose the second surface"),
    ],
)
def test_what_cannot_be_answered_is_said_in_place(
    owner: User, canvas: Material, paint: Material, said: dict[str, str], problem: str
) -> None:
    response = ask(owner, canvas, paint, **said)
    assert response.status_code == 422
    assert problem in text_of(response)
    assert "What you need" not in text_of(response)


def test_a_colour_chosen_twice_and_a_second_surface_without_a_number_are_refused(
    owner: User, canvas: Material, paint: Material
) -> None:
    response = ask(owner, canvas, paint, paint, surface_2=canvas.pk)
    assert response.status_code == 422
    assert "Sail Loft White is chosen twice" in text_of(response)
    assert "Enter how many of the second surface" in text_of(response)


def test_a_missing_density_is_asked_for_by_name(owner: User, canvas: Material) -> None:
    powder = make_material(name="Powder", measure="mass", density=None)
    response = ask(owner, canvas, powder)
    assert response.status_code == 422
    assert "Powder has no density" in text_of(response)


def test_finishes_water_and_archived_materials_are_no_colours(owner: User, canvas: Material) -> None:
    make_water(name="Tap water")
    make_material(name="Old blue", is_archived=True)
    make_recipe(parts=[(make_material(), 1)], makes=make_material(name="Resin", kind=Kind.FINISH))
    content = as_user(owner).get(reverse(ENOUGH)).content.decode()
    assert "Tap water (" not in content
    assert "Old blue (" not in content
    assert "Resin (" not in content


def test_without_surfaces_or_colours_the_page_teaches(owner: User) -> None:
    words = text_of(as_user(owner).get(reverse(ENOUGH)))
    assert "A plan needs a surface with its size and at least one colour" in words


# Who may, and at what price


def test_a_bookkeeper_may_ask_and_is_not_offered_to_log(
    bookkeeper: User, canvas: Material, paint: Material
) -> None:
    words = text_of(ask(bookkeeper, canvas, paint))
    assert "Enough for 1" in words
    assert "£" in words
    assert "Log this session" not in words


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    assert reverse("login") in client.get(reverse(ENOUGH))["Location"]


def test_hostile_names_are_written_out_harmlessly(owner: User) -> None:
    name = "<script>alert(1)</script>"
    paint, board = make_material(name=f"{name}p"), make_surface(name=f"{name}s")
    version = make_recipe(parts=[(paint, 1)], makes=make_material(name=f"{name}m", colour='"><q'))
    content = ask(owner, board, version.recipe.makes, paint).content.decode()
    assert "<script>alert" not in content
    assert '"><q' not in content


def test_the_answer_asks_as_many_queries_for_few_as_for_many(canvas: Material) -> None:
    user = make_owner()

    def count(colours: list[Material], **said: Any) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert ask(user, canvas, *colours, **said).status_code == 200
        return len(asked)

    colours = [
        make_recipe(parts=[(make_lot().material, 1), (make_lot().material, 2)]).recipe.makes for _ in range(6)
    ]
    few = count(colours[:2])
    for _ in range(20):
        make_lot()
    assert count(colours, surface_2=canvas.pk, count_2=1) == few
