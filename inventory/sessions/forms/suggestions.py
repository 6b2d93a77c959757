"""Amounts suggested while a session is typed: what each surface takes, and what the cups must hold for that.

A suggestion is written into a blank amount, and once more beside it. While both are the same, nobody has typed over it,
and it follows what it was worked out from. Amounts are thousandths of a mL.
"""

from collections.abc import Iterable
from enum import StrEnum
from itertools import chain

from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.forms.choices import FormChoices
from inventory.sessions.actions.sessions import area_of, size_of
from inventory.sessions.calculations import paint_needed
from inventory.sessions.models import Technique
from inventory.sessions.paint_per_area import Learned, edge_of
from inventory.sessions.queries.paint_per_area import learned_by_technique
from studio.errors import MeniscusError
from studio.values.allocation import MILLION, divide_half_up
from studio.values.numbers import read_small_whole
from studio.values.quantities import input_text
from studio.values.units import Measure

SUGGESTED = "suggested"
RESTS_ON = "rests_on"
ML = 1000
Row = dict[str, str]


class RestsOn(StrEnum):
    """What the amount suggested for a surface was worked out from."""

    OWN_POURS = "own_pours"
    TECHNIQUE = "technique"
    CUPS = "cups"


def suggest_amounts(cups: Iterable[Row], pours: Iterable[Row], form_choices: FormChoices) -> None:
    """Write suggestions into rows as they were typed; an amount that somebody typed stays."""
    pours = [row for row in pours if not row.get("DELETE")]
    _Suggestions(list(cups), pours, form_choices).write()


class _Suggestions:
    def __init__(self, cups: list[Row], pours: list[Row], form_choices: FormChoices) -> None:
        self.cups, self.pours, self.form_choices = cups, pours, form_choices

    def write(self) -> None:
        self._fill_pours()
        made = [(row, self._makes(row)) for row in self.cups]
        self._share_out(made)
        free = [row for row, makes in made if _is_free(row, "wanted") and self._can_be_measured(makes)]
        amount = self._still_missing(made) // max(len(free), 1)
        # A bottle alone gives whatever is poured; nobody need say how much.
        used = [row for row, makes in made if makes is not None]
        is_needed = len(used) > 1 or any(row["contents"].startswith("r") for row in used)
        for row, _makes in made:
            if _is_free(row, "wanted"):
                self._put(row, "wanted", -(-amount // ML) * ML if row in free and is_needed else 0)

    def _fill_pours(self) -> None:
        learned = self._learned()
        for row in self.pours:
            if _is_free(row, "each"):
                self._put(row, "each", self._per_surface(row, learned))
                technique = self._technique(row)
                if row["each"] and technique:
                    has_own = learned[technique.pk].pours > 0
                    row[RESTS_ON] = RestsOn.OWN_POURS if has_own else RestsOn.TECHNIQUE

    def _share_out(self, made: list[tuple[Row, Material | None]]) -> None:
        """Where all cups have an amount and hold less than is suggested, what they hold by area instead."""
        used = [(row, makes) for row, makes in made if makes is not None]
        suggested = [row for row in self.pours if RESTS_ON in row]
        if not used or not suggested or any(_is_free(row, "wanted") for row, _makes in used):
            return
        try:
            held = sum(self._in_cup(row, makes) for row, makes in used)
            poured = sum(self._of_row(row) for row in self.pours)
            typed = poured - sum(self._of_row(row) for row in suggested)
        except MeniscusError:
            return
        areas = [self._area(row) for row in suggested]
        whole = sum(area * _count(row) for area, row in zip(areas, suggested, strict=True))
        if not typed < held < poured or not whole:
            return
        for row, area in zip(suggested, areas, strict=True):
            share = (held - typed) * area // whole  # rounded down, so that no cup runs short
            self._put(row, "each", share // ML * ML or share)
            row[RESTS_ON] = RestsOn.CUPS

    def _put(self, row: Row, name: str, amount: int) -> None:
        comma = self.form_choices.formatter.decimal_comma
        row[name] = row[SUGGESTED] = input_text(amount, Measure.VOLUME, decimal_comma=comma) if amount else ""

    def _learned(self) -> dict[int, Learned]:
        """What the chosen techniques' own pours say: one query, and none where every amount was typed."""
        free = [row for row in self.pours if _is_free(row, "each") and self._surface(row)]
        techniques = {technique for row in free if (technique := self._technique(row))}
        return learned_by_technique(techniques) if techniques else {}

    def _per_surface(self, row: Row, learned: dict[int, Learned]) -> int:
        """What one surface of the row takes, in whole mL; nothing where its cups or weights say so already."""
        surface, technique = self._surface(row), self._technique(row)
        if surface is None or technique is None or _says_otherwise(row):
            return 0
        try:
            rate = learned[technique.pk].estimate(edge_of(size_of(surface))).value
            amount = paint_needed(area_of(surface), rate)
        except MeniscusError:
            return 0
        return divide_half_up(amount, ML) * ML or amount

    def _still_missing(self, made: list[tuple[Row, Material | None]]) -> int:
        """What the cups without an amount must hold together, extra paint included."""
        try:
            poured = sum(self._of_row(row) for row in self.pours)
            held = sum(
                self._in_cup(row, makes)
                for row, makes in made
                if makes is not None and not _is_free(row, "wanted")
            )
        except MeniscusError:
            return 0
        needed = divide_half_up(poured * (MILLION + self.form_choices.studio.reserve), MILLION)
        return max(needed - held, 0)

    def _of_row(self, row: Row) -> int:
        each = row.get("each", "").strip()
        if not each or _says_otherwise(row):
            return 0
        reading = self.form_choices.formatter.read(each, Measure.VOLUME, density=None)
        return reading.quantity.amount * _count(row)

    def _in_cup(self, row: Row, makes: Material) -> int:
        """What a cup holds: as it was measured, else what its parts come to."""
        text = row.get("measured", "").strip() or row["wanted"]
        reading = self.form_choices.formatter.read(text, makes.measure, density=makes.density)
        return mixes.in_measure(makes, reading.quantity.amount, Measure.VOLUME)

    def _makes(self, row: Row) -> Material | None:
        contents = row.get("contents", "")
        version = self.form_choices.version(contents)
        return version.recipe.makes if version else self.form_choices.poured_straight(contents)

    def _can_be_measured(self, makes: Material | None) -> bool:
        return makes is not None and bool(makes.measure == Measure.VOLUME or makes.density)

    def _surface(self, row: Row) -> Material | None:
        if covered := self.form_choices.failed.get(_key(row, "over")) if row.get("over") else None:
            return covered.surface
        return self.form_choices.surfaces.get(_key(row, "surface"))

    def _area(self, row: Row) -> int:
        """What one surface of the row is poured on, in thousandths of a cm²."""
        surface = self._surface(row)
        return area_of(surface) if surface else 0

    def _technique(self, row: Row) -> Technique | None:
        return self.form_choices.techniques.get(_key(row, "technique"))


def _key(row: Row, name: str) -> int:
    return read_small_whole(row.get(name, "")) or 0


def _count(row: Row) -> int:
    return _key(row, "alike")


def _is_free(row: Row, name: str) -> bool:
    """Whether nobody has typed this amount."""
    typed = row.get(name, "").strip()
    return not typed or typed == row.get(SUGGESTED)


def _says_otherwise(row: Row) -> bool:
    """Whether amounts from single cups, or weights of the cups, say what was poured."""
    cups = (name for name in row if name.startswith("cup_"))
    return any(row.get(name, "").strip() for name in chain(cups, ("cups_before", "cups_after")))
