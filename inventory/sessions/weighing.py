"""Pouring by weight: what left the cups, what the tray caught, what stayed on, and whether the three agree.

Weights are whole milligrams as the scale showed them; areas thousandths of a cm². The uncertainty of a sum of readings
follows the Guide to the Expression of Uncertainty in Measurement (JCGM 100, from memory): a reading is rounded to the
scale's step d, so its standard uncertainty is d/√12, and independent ones add in squares.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt

from studio.errors import InputError, refuse_all
from studio.translation import _
from studio.values.allocation import MILLION, allocate, divide_half_up
from studio.values.quantities import format_quantity, mass_of, volume_of
from studio.values.units import Measure

# What an open acrylic film loses at most in still air: 0.15 kg/m² an hour (from memory), so 15 mg/cm².
EVAPORATES_PER_CM2_HOUR = 15
# Time from the first reading to the last where she does not say (own choice).
USUAL_MINUTES = 15
# What sticks to cups, sticks and gloves: a hundredth, at least 2 g (own choice).
ON_TOOLS = 100
LEAST_ON_TOOLS = 2_000
PAIRS = (("cups_before", "cups_after"), ("tray_before", "tray_after"), ("surfaces_before", "surfaces_after"))


class Verdict(StrEnum):
    """What a weighing says of itself."""

    CLOSES = "closes"
    TOO_MUCH = "too much"  # more was found than was poured: a reading is wrong
    MISSING = "missing"  # more is missing than dries away and sticks to tools


@dataclass(frozen=True, slots=True)
class Readings:
    """What the scale showed for some pours together, in mg, and what it can tell apart; `minutes` lie between.

    Raises InputError naming every reading that is wrong.
    """

    scale_step: int
    cups_before: int | None = None
    cups_after: int | None = None
    tray_before: int | None = None
    tray_after: int | None = None
    surfaces_before: int | None = None
    surfaces_after: int | None = None
    drips: int | None = None
    minutes: int | None = None

    def __post_init__(self) -> None:
        problems = [
            InputError(_("Enter both weights, before and after."), field=after if before_given else before)
            for before, after in PAIRS
            if (before_given := getattr(self, before) is not None) != (getattr(self, after) is not None)
        ]
        if self.scale_step <= 0:
            problems.append(InputError(_("The scale's precision must be above zero."), field="scale_step"))
        if not problems:
            problems = self._out_of_order()
        refuse_all(problems)

    def _out_of_order(self) -> list[InputError]:
        lighter = _("The cups cannot be heavier after pouring than before. Check both weights.")
        heavier = _("This cannot be lighter after pouring than before. Check both weights.")
        wrong = [
            (self.poured, lighter, "cups_after"),
            (_gain(self.tray_before, self.tray_after), heavier, "tray_after"),
            (self.stayed, heavier, "surfaces_after"),
        ]
        problems = [
            InputError(text, field=field) for gain, text, field in wrong if gain is not None and gain < 0
        ]
        if self.poured == 0:
            problems.append(InputError(_("By these weights nothing was poured."), field="cups_after"))
        # Each of the two may be a step off, by rounding alone.
        least = (self.ran_off or 0) - 2 * self.scale_step
        if self.poured is not None and least > self.poured >= 0:
            too_much = _("The tray cannot have caught more than left the cups. Check the weights.")
            problems.append(InputError(too_much, field="tray_after" if self.tray_after else "drips"))
        return problems

    @property
    def poured(self) -> int | None:
        """What left the cups."""
        return _gain(self.cups_after, self.cups_before)

    @property
    def ran_off(self) -> int | None:
        """What the tray caught, and what dripped beside it or was wiped off."""
        caught = _gain(self.tray_before, self.tray_after)
        return None if caught is None and self.drips is None else (caught or 0) + (self.drips or 0)

    @property
    def stayed(self) -> int | None:
        """What the surfaces gained."""
        return _gain(self.surfaces_before, self.surfaces_after)

    @property
    def count(self) -> int:
        """How many readings there are."""
        return sum(getattr(self, name) is not None for pair in PAIRS for name in pair) + (
            self.drips is not None
        )

    @property
    def uncertainty(self) -> float:
        """The standard uncertainty of the gap, in mg."""
        return uncertainty(self.count, self.scale_step)


@dataclass(frozen=True, slots=True)
class Balance:
    """Poured = ran off + stayed on + gap, in mg. `stayed` is what is left over where the surfaces were not weighed."""

    poured: int
    ran_off: int
    stayed: int
    gap: int
    least_gap: int
    most_gap: int
    run_off_unsure: int

    @property
    def verdict(self) -> Verdict:
        if self.gap < self.least_gap:
            return Verdict.TOO_MUCH
        return Verdict.MISSING if self.gap > self.most_gap else Verdict.CLOSES

    def share(self, mass: int) -> int:
        """Of what was poured, in millionths."""
        return divide_half_up(mass * MILLION, self.poured)


def balance(readings: Readings, area: int) -> Balance | None:
    """Set one weighing against itself, for an area of fresh paint; None unless cups and tray were weighed.

    A gap is usual from twice the uncertainty below zero to as much above what dries away and sticks to the tools.
    """
    poured, ran_off, stayed = readings.poured, readings.ran_off, readings.stayed
    if poured is None or ran_off is None:
        return None
    unsure = 2 * readings.uncertainty
    hours = (USUAL_MINUTES if readings.minutes is None else readings.minutes) / 60
    dries = EVAPORATES_PER_CM2_HOUR * area / 1000 * hours
    on_tools = max(poured / ON_TOOLS, LEAST_ON_TOOLS)
    on_surfaces = max(poured - ran_off, 0) if stayed is None else stayed
    return Balance(
        poured=poured,
        ran_off=ran_off,
        stayed=on_surfaces,
        gap=poured - ran_off - on_surfaces,
        least_gap=-round(unsure),
        most_gap=round(unsure + dries + on_tools),
        run_off_unsure=round(MILLION * 2 * share_uncertainty(ran_off, poured, readings.scale_step)),
    )


def uncertainty(readings: int, step: int, repeatability: float = 0.0) -> float:
    """The standard uncertainty of a sum or difference of so many readings, in the unit of the step."""
    return sqrt(readings * (step * step / 12 + repeatability * repeatability))


def share_uncertainty(part: int, whole: int, step: int) -> float:
    """The standard uncertainty of part ÷ whole, where each is a difference of two readings."""
    return uncertainty(2, step) * sqrt(1 + (part / whole) ** 2) / whole


def blended_density(parts: Sequence[tuple[int, int]]) -> int:
    """Density in µg/mL of (volume in µL, density in µg/mL) together: masses and volumes both add up.

    Raises ValueError where there is no volume.
    """
    volume = sum(part for part, _density in parts)
    if volume <= 0:
        raise ValueError("There is no volume to take the density of.")
    return divide_half_up(sum(part * density for part, density in parts), volume)


def run_off_of_each(readings: Readings, poured: Sequence[int], density: int) -> list[int]:
    """What ran off each of some pours weighed together (µL), by what was poured on each (µL), at a density in µg/mL.

    The shares add up to what was caught, and none is more than was poured. Raises InputError where more was caught
    than was poured; by rounding alone the tray may show as much as two steps more.
    """
    total, caught = sum(poured), readings.ran_off or 0
    if volume_of(max(caught - 2 * readings.scale_step, 0), density) > total:
        text = _(
            "By these weights {ran_off} ran off, but only {poured} was poured. Check the weights, and which pours are "
            "ticked.",
            ran_off=format_quantity(caught, Measure.MASS),
            poured=format_quantity(mass_of(total, density), Measure.MASS),
        )
        raise InputError(text, field="drips" if readings.tray_after is None else "tray_after")
    return allocate(min(volume_of(caught, density), total), poured)


def off_the_record(readings: Readings, logged: int) -> int:
    """How much more left the cups than was logged, in mg (below zero: less); 0 where the scale cannot tell."""
    gap = 0 if readings.poured is None else readings.poured - logged
    return gap if abs(gap) > 2 * uncertainty(2, readings.scale_step) else 0


def _gain(before: int | None, after: int | None) -> int | None:
    return None if before is None or after is None else after - before
