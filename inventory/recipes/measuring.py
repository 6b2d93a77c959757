"""What a scale or a measuring cup can tell of a cup being filled, and what to add when too much of a part went in.

Amounts, readings and steps are whole thousandths: of a g on a scale, of a mL in a measuring cup. Parts stand in pouring
order. Volumes are taken to add up on mixing (from memory: they barely shrink).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.errors import InputError
from studio.translation import _
from studio.values.allocation import MILLION, divide_half_up

NEAR_ENOUGH = 20_000  # 2 %, own choice


@dataclass(frozen=True, slots=True)
class Reading:
    """One part as it is measured out: so much of it, and what the scale or measuring cup shows afterwards."""

    amount: int
    shows: int


@dataclass(frozen=True, slots=True)
class Limits:
    """What correcting a cup may use: what is left of each part, and what the cup holds. None: enough."""

    left: Sequence[int | None]
    room: int | None = None


@dataclass(frozen=True, slots=True)
class Correction:
    """A cup brought back to its proportions, or as near as can be: pour off until `kept` is left, then add.

    `kept` and what the readings show count the empty cup in, where it is weighed along. `contents` is what is in the
    cup afterwards, part by part.
    """

    kept: int
    added: tuple[Reading, ...]
    contents: tuple[int, ...]


def to_step(amount: int | Fraction, step: int) -> int:
    """An amount as an instrument shows it that can tell `step`: rounded half up."""
    exact = Fraction(amount) / step
    return divide_half_up(exact.numerator, exact.denominator) * step


def running_readings(amounts: Iterable[int | Fraction], step: int, *, empty: int = 0) -> list[Reading]:
    """What goes into one cup, part by part, and what one instrument that is never reset shows after each.

    The running totals are rounded, not the parts, so no part is off by more than a step, the readings never fall, and
    the parts add up to the rounded cup. `step` is what the instrument can tell (0.1 g = 100; of a studio: scale_step
    for amounts in g, measuring_step for amounts in mL); `empty` is what it shows with the empty cup on it, 0 after it
    was set to zero.
    """
    before = start = to_step(empty, step)
    total = Fraction(0)
    readings = []
    for amount in amounts:
        total += amount
        shows = start + to_step(total, step)
        readings.append(Reading(shows - before, shows))
        before = shows
    return readings


def contents_by(planned: Sequence[int], shows: Sequence[int | None], *, empty: int = 0) -> list[int]:
    """What is in a cup, part by part, by what was shown after each; None was not looked at, or is still to come.

    What nobody looked at before the last reading went in as planned. Raises InputError naming `shows` and its line for
    a reading below what was in the cup before.
    """
    before = empty
    last = max((line for line, shown in enumerate(shows) if shown is not None), default=-1)
    contents = [0] * len(planned)
    for line, (part, shown) in enumerate(zip(planned, shows, strict=True)):
        if line > last:
            break
        contents[line] = part if shown is None else shown - before
        if contents[line] < 0:
            too_low = _(
                "It cannot show less than before this part went in. Check this reading and those above."
            )
            raise InputError(too_low, field="shows", line=line + 1)
        before += contents[line]
    return contents


def is_near_enough(planned: int | Fraction, amount: int, step: int) -> bool:
    """Whether an amount is off its plan by no more than a step of the instrument, or 2 %."""
    off = abs(Fraction(amount) - planned)
    return off <= step or off * MILLION <= planned * NEAR_ENOUGH


def corrected(planned: Sequence[int], in_cup: Sequence[int], step: int, *, empty: int = 0) -> Correction:
    """What to add of each part so that a cup with too much of one is in proportion again, and no smaller than planned.

    It is the least that does it: a smaller cup would ask for less than nothing of some part.
    """
    return _correction(in_cup, Fraction(1), _missing(planned, in_cup), step, empty, None)


def carried_on(planned: Sequence[int], in_cup: Sequence[int], step: int, *, empty: int = 0) -> Correction:
    """The parts that are not in the cup yet, as planned."""
    missing = [Fraction(0 if has else part) for has, part in zip(in_cup, planned, strict=True)]
    return _correction(in_cup, Fraction(1), missing, step, empty, None)


def is_within(correction: Correction, limits: Limits) -> bool:
    """Whether the shelf holds what a correction adds, and the cup has room for it."""
    pairs = zip(correction.added, limits.left, strict=True)
    has_room = limits.room is None or sum(correction.contents) <= limits.room
    return has_room and all(left is None or reading.amount <= left for reading, left in pairs)


def with_what_there_is(
    planned: Sequence[int], in_cup: Sequence[int], step: int, *, limits: Limits, empty: int = 0
) -> Correction:
    """Nothing is poured off: what the shelf and the cup have no room for is left out, so proportions stay off."""
    missing = [
        more if left is None else min(more, Fraction(left))
        for more, left in zip(_missing(planned, in_cup), limits.left, strict=True)
    ]
    if limits.room is not None and sum(missing) > (room := max(limits.room - sum(in_cup), 0)):
        missing = [more * room / sum(missing) for more in missing]
    return _correction(in_cup, Fraction(1), missing, step, empty, limits)


def after_pouring_off(
    planned: Sequence[int], in_cup: Sequence[int], step: int, *, limits: Limits, empty: int = 0
) -> Correction:
    """In proportion, but smaller: stir, pour off what is too much, and add less of each part."""
    missing = _missing(planned, in_cup)
    shares = [
        Fraction(left) / more
        for more, left in zip(missing, limits.left, strict=True)
        if left is not None and more
    ]
    if limits.room is not None:
        shares.append(Fraction(limits.room) / (sum(in_cup) + sum(missing)))
    keep = min([Fraction(1), *shares])
    return _correction(in_cup, keep, [more * keep for more in missing], step, empty, limits)


def _missing(planned: Sequence[int], in_cup: Sequence[int]) -> list[Fraction]:
    """What each part lacks of the smallest cup in proportion that holds what is in this one and is not below plan."""
    times = max(
        [Fraction(1), *(Fraction(has, part) for has, part in zip(in_cup, planned, strict=True) if part)]
    )
    return [times * part - has if part else Fraction(0) for has, part in zip(in_cup, planned, strict=True)]


def _correction(
    in_cup: Sequence[int],
    keep: Fraction,
    missing: Sequence[Fraction],
    step: int,
    empty: int,
    limits: Limits | None,
) -> Correction:
    """Round the running readings; a part that is limited is rounded down, and nothing goes beyond the room."""
    start = to_step(empty, step)
    total = keep * sum(in_cup)
    before = kept = start + to_step(total, step)
    lefts = limits.left if limits else [None] * len(missing)
    full = start + limits.room // step * step if limits and limits.room is not None else None
    added = []
    for more, left in zip(missing, lefts, strict=True):
        total += more
        shows = max(start + to_step(total, step), before)
        if left is not None:
            shows = min(shows, before + left // step * step)
        if full is not None:
            shows = max(min(shows, full), before)
        added.append(Reading(shows - before, shows))
        before = shows
    contents = tuple(
        to_step(keep * has, 1) + reading.amount for has, reading in zip(in_cup, added, strict=True)
    )
    return Correction(kept, tuple(added), contents)
