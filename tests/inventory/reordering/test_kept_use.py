"""Past use is worked out once a day, and kept: it must be what it would be if it were worked out anew."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.ledger.posting import lock
from inventory.materials.models import Material, Supplier, Supply
from inventory.purchasing.models import DeliveryLine
from inventory.reordering.models import KeptUse
from inventory.reordering.queries import levels
from tests.days import AT, DAY, TODAY
from tests.inventory.any_studio import Made
from tests.inventory.seeded_studio import SeededStudio
from tests.making import (
    correct,
    make_delivery,
    make_lot,
    make_material,
    make_order,
    make_supplier,
    money,
    take_back,
    units,
    use,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def paint() -> Material:
    """Twenty days in the house, used every other day until the day before yesterday; what it came to is kept."""
    material = make_material()
    lot = make_lot(material=material, quantity=units(1000), on=TODAY - 20 * DAY)
    for days_ago in range(2, 20, 2):
        use(lot=lot, quantity=units(10 + days_ago), on=TODAY - days_ago * DAY)
    refresh_alerts(on=TODAY, at=AT)
    return material


def lot_of(material: Material) -> Any:
    return material.lots.order_by("pk")[0]


def agrees() -> bool:
    """Whether levels with what is kept are those without."""
    kept = levels(TODAY)
    with transaction.atomic():
        KeptUse.objects.all().delete()
        anew = levels(TODAY)
        transaction.set_rollback(True)
    return kept == anew


def looks_back(material: Material) -> bool:
    """Whether asking for the level of a material reads its entries."""
    with CaptureQueriesContext(connection) as seen:
        levels(TODAY, materials=[material.pk])
    return any('FROM "inventory_entry"' in query["sql"] for query in seen.captured_queries)


def test_what_is_used_today_leaves_what_was_kept_and_counts_from_tomorrow(paint: Material) -> None:
    before = levels(TODAY, materials=[paint.pk])[0]
    use(lot=lot_of(paint), quantity=units(300))
    after = levels(TODAY, materials=[paint.pk])[0]
    assert not looks_back(paint)
    assert (after.level, after.stock) == (before.level, before.stock - units(300))
    assert (levels(TODAY + DAY, materials=[paint.pk])[0].level or 0) > (before.level or 0)
    assert agrees()


def test_a_refresh_keeps_and_a_reading_never_does(paint: Material) -> None:
    assert KeptUse.objects.get().day == TODAY - DAY
    KeptUse.objects.all().delete()
    levels(TODAY)
    assert not KeptUse.objects.exists()


def test_what_is_kept_counts_for_its_own_day_alone(paint: Material) -> None:
    assert levels(TODAY + DAY)[0].use != levels(TODAY)[0].use
    refresh_alerts(on=TODAY + DAY, at=AT + DAY)
    assert KeptUse.objects.get().day == TODAY
    assert agrees()


def of_yesterday(paint: Material) -> None:
    use(lot=lot_of(paint), quantity=units(100), on=TODAY - DAY)


def reversed_use(paint: Material) -> None:
    take_back(paint.entries.order_by("-posting_id")[0].posting)


def reversed_today(paint: Material) -> None:
    take_back(paint.entries.order_by("-posting_id")[0].posting, on=TODAY)


def corrected_delivery(paint: Material) -> None:
    correct(lot=DeliveryLine.objects.latest("pk").lot, difference=units(5))


@pytest.mark.parametrize("change", [of_yesterday, reversed_use, reversed_today])
def test_what_changes_the_past_lets_the_kept_row_fall(
    paint: Material, change: Callable[[Material], None]
) -> None:
    other = make_material()
    refresh_alerts(on=TODAY, at=AT)
    before = levels(TODAY, materials=[paint.pk])[0].use
    change(paint)
    assert set(KeptUse.objects.values_list("material", flat=True)) == {other.pk}
    assert levels(TODAY, materials=[paint.pk])[0].use != before
    assert agrees()


def test_a_corrected_delivery_lets_the_kept_row_fall(paint: Material) -> None:
    make_delivery(lines=[(paint, units(50), money(5))], on=TODAY - DAY)
    refresh_alerts(on=TODAY, at=AT)
    corrected_delivery(paint)
    assert not KeptUse.objects.filter(material=paint).exists()
    assert agrees()


def guessed(paint: Material) -> None:
    Material.objects.filter(pk=paint.pk).update(guessed_use=units(900))


def sold_by_somebody_slow(paint: Material) -> None:
    Supply.objects.create(
        supplier=make_supplier(lead_time_days=40), material=paint, pack_size=units(500), price=money(8)
    )


def an_order_is_late(paint: Material) -> None:
    sold_by_somebody_slow(paint)
    make_order((paint, units(1)), supplier=Supplier.objects.latest("pk"), on=TODAY - 90 * DAY)


@pytest.mark.parametrize("change", [guessed, sold_by_somebody_slow, an_order_is_late])
def test_what_was_kept_for_other_settings_does_not_count(
    paint: Material, change: Callable[[Material], None]
) -> None:
    before = levels(TODAY)[0].use
    change(paint)
    assert levels(TODAY)[0].use != before
    assert agrees()


def test_a_material_without_a_level_of_its_own_is_kept_as_such() -> None:
    unused = make_material()
    make_lot(material=unused, on=TODAY - 5 * DAY)
    refresh_alerts(on=TODAY, at=AT)
    assert not looks_back(unused)
    assert levels(TODAY)[0].reason.startswith("Until yesterday nothing was used for a year")
    assert agrees()


def test_the_database_refuses_half_of_what_use_comes_to(paint: Material) -> None:
    with pytest.raises(IntegrityError, match="keptuse_all_or_nothing"), transaction.atomic():
        KeptUse.objects.update(variance=None)


class WatchedStudio(SeededStudio):
    """A random history in which every posting finds the use of every material kept."""

    def open_up(self) -> None:
        super().open_up()
        for paint in Material.objects.all():
            paint.guessed_use = units(70)  # a level from the first day
            paint.save()

    def attempt(self, write: Callable[[], Made]) -> Made | None:
        today = timezone.localtime(self.at).date()
        with transaction.atomic():
            lock()
            levels(today, keep=True)
        made = super().attempt(write)
        kept = levels(today)
        KeptUse.objects.all().delete()
        assert kept == levels(today), f"after {dict(self.done)}"
        self.found = max(self.found, sum(level.use is not None and level.use.uses > 0 for level in kept))
        return made

    found = 0


@pytest.mark.parametrize("seed", [3, 4])
def test_what_is_kept_is_what_would_be_worked_out_anew_whatever_is_posted(seed: int) -> None:
    studio = WatchedStudio(seed)
    studio.live_through(90)
    assert studio.found
