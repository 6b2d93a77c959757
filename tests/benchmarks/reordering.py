"""Reorder levels: of a ledger's materials, of one of them, and of ten thousand materials over ten years."""

from collections.abc import Iterator
from datetime import date, timedelta
from functools import partial
from itertools import islice
from random import Random
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.materials.models import Material
from inventory.reordering import keeping
from inventory.reordering.calculations.demand import DAYS_READ
from inventory.reordering.calculations.lead_times import lead_time
from inventory.reordering.calculations.levels import past_use, use_until_delivery
from inventory.reordering.history import USUAL_LEAD_TIME_DAYS, Movement, series_by_material
from inventory.reordering.queries import levels
from tests.benchmarks.figures import Figure, side_by_side
from tests.benchmarks.ten_years import LAST_DAY, MATERIALS
from tests.benchmarks.works import memory, rows_of
from tests.faults.jobs import Meet, Say

MANY, YEARS, USES_A_YEAR = 10_000, 10, 40
DRAWN = 100  # that many stories are drawn, and lived by all materials in turn


def reorder(*, runs: int, say: Say, meet: Meet) -> list[Figure]:
    """When to order each of 300 materials, beside a bare sum of ten years' use by month; then one of them alone."""
    runs = max(1, runs // 4)
    with CaptureQueriesContext(connection) as statements:
        levels(LAST_DAY)
    note = f"{len(statements)} queries"
    one = partial(levels, LAST_DAY, materials=[MATERIALS])
    return [
        side_by_side(
            "P7 reorder levels of every material", partial(levels, LAST_DAY), _bare_use, runs=runs, note=note
        ),
        side_by_side("P7 reorder level of one material", one, _bare_use_of_one, runs=runs),
    ]


def reorder_many(*, runs: int, part: int, say: Say, meet: Meet) -> list[Figure]:
    """Levels from rows of use as a database gives them, beside handing out the rows: three years of ten are read.

    Then the same number as the database keeps them from the first reading of a day on, beside reading the kept rows.
    """
    count = MANY // part
    stories = list(_stories(Random(1)))
    rows = partial(_rows, stories, count)
    before = memory()
    _levels(rows(), count)
    note = f"{memory() - before:.0f} MB more memory at its peak"
    work = f"P7 levels of {count:,} materials, {YEARS} years"
    cold = side_by_side(
        work, lambda: _levels(rows(), count), lambda: _exhaust(rows()), runs=max(1, runs // 10), note=note
    )
    _keep(rows(), count)
    before = memory()
    if not all(level.use for level in levels(LAST_DAY)):
        raise ValueError("Not every material's use was kept.")
    note = f"{memory() - before:.0f} MB more memory at its peak"
    work = f"P7 levels of {count:,} materials, as kept"
    kept = side_by_side(work, partial(levels, LAST_DAY), _kept_rows, runs=max(1, runs // 10), note=note)
    return [cold, kept]


def _stories(chance: Random) -> Iterator[list[tuple[date, int, int]]]:
    """The last three years of a material's ten: a delivery for every ten uses."""
    for _story in range(DRAWN):
        days = sorted(chance.sample(range(YEARS * 365), YEARS * USES_A_YEAR))
        last = LAST_DAY - timedelta(days=YEARS * 365 - 1)
        kept = [last + timedelta(days=day) for day in days if day >= YEARS * 365 - DAYS_READ]
        uses = [chance.randint(10_000, 200_000) for _day in kept]
        came = [sum(uses[number : number + 10]) if number % 10 == 0 else 0 for number in range(len(uses))]
        yield [(day, come - used, used) for day, used, come in zip(kept, uses, came, strict=True)]


def _rows(stories: list[list[tuple[date, int, int]]], count: int) -> Iterator[Movement]:
    for material in range(count):
        for day, change, used in stories[material % DRAWN]:
            yield material, day, change, used


def _levels(rows: Iterator[Movement], count: int) -> int:
    first = dict.fromkeys(range(count), LAST_DAY - timedelta(days=YEARS * 365))
    stock, lead = dict.fromkeys(range(count), 1_000_000), lead_time(7, own=[6, 7, 7, 9, 12])
    total = 0
    for _material, series in series_by_material(rows, on=LAST_DAY, first=first, stock=stock):
        use = use_until_delivery(series, lead)
        total += use.level(0.95) if use else 0
    return total


def _keep(rows: Iterator[Movement], count: int) -> None:
    """So many materials, each with what its use came to the day before."""
    Material.objects.bulk_create(
        [Material(name=f"Paint {number}", kind="paint", measure="volume") for number in range(count)]
    )
    keys = list(Material.objects.order_by("pk").values_list("pk", flat=True))
    first = dict.fromkeys(range(count), LAST_DAY - timedelta(days=YEARS * 365))
    stock, lead = dict.fromkeys(range(count), 1_000_000), lead_time(USUAL_LEAD_TIME_DAYS)
    day, stamp = LAST_DAY - timedelta(days=1), keeping.fingerprint(lead, None)
    all_series = series_by_material(rows, on=day, first=first, stock=stock)
    keeping.keep({keys[number]: (stamp, past_use(series, lead)) for number, series in all_series}, day=day)


def _kept_rows() -> list[Any]:
    return rows_of("SELECT * FROM inventory_material m JOIN inventory_keptuse k ON k.material_id = m.id")


def _exhaust(rows: Iterator[Movement]) -> None:
    while list(islice(rows, 5_000)):
        pass


def _bare_use() -> list[Any]:
    on_sqlite = connection.vendor == "sqlite"
    month = "strftime('%Y-%m', p.effective_on)" if on_sqlite else "date_trunc('month', p.effective_on)"
    return rows_of(
        f"SELECT e.material_id, {month}, SUM(e.quantity) FROM inventory_entry e "
        "JOIN inventory_posting p ON p.number = e.posting_id "
        "WHERE e.lot_id IS NOT NULL AND e.quantity < 0 GROUP BY 1, 2"
    )


def _bare_use_of_one() -> list[Any]:
    return rows_of(
        "SELECT e.effective_on, SUM(e.quantity) FROM inventory_entry e "
        "WHERE e.lot_id IS NOT NULL AND e.quantity < 0 AND e.material_id = %s GROUP BY 1",
        [MATERIALS],
    )
