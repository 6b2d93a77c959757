"""Use that we did not draw from a family: an open series of prescriptions, and the demo studio's."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from unittest import mock

from inventory.reordering.calculations import levels
from tests.backtest import families, playing
from tests.backtest.families import Case, Supplier, World
from tests.inventory.reordering.series import SERA

MONTHS_BEFORE_TEST = 60
DEMO_DAYS_BEFORE_TEST = 180


@contextmanager
def monthly_constants() -> Iterator[None]:
    """A period is a month: a year has 12, five years are summed, a material is young for half a year."""
    with (
        mock.patch.object(levels, "DAYS_SUMMED", 60),
        mock.patch.object(levels, "DAYS_OF_RATE", 12),
        mock.patch.object(levels, "OLD_ENOUGH_TO_SCALE", 6),
        mock.patch.object(levels, "LEAST_DAYS", 6),
        mock.patch.object(playing, "TEST_FROM", MONTHS_BEFORE_TEST),
        mock.patch.object(playing, "DAYS_ORDERED_FOR", 1),
        mock.patch.object(playing, "WEEK", 1),
    ):
        yield


@contextmanager
def half_a_year_known() -> Iterator[None]:
    """The demo has a year only: its second half is played."""
    with mock.patch.object(playing, "TEST_FROM", DEMO_DAYS_BEFORE_TEST):
        yield


def sera_world() -> World:
    """Deliveries take one to three months, as stated; as the one series is short, all three are played."""
    suppliers = [Supplier(stated, stated, 0.0, 0.0, [stated] * 10) for stated in (1, 2, 3)]
    cases = [
        Case("sera", [1000 * value for value in SERA.values()], 0, number, 3000, 1000, [[supplier.stated]])
        for number, supplier in enumerate(suppliers)
    ]
    return World(suppliers, cases)


def demo_world() -> World:
    """The demo studio's own use by day; the first half year is known, and suppliers are drawn, not its own."""
    chance = Random(1)
    suppliers = [families._supplier(chance) for _ in range(8)]
    cases = []
    for values in _demo_series():
        number = chance.randrange(len(suppliers))
        supplier = suppliers[number]
        draws = [
            [
                families._lead_time(chance, supplier.mean, supplier.variation, supplier.late)
                for _ in range(400)
            ]
            for _draw in range(20)
        ]
        pack = max(round(sum(values) / len(values) * chance.uniform(10, 60)), 1)
        cases.append(Case("demo", values, 0, number, pack, 1, draws))
    return World(suppliers, cases)


def _demo_series() -> list[list[int]]:
    """Printed by a process of its own, on the demo's own database."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "MENISCUS_DATA": folder}
        root = Path(__file__).resolve().parents[2]
        for script in (["manage.py", "demo", "--build-only"], ["-m", "tests.backtest.demo_series"]):
            printed = subprocess.run(
                [sys.executable, *script],
                cwd=root,
                env=environment,
                check=True,
                capture_output=True,
                text=True,
            ).stdout
    return [[int(value) for value in line.split()] for line in printed.splitlines()]
