"""Work at the bench: its steps in their order, what each pour takes of each cup, and what really was taken.

Quantities are whole thousandths of the base unit of the measure (mL or g) that a cup's contents are kept in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from studio.errors import InputError
from studio.translation import _
from studio.values.allocation import allocate

TENTH = 100  # nobody measures out more finely than a tenth of a mL or g


def up_to_tenth(quantity: int) -> int:
    return -(-quantity // TENTH) * TENTH


def down_to_tenth(quantity: int) -> int:
    return quantity // TENTH * TENTH


def doses_for(each: int, shares: Sequence[int]) -> list[int]:
    """What one surface takes of each colour: the volume shared by parts, down to tenths, so that no cup runs short."""
    return [down_to_tenth(dose) for dose in allocate(each, shares)]


def cup_label(place: int) -> str:
    """A, B, … Z, AA, AB, … as is written on cups."""
    label = ""
    place += 1
    while place:
        place, letter = divmod(place - 1, 26)
        label = chr(ord("A") + letter) + label
    return label


class StepKind(StrEnum):
    """What is done in one step."""

    READY = "ready"
    ZERO = "zero"
    ADD = "add"
    STIR = "stir"
    REST = "rest"
    POUR = "pour"
    FINISH = "finish"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do; which cup, part of it or pour it is about, counted from 0."""

    kind: StepKind
    cup: int | None = None
    part: int | None = None
    pour: int | None = None


def steps_of(parts: Sequence[int], pours: int) -> list[Step]:
    """Every step: so many parts go into each cup, one after another, and then so many surfaces are poured."""
    steps = [Step(StepKind.READY)]
    for cup, count in enumerate(parts):
        steps.append(Step(StepKind.ZERO, cup))
        steps += [Step(StepKind.ADD, cup, part) for part in range(count)]
        if count > 1:
            steps.append(Step(StepKind.STIR, cup))
    if any(count > 1 for count in parts):
        steps.append(Step(StepKind.REST))
    steps += [Step(StepKind.POUR, pour=pour) for pour in range(pours)]
    return [*steps, Step(StepKind.FINISH)]


class TouchKind(StrEnum):
    """What one touch says."""

    POURED = "poured"
    FAILED = "failed"
    SPILLED = "spilled"


@dataclass(frozen=True, slots=True)
class Touch:
    """A surface was poured, well or not; or so much of a cup was spilled. Pours and cups are counted from 0."""

    kind: TouchKind
    pour: int | None = None
    cup: int | None = None
    quantity: int = 0


@dataclass(frozen=True, slots=True)
class Taken:
    """One surface that was poured, and what it took of each cup."""

    pour: int
    is_failed: bool
    doses: dict[int, int]


@dataclass(slots=True)
class Tally:
    """What touches come to: surfaces in the order they were poured, and by cup what was spilled and what is left."""

    left: list[int]
    taken: list[Taken] = field(default_factory=list)
    spilled: dict[int, int] = field(default_factory=dict)


def tally(held: Sequence[int], pours: Sequence[Mapping[int, int]], touches: Sequence[Touch]) -> Tally:
    """Follow the touches in their order. `held` is what stood in each cup, `pours` what each surface should take.

    After a spill a surface takes what is left, and a spill never takes more than that. So for each cup what was
    poured, what was spilled and what is left add up to what it held. Raises InputError naming the touch.
    """
    result = Tally(list(held))
    done: set[int] = set()
    for line, touch in enumerate(touches, start=1):
        problem = _take(result, pours, touch, done)
        if problem:
            raise InputError(problem, field="what", line=line, rows="touches")
    return result


def _take(result: Tally, pours: Sequence[Mapping[int, int]], touch: Touch, done: set[int]) -> str:
    """Take what one touch says out of the cups; or say what is wrong with it."""
    if touch.kind is TouchKind.SPILLED:
        return _spill(result, touch)
    if touch.pour is None or not 0 <= touch.pour < len(pours):
        return _("There is no such surface on this bench.")
    if touch.pour in done:
        return _("This surface was poured already. A surface is poured once.")
    doses = {cup: min(dose, result.left[cup]) for cup, dose in pours[touch.pour].items()}
    doses = {cup: dose for cup, dose in doses.items() if dose > 0}
    if not doses:
        return _("Nothing is left in the cups for this surface. Leave it out.")
    for cup, dose in doses.items():
        result.left[cup] -= dose
    done.add(touch.pour)
    result.taken.append(Taken(touch.pour, touch.kind is TouchKind.FAILED, doses))
    return ""


def _spill(result: Tally, touch: Touch) -> str:
    if touch.cup is None or not 0 <= touch.cup < len(result.left):
        return _("There is no such cup on this bench. Reload the page.")
    quantity = min(touch.quantity, result.left[touch.cup])
    if quantity <= 0:
        return _("Nothing is left in this cup that could be spilled.")
    result.left[touch.cup] -= quantity
    result.spilled[touch.cup] = result.spilled.get(touch.cup, 0) + quantity
    return ""


def from_jar_and_mix(takes: Sequence[int], jar: int) -> list[tuple[int, int]]:
    """Share each amount taken from a cup into what came out of the jar and what was mixed: alike for all.

    What the jar gave is used up first, so that whatever is left in the cup belongs to the mix.
    """
    whole = sum(takes)
    if not whole:
        return [(0, 0) for _take in takes]
    return [
        (ready, take - ready) for take, ready in zip(takes, allocate(min(jar, whole), takes), strict=True)
    ]
