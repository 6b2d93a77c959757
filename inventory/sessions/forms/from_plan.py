"""A plan of “Do I have enough?” written into the session form, to be logged as it was or changed a little."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from inventory.materials.models import Material
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cups import MOST_CUPS
from inventory.recipes.queries import Cup
from inventory.sessions.forms.draft import CUPS, POURS, FormRows
from inventory.sessions.forms.pours import MOST_ALIKE, MOST_ROWS
from inventory.sessions.queries.planning import Answer, LineNeed
from studio.values.allocation import allocate
from studio.values.quantities import input_text
from studio.values.units import Measure

NO_LOTS: Mapping[int, int] = {}
Done = Sequence[tuple[int, int]]
TENTH = 100  # thousandths: nobody measures out more finely


def poured_straight(answer: Answer) -> dict[Material, int]:
    """The volume of each colour that no cup is mixed for, in thousandths of a mL."""
    mixed = {cup.material.pk for cup in answer.cups}
    volumes: dict[Material, int] = defaultdict(int)
    for need in answer.lines:
        parts = allocate(need.paint, [colour.share for colour in need.line.colours])
        for colour, volume in zip(need.line.colours, parts, strict=True):
            if colour.material.pk not in mixed:
                volumes[colour.material] += volume
    return dict(volumes)


class RowsFromPlan:
    """The form's first values. What goes into the cups holds the reserve; what is poured on each surface does not.

    What must be mixed first becomes a cup that nothing is poured from, as long as there is room for it;
    `left_out` names what has no cup. `done` is how many of each line were poured, and how many of those failed.
    """

    def __init__(
        self, answer: Answer, form_choices: FormChoices, *, lots: Mapping[int, int] = NO_LOTS, done: Done = ()
    ) -> None:
        """`lots` are those that the plan keeps to, by material."""
        self.done = (
            done if len(done) == len(answer.lines) else [(need.line.count, 0) for need in answer.lines]
        )
        self.answer, self.formatter, self.lots = answer, form_choices.formatter, lots
        poured = [filled for cup in answer.cups for filled in self._filled(cup)]
        poured += [
            (material, self._cup(f"m{material.pk}", _up(volume), Measure.VOLUME))
            for material, volume in poured_straight(answer).items()
        ]
        first = self._mixed_first(len(poured))
        self.left_out: list[str] = []
        if len(first) + len(poured) > MOST_CUPS:
            self.left_out = [cup.material.name for cup in answer.mix_first if cup.to_mix]
            first = []
        self.left_out += [material.name for material, _row in poured[MOST_CUPS:]]
        self.of: list[Material | None] = [None] * len(first)
        self.of += [material for material, _row in poured[:MOST_CUPS]]
        self.cups = [*first, *(row for _material, row in poured[:MOST_CUPS])]

    def rows(self) -> FormRows:
        lines = zip(self.answer.lines, self.done, strict=True)
        pours = [row for need, (count, failed) in lines for row in self._pours(need, count, failed)]
        return {CUPS: self.cups, POURS: pours[:MOST_ROWS]}

    def _filled(self, cup: Cup) -> list[tuple[Material, dict[str, Any]]]:
        """What stands in a jar is poured from it; the rest is mixed."""
        measure = Measure(cup.material.measure)
        ready = self._cup(f"m{cup.material.pk}", cup.from_stock, measure) if cup.from_stock else None
        mixed = self._cup(f"r{cup.version.recipe_id}", _up(cup.to_mix), measure) if cup.to_mix else None
        return [(cup.material, row) for row in (ready, mixed) if row is not None]

    def _mixed_first(self, cups: int) -> list[dict[str, Any]]:
        """A little more than is needed: every cup that it goes into is rounded up to a tenth as well."""
        to_mix = [cup for cup in self.answer.mix_first if cup.to_mix]
        return [
            self._cup(
                f"r{cup.version.recipe_id}",
                _up(cup.to_mix + (cups + len(to_mix) - number) * TENTH),
                Measure(cup.material.measure),
            )
            for number, cup in enumerate(to_mix, start=1)
        ]

    def _cup(self, contents: str, wanted: int, measure: Measure) -> dict[str, Any]:
        lots = {f"lot_{material}": lot for material, lot in self.lots.items()}
        return {"contents": contents, "wanted": self._typed(wanted, measure), **lots}

    def _pours(self, need: LineNeed, count: int, failed: int) -> list[dict[str, Any]]:
        row = {
            "surface": need.line.surface.pk,
            "technique": need.line.technique.pk,
            "arm": need.line.arm,
            **self._amounts(need),
        }
        rows = []
        for alike in [MOST_ALIKE] * (count // MOST_ALIKE) + [count % MOST_ALIKE]:
            of_these = min(failed, alike)
            failed -= of_these
            if alike:
                rows.append({"alike": alike, **row, **({"failed": of_these} if of_these else {})})
        return rows

    def _amounts(self, need: LineNeed) -> dict[str, str]:
        """One figure where every surface takes of every cup alike; else an amount from each cup that is poured from."""
        colours, each = need.line.colours, need.poured_each
        is_set = need.line.poured is not None
        down = _as_set if is_set else _down
        if not is_set and None not in self.of and not self.left_out and self._is_one_set:
            return {"each": self._typed(_down(each), Measure.VOLUME)}
        parts = zip(colours, allocate(each, [colour.share for colour in colours]), strict=True)
        volumes = {colour.material.pk: volume for colour, volume in parts}
        return {
            f"cup_{number}": self._typed(down(part), Measure.VOLUME)
            for material, volume in volumes.items()
            for number, part in self._over_cups(material, volume)
        }

    @property
    def _is_one_set(self) -> bool:
        """Whether all surfaces take the same colours in the same shares."""
        lines = [{each.material.pk: each.share for each in need.line.colours} for need in self.answer.lines]
        return all(line == lines[0] for line in lines)

    def _over_cups(self, material: int, volume: int) -> list[tuple[int, int]]:
        """A colour's volume over the cups that hold it: what stood in the jar, and what is mixed."""
        numbers = [
            number for number, of in enumerate(self.of, start=1) if of is not None and of.pk == material
        ]
        if len(numbers) < 2:
            return [(number, volume) for number in numbers]
        cup = next(cup for cup in self.answer.cups if cup.material.pk == material)
        return list(zip(numbers, allocate(volume, [cup.from_stock, cup.to_mix]), strict=True))

    def _typed(self, amount: int, measure: Measure) -> str:
        return input_text(amount, measure, decimal_comma=self.formatter.decimal_comma)


def _up(amount: int) -> int:
    return -(-amount // TENTH) * TENTH


def _as_set(amount: int) -> int:
    """What a plan says is poured on each is poured to the thousandth."""
    return amount


def _down(amount: int) -> int:
    return amount // TENTH * TENTH
