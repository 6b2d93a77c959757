"""The list of what stands on the shelf, and everything known of one material."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.reordering.queries import Level, levels
from inventory.stock import filters
from inventory.stock.views import materials as views
from studio.accounts.models import User
from studio.pages.charts import bars
from tests.days import AT, TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_recipe,
    make_session,
    make_surface,
    make_water,
    money,
    pour_of,
    spill,
    units,
)

pytestmark = pytest.mark.django_db
STOCK = "inventory:stock"


def page_of(material: Material) -> str:
    return reverse("inventory:material", args=[material.pk])


def low_material(**facts: object) -> Material:
    """100 mL left of a paint to reorder at 250 mL, and the alert raised."""
    paint = make_material(reorder_level=units(250), **facts)
    make_lot(material=paint, quantity=units(100), cost=money(2))
    refresh_alerts(on=TODAY, at=AT)
    return paint


# The list


def test_it_lists_what_stands_there_with_its_worth(owner: User) -> None:
    paint = make_material(name="Sail Loft White", maker="Marram Works")
    make_lot(material=paint, quantity=units(1250), cost=money(25))
    words = text_of(as_user(owner).get(reverse(STOCK)))
    assert "Sail Loft White Paint, Marram Works 1.25 L" in words
    assert "£2.00 per 100 mL £25.00" in words
    assert "Value of this list £25.00" in words


def test_a_helper_sees_amounts_and_no_money(helper: User) -> None:
    make_lot(quantity=units(1250), cost=money(25))
    words = text_of(as_user(helper).get(reverse(STOCK)))
    assert "1.25 L" in words
    assert "£" not in words
    assert "Value" not in words


def test_a_helper_cannot_sort_by_worth(helper: User) -> None:
    cheap = make_lot(material=make_material(name="A"), cost=money(1))
    make_lot(material=make_material(name="B"), cost=money(9))
    rows = as_user(helper).get(reverse(STOCK), {"sort": "-money"}).context["table"].rows
    assert rows[0].stock.material.pk == cheap.material_id


def test_it_finds_filters_and_sorts(owner: User) -> None:
    blue, canvas = make_material(name="Tide Blue"), make_surface(name="Deep canvas")
    make_lot(material=blue, cost=money(5))
    make_lot(material=canvas, quantity=units(4), cost=money(20))

    def names(**asked: str) -> list[str]:
        rows = as_user(owner).get(reverse(STOCK), asked).context["table"].rows
        return [row.stock.material.name for row in rows]

    assert names() == ["Deep canvas", "Tide Blue"]
    assert names(search="tide") == ["Tide Blue"]
    assert names(kind=Kind.SURFACE) == ["Deep canvas"]
    assert names(sort="money") == ["Tide Blue", "Deep canvas"]
    assert names(sort="nonsense", kind="nonsense") == ["Deep canvas", "Tide Blue"]


def test_what_is_low_shows_its_reorder_mark_on_the_beaker(owner: User) -> None:
    low_material()
    response = as_user(owner).get(reverse(STOCK))
    # The full mark is three reorder levels, so the mark stands at a third.
    assert response.context["table"].rows[0].mark == 33
    assert "beaker-notch" in response.content.decode()
    assert "To order 1" in text_of(response)


def test_what_has_run_out_shows_its_mark_too(owner: User) -> None:
    paint = low_material()
    spill(lot=Lot.objects.get(material=paint), quantity=units(100))
    row = as_user(owner).get(reverse(STOCK), {"low": "true"}).context["table"].rows[0]
    assert (row.percent, row.mark) == (0, 33)


def test_a_past_day_is_shown_as_it_stood_and_says_nothing_of_todays_alerts(owner: User) -> None:
    paint = low_material()
    later = AT + timedelta(days=2)
    spill(lot=Lot.objects.get(material=paint), quantity=units(60), on=later.date(), at=later)
    words = text_of(as_user(owner).get(reverse(STOCK), {"as_of": TODAY.isoformat()}))
    assert "At the end of 10 Jun 2025" in words
    assert "100 mL" in words
    assert "To order" not in words


def test_it_warns_of_what_is_past_its_day(owner: User) -> None:
    version = make_recipe(parts=[(make_material(), 1), (make_water(), 1)])
    make_lot(material=version.parts.all()[0].material)
    make_batch(version=version, quantity=units(100), use_by=date(2025, 7, 1))
    assert "1 Jul 2025 Expired" in text_of(as_user(owner).get(reverse(STOCK)))


def test_an_empty_shelf_teaches_and_a_helper_is_not_sent_where_she_may_not_go(
    owner: User, helper: User
) -> None:
    words = text_of(as_user(owner).get(reverse(STOCK)))
    assert "No stock yet" in words
    assert "Enter opening stock" in words
    assert "opening stock</a>" not in as_user(helper).get(reverse(STOCK)).content.decode()


def test_the_number_of_materials_does_not_leak_into_the_navigation(owner: User) -> None:
    make_lot()
    assert 'class="count"' not in as_user(owner).get(reverse(STOCK)).content.decode()


def test_the_list_asks_as_many_queries_for_few_as_for_many(owner: User) -> None:
    for _ in range(3):
        make_lot()
    few = queries(as_user(owner), reverse(STOCK))
    for _ in range(27):
        make_lot()
    assert queries(as_user(owner), reverse(STOCK)) == few


# One material


def test_it_works_out_how_long_the_materials_of_its_page_last_and_no_others(
    owner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    materials = [make_lot(material=make_material(name=f"Paint {number}")).material for number in range(3)]
    read: list[set[int]] = []

    def watched(on: date, **known: Any) -> list[Level]:
        found = levels(on, **known)
        read.append({level.material.pk for level in found})
        return found

    monkeypatch.setattr(filters, "levels", watched)
    monkeypatch.setattr(views, "PER_PAGE", 1)
    client = as_user(owner)
    client.get(reverse("inventory:stock"), {"page": "2"})
    client.get(reverse("inventory:stock"), {"sort": "lasts_until"})
    everything = {material.pk for material in materials}
    assert read[0] == {materials[1].pk}
    assert everything <= read[1]


def test_it_shows_lots_use_cost_and_movements(owner: User) -> None:
    paint = make_material(name="Sail Loft White", reorder_level=units(250))
    now, today = timezone.now(), timezone.localdate()
    lot = make_lot(material=paint, quantity=units(1000), cost=money(20), on=today, at=now)
    canvas = make_lot(material=make_surface(), quantity=units(2), on=today, at=now).material
    make_session(pours=[pour_of(material=paint, quantity=units(200), surface=canvas)], on=today, at=now)
    words = text_of(as_user(owner).get(page_of(paint)))
    assert f"{lot.label}" in words
    assert "800 mL £16.00" in words
    assert f"{today:%b %Y}: 200 mL" in words
    assert "1,000 mL £20.00 £2.00 per 100 mL" in words
    assert "Reorder at 250 mL" in words


def test_its_movements_lead_to_the_ledger_kept_to_it(owner: User) -> None:
    paint, other = make_lot().material, make_lot(material=make_material(name="Other")).material
    address = f"{reverse('inventory:postings')}?material={paint.pk}"
    assert address in as_user(owner).get(page_of(paint)).content.decode()
    rows = as_user(owner).get(address).context["page_obj"]
    assert [posting.entries.first().material for posting in rows] == [paint]
    assert other not in {posting.entries.first().material for posting in rows}


def test_a_helper_sees_no_money_on_a_material(helper: User) -> None:
    paint = make_lot().material
    words = text_of(as_user(helper).get(page_of(paint)))
    assert "1,000 mL" in words
    assert "£" not in words
    assert "Cost history" not in words


@pytest.mark.parametrize(
    ("days", "words"), [(1825, "5 years after"), (365, "1 year after"), (400, "400 days after")]
)
def test_a_shelf_life_of_whole_years_is_told_in_years(owner: User, days: int, words: str) -> None:
    paint = make_lot(material=make_material(keeps_days=days)).material
    assert words in text_of(as_user(owner).get(page_of(paint)))


def test_a_level_of_its_own_at_zero_draws_no_mark(owner: User) -> None:
    paint = make_material(reorder_level=0)
    make_lot(material=paint)
    response = as_user(owner).get(page_of(paint))
    assert response.context["row"].mark == 0
    assert "beaker-notch" not in response.content.decode()


def test_hostile_names_are_written_out_harmlessly(owner: User) -> None:
    paint = make_material(name="<script>alert(1)</script>", notes="<b>", hazards="<i>", maker='"><img>')
    make_lot(material=paint)
    for address in (reverse(STOCK), page_of(paint)):
        content = as_user(owner).get(address).content.decode()
        assert "<script>alert" not in content
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in content
        assert "<img>" not in content


def test_a_material_asks_as_many_queries_for_few_lots_as_for_many(owner: User) -> None:
    few_lots, many_lots = make_material(), make_material()
    for _ in range(3):
        make_lot(material=few_lots)
    for _ in range(15):
        make_lot(material=many_lots)
    few = queries(as_user(owner), page_of(few_lots))
    assert queries(as_user(owner), page_of(many_lots)) == few


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    for address in (reverse(STOCK), page_of(make_material())):
        assert reverse("login") in client.get(address)["Location"]


def test_a_bookkeeper_reads_and_is_offered_nothing_to_write(bookkeeper: User) -> None:
    paint = make_lot().material
    words = text_of(as_user(bookkeeper).get(page_of(paint)))
    assert "£10.00" in words
    assert "Log a delivery" not in words
    assert "Start a stocktake" not in text_of(as_user(bookkeeper).get(reverse(STOCK)))


# The bars


def test_bars_stand_to_each_other_as_their_figures_do() -> None:
    drawn = bars([("Jan", "50 mL", 50), ("Feb", "200 mL", 200), ("Mar", "0 mL", 0)])
    assert [(bar.height, bar.top, bar.left) for bar in drawn] == [(25, 75, 0), (100, 0, 30), (0, 100, 60)]


def test_anything_above_nothing_shows() -> None:
    assert bars([("Jan", "1", 1), ("Feb", "100000", 100_000)])[0].height == 1


def test_a_year_of_nothing_draws_nothing() -> None:
    assert [bar.height for bar in bars([("Jan", "0 mL", 0)])] == [0]
    assert bars([]) == []


def test_a_material_names_the_recipes_that_use_it_and_a_mixed_lot_its_recipe(owner: User) -> None:
    paint = make_material()
    make_lot(material=paint, quantity=units(1_000))
    mix = make_batch(version=make_recipe(parts=[(paint, 1)]), quantity=units(100))
    address = reverse("inventory:recipe", args=[mix.version.recipe_id])
    lot_page = reverse("inventory:lot", args=[mix.lot_id])
    for page in (page_of(paint), lot_page):
        assert f'href="{address}"' in as_user(owner).get(page).content.decode()
