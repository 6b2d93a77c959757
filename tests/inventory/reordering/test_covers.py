"""How long stock lasts and by when to order, on the list of stock, the page of a material and for programs."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.models import Lot
from inventory.materials.models import Material
from inventory.reordering.calculations.stock_cover import days_of_cover, order_by
from inventory.reordering.covers import covers
from inventory.reordering.queries import levels
from inventory.shopping.queries import shopping_list
from inventory.shopping.wording import ShoppingWords
from inventory.stock.availability import Cover
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.making import make_lot, make_material, make_owner, money, units, use

pytestmark = pytest.mark.django_db


def used(material: Material, *, held: int, days_ago: int, a_use: int, every: int = 1) -> Material:
    """So much came so many days ago, and was used from then to yesterday."""
    today = timezone.localdate()
    lot = make_lot(
        material=material, quantity=units(held), cost=money(1), on=today - days_ago * DAY, at=timezone.now()
    )
    for day in range(days_ago, 0, -every):
        use(lot=lot, quantity=units(a_use), on=today - day * DAY, at=timezone.now())
    return material


def cover_of(material: Material) -> Cover:
    today = timezone.localdate()
    return covers(levels(today, materials=[material.pk]), today)[material.pk]


def test_to_order_is_the_day_on_which_the_position_falls_to_the_level() -> None:
    assert order_by(TODAY, 300, 100, 10, lead_days=7) == TODAY + 20 * DAY
    assert order_by(TODAY, 300, None, 10, lead_days=7) == TODAY + 23 * DAY
    assert order_by(TODAY, 80, 100, 10, lead_days=7) == TODAY
    assert order_by(TODAY, 300, 100, 0, lead_days=7) is None


def test_a_new_material_lasts_by_a_guess_of_one_week_at_least() -> None:
    """331 mL after 169 mL in the first week: 331 / (169 / 7) = 13.7 days, seven to eight of which it takes to come."""
    paint = used(make_material(), held=500, days_ago=3, a_use=169, every=4)
    today = timezone.localdate()
    lead = levels(today, materials=[paint.pk])[0].usual_lead_days
    left = 331 - 169 / 7 * lead
    assert cover_of(paint) == Cover(today + 13 * DAY, today + int(left / (169 / 7)) * DAY, is_guess=True)


def test_a_material_with_a_rate_lasts_by_it_and_is_no_guess() -> None:
    paint = used(make_material(reorder_level=units(300)), held=1000, days_ago=20, a_use=10)
    today = timezone.localdate()
    assert cover_of(paint) == Cover(today + 80 * DAY, today + 50 * DAY, is_guess=False)


def test_what_goes_off_unused_does_not_last() -> None:
    """Ten days of 10 mL are used of the first bottle, none of the 100 left when it goes off; the other lasts on."""
    today = timezone.localdate()
    paint = used(make_material(reorder_level=units(1)), held=400, days_ago=20, a_use=10)
    Lot.objects.update(best_before=today + 9 * DAY)
    lead = levels(today, materials=[paint.pk])[0].usual_lead_days
    assert cover_of(paint) == Cover(today + 10 * DAY, today + (10 - lead) * DAY, is_guess=False)
    make_lot(material=paint, quantity=units(50), on=today, at=timezone.now())
    assert cover_of(paint).lasts_until == today + 15 * DAY


def test_the_shopping_list_says_how_long_what_is_low_lasts() -> None:
    paint = used(make_material(reorder_level=units(900)), held=1000, days_ago=20, a_use=10)
    listed = shopping_list(timezone.localdate())
    [need] = [each for each in listed.unsold if each.material == paint]
    words = ShoppingWords(listed, Formatter.of(Studio.current()), sees_money=False)
    day = words.formatter.day(timezone.localdate() + 80 * DAY)
    assert words.origin(need).endswith(f"Lasts until about {day}.")


@pytest.mark.parametrize(
    ("stock", "going_off", "days"),
    [
        (100, [], 10),
        (100, [(4, 100)], 4),
        (100, [(30, 100)], 10),
        (100, [(4, 60), (6, 40)], 6),  # 40 of the first, 20 of the second
        (100, [(4, 60)], 8),
        (100, [(2, 30), (2, 30)], 6),
    ],
)
def test_days_of_cover_count_what_is_used_before_it_goes_off(
    stock: int, going_off: list[tuple[int, int]], days: int
) -> None:
    assert days_of_cover(stock, 10, going_off) == days


def test_what_was_never_used_has_no_day() -> None:
    paint = make_material()
    make_lot(material=paint)
    assert covers(levels(TODAY), TODAY) == {}


def test_the_list_of_stock_shows_what_runs_out_next_first(client: Client) -> None:
    slow = used(make_material(name="A slow one"), held=1000, days_ago=15, a_use=10)
    fast = used(make_material(name="Fast"), held=1000, days_ago=3, a_use=200, every=2)
    make_lot(material=make_material(name="B unused"))
    client.force_login(make_owner())
    rows = client.get(reverse("inventory:stock"), {"sort": "lasts_until"}).context["table"].rows
    assert [row.stock.material.pk for row in rows[:2]] == [fast.pk, slow.pk]
    first, unknown = rows[0].stock.cover, [row.stock.cover for row in rows[2:]]
    assert first == cover_of(fast)
    assert (len(unknown) > 1, set(unknown)) == (True, {None})
    assert client.get(reverse("inventory:material", args=[fast.pk])).context["cover"] == first
    listed = client.get("/api/materials/", {"sort": "order_by"}).json()["results"]
    assert (listed[0]["id"], listed[0]["is_cover_guessed"]) == (fast.pk, True)
    assert listed[0]["lasts_until"] == first.lasts_until.isoformat()
    one = client.get(f"/api/materials/{fast.pk}/").json()
    assert (one["lasts_until"], one["order_by"]) == (listed[0]["lasts_until"], listed[0]["order_by"])
    past = client.get("/api/materials/", {"as_of": timezone.localdate().isoformat()}).json()["results"]
    assert {row["lasts_until"] for row in past} == {None}


def test_covers_take_two_queries_however_many_there_are() -> None:
    def queries() -> int:
        found = levels(timezone.localdate())
        with CaptureQueriesContext(connection) as seen:
            covers(found, timezone.localdate())
        return len(seen)

    used(make_material(), held=500, days_ago=2, a_use=10)
    few = queries()
    for _ in range(3):
        used(make_material(), held=500, days_ago=2, a_use=10)
    assert queries() == few == 2
