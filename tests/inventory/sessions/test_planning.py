"""Do I have enough for this set? The question she asks most, in her own figures."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.errors import InventoryError
from inventory.ledger.models import Lot
from inventory.materials.models import Material, Supply
from inventory.recipes.calculations import RecipeCycleError
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Technique
from inventory.sessions.queries.needs import Need
from inventory.sessions.queries.planning import Answer, Colour, SetLine, SetPlan, plan_set
from inventory.shopping.queries import with_what_to_buy
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.making import (
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_order,
    make_recipe,
    make_supplier,
    make_surface,
    make_water,
    money,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db
MILLION = 1_000_000


def ask(*lines: SetLine, **asked: Any) -> Answer:
    return plan_set(SetPlan(lines, **asked), on=TODAY)


def squares(count: int, *colours: Material, surface: Material | None = None) -> SetLine:
    """Ring pours on 30 × 30 cm canvases, colours in equal shares."""
    return SetLine(
        surface or make_surface(), count, the_technique(), [Colour(colour, 1) for colour in colours]
    )


def need_of(answer: Answer, material: Material) -> Need:
    return next(need for need in answer.needs if need.material == material)


def rate_is(coverage: int) -> None:
    Technique.objects.filter(name="Ring pour").update(coverage=coverage)


def medium_recipe(**facts: Any) -> RecipeVersion:
    """Home-made medium: 2 parts glue to 1 of water (common practice, no source)."""
    return make_recipe(parts=[(make_material(name="Glue", density=1_090_000), 2), (make_water(), 1)], **facts)


def test_six_squares_with_painted_sides_at_018_take_1205_ml() -> None:
    """1,116 cm² × 0.18 mL/cm² × 6 = 1,205.28 mL; 0.18 is one fluid ounce per 25 square inches (common practice)."""
    rate_is(180)
    paint = make_material()
    answer = ask(squares(6, paint))
    assert (answer.lines[0].area, answer.lines[0].paint) == (1_116_000, 1_205_280)
    assert need_of(answer, paint).needed == 1_205_280


def test_the_reserve_comes_on_top() -> None:
    rate_is(180)
    paint = make_material()
    assert need_of(ask(squares(1, paint), reserve=100_000), paint).needed == 220_968  # 200.88 × 1.1


def test_surfaces_count_too() -> None:
    canvas = make_surface()
    make_delivery(lines=[(canvas, units(4), money(14))])
    need = need_of(ask(squares(6, make_material(), surface=canvas)), canvas)
    assert (need.needed, need.held, need.short) == (units(6), units(4), units(2))


def test_a_plan_that_the_shelf_covers_is_enough() -> None:
    paint, canvas = make_material(), make_surface()
    make_delivery(lines=[(canvas, units(6), money(14)), (paint, units(2000), money(20))])
    answer = ask(squares(6, paint, surface=canvas))
    assert answer.is_enough
    assert (answer.buy, answer.nobody_sells, answer.cost_unknown) == ((), (), ())


def test_home_made_medium_expands_to_glue_and_water_and_water_is_never_short() -> None:
    rate_is(180)
    version = medium_recipe()
    answer = ask(squares(1, version.recipe.makes))
    glue, water = (need_of(answer, part.material) for part in version.parts.all())
    assert (glue.needed, glue.short) == (133_920, 133_920)  # two thirds of 200.88 mL
    assert (water.needed, water.held, water.short) == (66_960, None, 0)


def test_medium_already_made_is_used_before_any_is_mixed() -> None:
    rate_is(180)
    version = medium_recipe()
    glue = version.parts.first().material  # type: ignore[union-attr]
    make_delivery(lines=[(glue, units(1000), money(6))])
    make_batch(version=version, quantity=units(150))
    answer = ask(squares(1, version.recipe.makes))
    (cup,) = answer.cups
    assert (cup.from_stock, cup.to_mix, cup.total) == (150_000, 50_880, 200_880)
    assert need_of(answer, glue).needed == 33_920


def test_what_goes_into_other_mixes_is_mixed_first() -> None:
    rate_is(180)
    inner = medium_recipe()
    paint = make_material()
    colour = make_recipe(parts=[(paint, 1), (inner.recipe.makes, 1)])
    answer = ask(squares(1, colour.recipe.makes))
    assert [cup.material for cup in answer.mix_first] == [inner.recipe.makes]
    assert [cup.material for cup in answer.cups] == [colour.recipe.makes]
    assert answer.mix_first[0].to_mix == 100_440


def test_a_cup_tells_volumes_masses_and_what_one_scale_shows() -> None:
    """100.44 mL each of paint at 1.12 and medium at 1.05 g/mL: 112.4928 g, then 105.462 g more.

    On a scale that tells 0.1 g and in a cup that tells 1 mL.
    """
    rate_is(180)
    paint, medium = make_material(density=1_120_000), make_material(density=1_050_000)
    version = make_recipe(parts=[(paint, 1), (medium, 1)])
    (cup,) = ask(squares(1, version.recipe.makes)).cups
    assert [(part.volume, part.mass) for part in cup.parts] == [(100_440, 112_493), (100_440, 105_462)]
    assert [(part.weighed, part.scale_shows) for part in cup.parts] == [
        (112_500, 112_500),
        (105_500, 218_000),
    ]
    assert [(part.measured, part.cup_shows) for part in cup.parts] == [(100_000, 100_000), (101_000, 201_000)]
    assert (cup.to_mix, cup.mixed) == (200_880, 201_000)


def test_without_a_density_a_cup_has_volumes_only() -> None:
    version = make_recipe(parts=[(make_material(density=None), 1)])
    (cup,) = ask(squares(1, version.recipe.makes)).cups
    assert (cup.parts[0].mass, cup.parts[0].scale_shows) == (None, None)
    assert [material.pk for material in cup.unweighed] == [cup.parts[0].material.pk]


def test_what_is_too_little_to_measure_is_counted_in_drops() -> None:
    """0.2 mL of oil in 200 mL: four drops of 0.05 mL."""
    rate_is(180)
    Studio.objects.update(scale_step=1000)
    version = make_recipe(parts=[(make_material(), 999), (make_material(), 1)])
    (cup,) = ask(squares(1, version.recipe.makes)).cups
    assert [(part.measured, part.drops) for part in cup.parts] == [(201_000, 0), (0, 4)]


def test_a_cup_of_more_than_half_water_earns_a_warning() -> None:
    """The water inside home-made medium counts: paint 1, medium 2, water 1 is 42 %, with two parts water 53 %."""
    medium = make_material(water_share=333_333)
    paint, water = make_material(), make_water()
    fair = make_recipe(parts=[(paint, 1), (medium, 2), (water, 1)])
    thin = make_recipe(parts=[(paint, 1), (medium, 2), (water, 2)])
    first, second = ask(squares(1, fair.recipe.makes, thin.recipe.makes)).cups
    assert (first.water_share, first.is_too_watery) == (416_667, False)
    assert (second.water_share, second.is_too_watery) == (533_333, True)


def test_shares_of_the_colours_add_up_to_the_paint() -> None:
    rate_is(181)
    paints = [make_material() for _ in range(3)]
    answer = ask(squares(1, *paints))
    assert sum(need_of(answer, paint).needed for paint in paints) == answer.lines[0].paint == 201_996


def test_a_colour_counted_by_weight_is_needed_by_weight() -> None:
    rate_is(180)
    paste = make_material(measure="mass", density=1_500_000)
    assert need_of(ask(squares(1, paste)), paste).needed == 301_320  # 200.88 mL × 1.5 g/mL


def test_a_missing_density_is_asked_for_by_name() -> None:
    paste = make_material(name="Stone paste", measure="mass", density=None)
    with pytest.raises(InventoryError, match="Stone paste has no density"):
        ask(squares(1, paste))
    version = make_recipe(parts=[(paste, 1)])
    with pytest.raises(InventoryError, match="Stone paste has no density"):
        ask(squares(1, version.recipe.makes))


def test_lots_past_their_day_are_left_out_unless_asked_for() -> None:
    paint = make_material()
    old, good = make_lot(material=paint, quantity=units(100)), make_lot(material=paint, quantity=units(50))
    Lot.objects.filter(pk=old.pk).update(best_before=TODAY - DAY)
    Lot.objects.filter(pk=good.pk).update(best_before=TODAY)
    need = need_of(ask(squares(1, paint)), paint)
    assert (need.held, need.expired) == (units(50), units(100))
    need = need_of(ask(squares(1, paint), include_expired=True), paint)
    assert (need.held, need.expired) == (units(150), 0)


def test_it_tells_how_many_could_be_poured_at_most() -> None:
    """250 mL each: medium for two is mixed from 500 mL of glue and water, and the third already stands there."""
    rate_is(224)
    canvas, version = make_surface(), medium_recipe()
    glue = version.parts.first().material  # type: ignore[union-attr]
    make_delivery(lines=[(canvas, units(9), money(9)), (glue, units(500), money(6))])
    make_batch(version=version, quantity=units(240))
    answer = ask(squares(1, version.recipe.makes, surface=canvas))
    assert answer.lines[0].most == 3  # 340 mL of glue make 510 mL, and 240 mL stand there: 750 ÷ 249.98
    assert answer.most_sets == 3


def test_a_set_can_be_made_as_often_as_its_scarcest_part_allows() -> None:
    large, small, paint = make_surface(), make_surface(height=10_000, width=10_000), make_material()
    make_delivery(
        lines=[(large, units(4), money(9)), (small, units(9), money(9)), (paint, units(9000), money(9))]
    )
    answer = ask(squares(1, paint, surface=large), squares(4, paint, surface=small))
    assert answer.most_sets == 2
    assert [line.most for line in answer.lines] == [4, 9]


def test_of_a_set_that_is_too_large_it_tells_how_many_pours_there_is_enough_for_at_most() -> None:
    """Ten boards at 180 mL and ten at 90 mL from 2.25 L: 17, of which 8 large ones have the greater area."""
    rate_is(100)
    paint = make_material()
    make_lot(material=paint, quantity=units(2250))
    # One face of 900 cm², so one rate; painted sides 7.5 cm deep make it 1,800 cm².
    large, small = make_surface(depth=7_500), make_surface(depth=None, sides_painted=False)
    for board in (large, small):
        make_lot(material=board, quantity=units(10))
    answer = ask(squares(10, paint, surface=large), squares(10, paint, surface=small))
    assert (answer.at_most.most.total, answer.at_most.most.is_proven, answer.asked) == (17, True, 20)
    assert [(row.most, row.in_proportion, row.filled, row.in_order) for row in answer.choices] == [
        (8, 8, 8, 10),
        (9, 8, 9, 5),
    ]
    assert answer.most_sets == 0


@pytest.mark.parametrize(("held", "short"), [(200_880, 0), (200_870, 0), (200_869, 11)])
def test_a_hundredth_of_a_millilitre_too_little_is_not_short(held: int, short: int) -> None:
    rate_is(180)
    paint = make_material()
    make_lot(material=paint, quantity=held)
    answer = ask(squares(1, paint))
    assert need_of(answer, paint).short == short
    assert answer.lines[0].most == 0  # no canvas


def test_what_is_short_and_not_on_its_way_is_bought_in_whole_packs() -> None:
    rate_is(180)
    paint, shop = make_material(), make_supplier(currency="EUR")
    Supply.objects.create(supplier=shop, material=paint, pack_size=units(120), price=money(3))
    make_lot(material=paint, quantity=units(50))
    make_order((paint, units(25)), supplier=shop)
    answer = with_what_to_buy(ask(squares(1, paint)), TODAY, is_kept=False)
    need = need_of(answer, paint)
    assert (need.short, need.on_order) == (150_880, units(25))
    (buy,) = answer.buy
    assert (buy.quantity, buy.cost, buy.currency) == (units(240), money(6), "EUR")


def test_what_nobody_sells_is_named() -> None:
    paint, canvas = make_material(), make_surface()
    answer = with_what_to_buy(ask(squares(1, paint, surface=canvas)), TODAY, is_kept=False)
    assert set(answer.nobody_sells) == {paint, canvas}


def test_the_set_is_costed_at_present_unit_costs() -> None:
    rate_is(180)
    canvas, version = make_surface(), medium_recipe()
    glue = version.parts.first().material  # type: ignore[union-attr]
    make_delivery(lines=[(canvas, units(10), money(35)), (glue, units(1000), money(9))])
    make_batch(version=version, quantity=units(150))  # 100 mL of glue: 0.90
    answer = ask(squares(1, version.recipe.makes, surface=canvas))
    assert answer.cost == money("3.50") + money("0.90") + 305_280  # 33.92 mL more glue at 0.009
    assert answer.cost_unknown == ()
    assert ask(squares(1, make_material(name="New"))).cost_unknown[-1].name == "New"


def test_it_refuses_a_plan_that_makes_no_sense() -> None:
    paint = make_material()
    for lines, asked, told in (
        ([], {}, "at least one surface"),
        ([squares(0, paint)], {}, "one or more"),
        ([squares(1)], {}, "at least one colour"),
        ([squares(1, make_surface())], {}, "cannot be poured"),
        ([squares(1, paint)], {"reserve": -1}, "Extra paint"),
    ):
        with pytest.raises(InventoryError, match=told):
            ask(*lines, **asked)


def test_recipes_that_go_round_in_a_circle_are_named() -> None:
    first, second = make_material(name="Teal"), make_material(name="Mist")
    make_recipe(parts=[(second, 1)], makes=first)
    make_recipe(parts=[(first, 1)], makes=second)
    with pytest.raises(RecipeCycleError, match=r"Teal needs Mist needs Teal|Mist needs Teal needs Mist"):
        ask(squares(1, first))


def test_a_plan_takes_the_same_few_queries_whatever_its_size() -> None:
    def queries(lines: list[SetLine]) -> int:
        with CaptureQueriesContext(connection) as seen:
            ask(*lines)
        return len(seen)

    def line() -> SetLine:
        medium = make_recipe(parts=[(make_material(), 2), (make_water(), 1)])
        return squares(2, make_recipe(parts=[(make_material(), 1), (medium.recipe.makes, 1)]).recipe.makes)

    few = queries([line()])
    assert queries([line() for _ in range(10)]) == few <= 13
