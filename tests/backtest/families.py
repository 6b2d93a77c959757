"""Invented use of known kind, drawn from a seed: three years by day, and suppliers whose deliveries vary."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log, pi, sin, sqrt
from random import Random

DAYS = 3 * 365
TEST_FROM = 2 * 365  # the third year is out of sample
DRAWS = 3  # of lead times for the same use
LEAD_TIMES_DRAWN = 400

Rate = Callable[[int], float]


@dataclass(frozen=True, slots=True)
class Supplier:
    """What it states, what its deliveries really take on average and by how much they vary, and what is known of it."""

    stated: int
    mean: float
    variation: float
    late: float
    known: Sequence[int]


@dataclass(frozen=True, slots=True)
class Case:
    """One material: use by day, the day its books begin, its supplier, the pack, and lead times to come."""

    family: str
    values: Sequence[int]
    first_day: int
    supplier: int
    pack: int
    unit: int  # what a level is rounded up to
    lead_times: Sequence[Sequence[int]]


@dataclass(frozen=True, slots=True)
class World:
    """Cases, and the suppliers that they name by number."""

    suppliers: Sequence[Supplier]
    cases: Sequence[Case]


def drawn_world(seed: int, *, each: int = 40, new: int = 120) -> World:
    """So many materials of each family, and so many new ones, from a seed."""
    chance = Random(seed)
    suppliers = [_supplier(chance) for _ in range(8)]
    cases = [_case(family, chance, suppliers, first_day=0) for family in FAMILIES for _number in range(each)]
    young = list(FAMILIES)
    for number in range(new):
        start = TEST_FROM - chance.randint(0, 90)
        cases.append(_case(young[number % len(young)], chance, suppliers, first_day=start, name="new"))
    return World(suppliers, cases)


def _supplier(chance: Random) -> Supplier:
    stated = chance.randint(3, 25)
    mean, variation = stated * chance.uniform(0.9, 1.2), chance.uniform(0.12, 0.3)
    late = chance.uniform(0.02, 0.1)
    known = [_lead_time(chance, mean, variation, late) for _ in range(chance.randint(0, 15))]
    return Supplier(stated, mean, variation, late, known)


def _lead_time(chance: Random, mean: float, variation: float, late: float) -> int:
    """Lognormal, and now and then some days later still."""
    days = mean * _lognormal(chance, variation)
    if chance.random() < late:
        days += chance.uniform(4, 15)
    return max(round(days), 1)


def _lognormal(chance: Random, variation: float) -> float:
    """A draw of mean 1."""
    spread = sqrt(log(1 + variation**2))
    return exp(chance.gauss(-(spread**2) / 2, spread))


def _case(
    family: str, chance: Random, suppliers: Sequence[Supplier], *, first_day: int, name: str = ""
) -> Case:
    is_counted = chance.random() < 0.3
    unit = 1_000 if is_counted else 1
    size = chance.uniform(2, 12) * 1_000 if is_counted else chance.uniform(10, 200) * 1_000
    values = [max(unit, round(use * size / unit) * unit) if use else 0 for use in FAMILIES[family](chance)]
    if first_day:
        values = [0] * first_day + values[first_day:]
    number = chance.randrange(len(suppliers))
    supplier = suppliers[number]
    a_day = max(sum(values) / (DAYS - first_day), 1)
    draws = [
        [
            _lead_time(chance, supplier.mean, supplier.variation, supplier.late)
            for _ in range(LEAD_TIMES_DRAWN)
        ]
        for _draw in range(DRAWS)
    ]
    pack = max(unit, round(a_day * chance.uniform(10, 60) / unit) * unit)
    return Case(name or family, values, first_day, number, pack, unit, draws)


def _uses(chance: Random, rate: Rate, variation: float) -> list[float]:
    """A use on a day with the day's odds, of lognormal size around 1; none on other days."""
    return [_lognormal(chance, variation) if chance.random() < rate(day) else 0.0 for day in range(DAYS)]


def _steady(chance: Random, least: float, most: float, variation: tuple[float, float]) -> list[float]:
    odds = chance.uniform(least, most)
    return _uses(chance, lambda day: odds, chance.uniform(*variation))


def _dying(chance: Random) -> list[float]:
    """Use halves every half year to year from some day of the second year on."""
    odds, start, half = chance.uniform(0.15, 0.4), chance.randint(365, 730), chance.uniform(180, 365)
    return _uses(chance, lambda day: odds * 0.5 ** (max(day - start, 0) / half), chance.uniform(0.2, 0.6))


def _growing(chance: Random) -> list[float]:
    odds, growth = chance.uniform(0.05, 0.12), chance.uniform(1.4, 2.2)
    return _uses(chance, lambda day: min(odds * growth ** (day / 365), 0.95), chance.uniform(0.2, 0.6))


def _two_seasons(chance: Random) -> list[float]:
    """Twice a year, as before a spring and a winter market, nearly twice the usual use; nearly none between."""
    odds, shift = chance.uniform(0.15, 0.4), chance.uniform(0, 365)
    return _uses(
        chance, lambda day: odds * (1 + 0.85 * sin(4 * pi * (day + shift) / 365)), chance.uniform(0.2, 0.6)
    )


FAMILIES: dict[str, Callable[[Random], list[float]]] = {
    "smooth": lambda chance: _steady(chance, 0.8, 1.0, (0.15, 0.5)),
    "intermittent": lambda chance: _steady(chance, 0.08, 0.4, (0.2, 0.65)),
    "lumpy sessions": lambda chance: _steady(chance, 0.05, 0.25, (0.9, 1.4)),
    "erratic": lambda chance: _steady(chance, 0.8, 1.0, (0.8, 1.3)),
    "dying out": _dying,
    "growing": _growing,
    "two seasons": _two_seasons,
}
