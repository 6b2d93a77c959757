"""How many pours the shelf allows at most: a whole-number programme over all lines that share materials.

Quantities are thousandths of each material's base unit, areas thousandths of a cm². The solver (HiGHS) works in
floating point, so what it finds is held against the shelf in exact fractions before anybody is told.
"""

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from math import ceil, floor, inf

from inventory.recipes.calculations import Recipe, users_first
from studio.values import programmes
from studio.values.allocation import THOUSANDTHS

# A need may exceed what is held by so much and still count as covered: a hundredth of a millilitre (or gram), less
# than anybody can measure out, and more than the rounding of cups to thousandths can add up to. Own choice.
GRACE = 10
SECONDS = 0.45
SECONDS_FOR_AREA = 0.15
SECONDS_TO_FILL = 0.15  # what is added to equal shares need not be proved to be the most
RETRIES = 5
# The whole gap is closed but for less than one pour.
GAP = 0.999


@dataclass(frozen=True, slots=True)
class PourLine:
    """So many like pours: the area of each, and what each takes, by material, before any mixing."""

    count: int
    area: int
    each: Mapping[int, Fraction]


@dataclass(frozen=True, slots=True)
class Most:
    """How many of each line can be poured, and a number of pours that nothing can exceed."""

    counts: tuple[int, ...]
    bound: int

    @property
    def total(self) -> int:
        return sum(self.counts)

    @property
    def is_proven(self) -> bool:
        """Whether the programme was solved to the end: no other choice of pours gives more."""
        return self.total == self.bound


@dataclass(frozen=True, slots=True)
class Shelf:
    """What is held of each material (None: it never runs out), and what is mixed from what.

    What is held of a mix is used before any is mixed. Raises RecipeCycleError, DensityNeededError.
    """

    held: Mapping[int, int | None]
    recipes: Mapping[int, Recipe]

    _ingredients: dict[int, dict[int, Fraction]] = field(default_factory=dict, init=False)
    _orders: dict[frozenset[int], list[int]] = field(default_factory=dict, init=False)

    def ingredients_of(self, material: int) -> dict[int, Fraction]:
        """What one unit of a mix takes, worked out once."""
        if material not in self._ingredients:
            self._ingredients[material] = self.recipes[material].ingredients
        return self._ingredients[material]

    def order(self, wanted: Iterable[int]) -> list[int]:
        """Everything that the wanted materials lead to, each after all that need it."""
        named = frozenset(wanted)
        if named not in self._orders:
            self._orders[named] = users_first(named, self.recipes, {})
        return self._orders[named]

    def taken(self, wanted: Mapping[int, Fraction]) -> dict[int, Fraction]:
        """What a need takes off the shelf: of the mixes that are held, and of bought materials for the rest."""
        need = dict(wanted)
        taken: dict[int, Fraction] = {}
        for material in self.order(wanted):
            quantity = need.get(material, Fraction(0))
            ready = quantity
            if material in self.recipes:
                ready = min(quantity, Fraction(self.held.get(material) or 0))
            if ready:
                taken[material] = ready
            for ingredient, share in self.ingredients_of(material).items() if quantity > ready else ():
                need[ingredient] = need.get(ingredient, Fraction(0)) + share * (quantity - ready)
        return taken

    def bought(self, wanted: Mapping[int, Fraction]) -> dict[int, Fraction]:
        """The bought materials that a need comes to once every mix that is held has been used."""
        return {pk: quantity for pk, quantity in self.taken(wanted).items() if pk not in self.recipes}

    def excess(self, wanted: Mapping[int, Fraction]) -> dict[int, Fraction]:
        """By how much a need exceeds what is held of each material that is short."""
        return {
            material: quantity - held
            for material, quantity in self.bought(wanted).items()
            if (held := self.held.get(material, 0)) is not None and quantity - held > GRACE
        }

    def covers(self, wanted: Mapping[int, Fraction]) -> bool:
        return not self.excess(wanted)


def together(lines: Sequence[PourLine], counts: Sequence[int]) -> dict[int, Fraction]:
    """What so many pours of each line take in all."""
    wanted: dict[int, Fraction] = {}
    for line, count in zip(lines, counts, strict=True):
        if count:
            for material, quantity in line.each.items():
                wanted[material] = wanted.get(material, Fraction(0)) + quantity * count
    return wanted


def how_often(each: Mapping[int, Fraction], shelf: Shelf) -> int | None:
    """How many times a need is covered, however many were asked for; None when nothing limits it."""
    if not shelf.covers({material: quantity * 10**12 for material, quantity in each.items()}):
        beyond = 1
        while _covers(shelf, {}, each, beyond):
            beyond *= 2
        return _largest(beyond - 1, partial(_covers, shelf, {}, each))
    return None


def these_first(lines: Sequence[PourLine], shelf: Shelf) -> tuple[int, ...]:
    """As many as can be of the first line, then of the second from what that leaves, and so on."""
    counts: list[int] = []
    for line in lines:
        before = together(lines[: len(counts)], counts)
        counts.append(_largest(line.count, partial(_covers, shelf, before, line.each)))
    return tuple(counts)


def in_proportion(lines: Sequence[PourLine], shelf: Shelf) -> tuple[int, ...]:
    """The largest part of every line alike: the same share of each, its pours rounded up to whole ones."""
    shares = sorted({Fraction(number, line.count) for line in lines for number in range(line.count + 1)})

    def counts_at(place: int) -> tuple[int, ...]:
        return tuple(ceil(shares[place] * line.count) for line in lines)

    return counts_at(_largest(len(shares) - 1, lambda place: shelf.covers(together(lines, counts_at(place)))))


def most_pours(
    lines: Sequence[PourLine], shelf: Shelf, *, at_least: Sequence[int] = (), seconds: float = SECONDS
) -> Most:
    """The most pours that the shelf allows, none above its line's count; of several answers the largest area.

    `at_least` are pours of each line, known to be possible, that are kept. After so many seconds the best that was
    found until then is returned, with the bound as far as it was proved.
    """
    least = tuple(at_least) or (0,) * len(lines)
    everything = tuple(line.count for line in lines)
    short = shelf.excess(together(lines, everything))
    if not short:
        return Most(everything, sum(everything))
    programme = _Programme(lines, shelf, least, short)
    counts, bound = programme.solve([1.0] * len(lines), seconds=seconds)
    most = Most(max(counts, least, key=sum), bound)
    if not most.is_proven:
        return most
    areas = [line.area / THOUSANDTHS for line in lines]
    larger, _bound = programme.solve(areas, seconds=SECONDS_FOR_AREA, total=most.total)
    return Most(max(most.counts, larger, key=lambda found: (sum(found), _area(lines, found))), bound)


@dataclass(frozen=True, slots=True)
class AtMost:
    """How many of each line of a set can be poured, by three ways to choose when there is not enough for all.

    `most` is as many pours as can be; `in_proportion` the same share of every line; `filled` that, and then as many
    more as can be; `in_order` as many as can be of the first line, then of the second from what is left, and so on.
    """

    most: Most
    in_proportion: tuple[int, ...]
    filled: tuple[int, ...]
    in_order: tuple[int, ...]

    @classmethod
    def of(cls, lines: Sequence[PourLine], shelf: Shelf) -> "AtMost":
        most = most_pours(lines, shelf)
        if most.total == sum(line.count for line in lines):
            return cls(most, most.counts, most.counts, most.counts)
        even, filled = in_proportion(lines, shelf), most.counts
        if any(less < kept for less, kept in zip(filled, even, strict=True)):
            filled = most_pours(lines, shelf, at_least=even, seconds=SECONDS_TO_FILL).counts
        return cls(most, even, filled, these_first(lines, shelf))


class _Programme:
    """The pours of each line, whole, and how much is made of each mix, against what can run out.

    Only materials that are short when everything is poured can limit anything, so only they have a row, and the
    mixes that lead to them a row and a column. Rows are in whole base units.
    """

    def __init__(
        self, lines: Sequence[PourLine], shelf: Shelf, least: Sequence[int], short: Iterable[int]
    ) -> None:
        self.lines, self.shelf, self.least = lines, shelf, least
        needs = together(lines, [1] * len(lines))
        limited = set(short)
        for material in reversed(shelf.order(needs)):
            if material in shelf.recipes and limited.intersection(shelf.ingredients_of(material)):
                limited.add(material)
        self.made = [material for material in limited if material in shelf.recipes]
        self.rows = {material: self._row(material) for material in limited}
        self.limits = {
            material: (shelf.held.get(material) or 0) + (0 if material in shelf.recipes else GRACE)
            for material in limited
        }

    def _row(self, material: int) -> dict[int, float]:
        """What is taken of one material by column: a pour of each line, then a unit of each mix."""
        row = {
            column: float(line.each[material] / THOUSANDTHS)
            for column, line in enumerate(self.lines)
            if material in line.each
        }
        for column, made in enumerate(self.made, start=len(self.lines)):
            if made == material:
                row[column] = -1.0
            elif share := self.shelf.ingredients_of(made).get(material):
                row[column] = float(share)
        return row

    def solve(
        self, worth: Sequence[float], *, seconds: float, total: int | None = None
    ) -> tuple[tuple[int, ...], int]:
        """The counts worth most, proved against the shelf, and the worth that nothing can exceed, rounded down.

        With `total`, no fewer pours than that. Where rounding has let too much through, the limit that was crossed
        is lowered and the programme solved again; at last pours are taken off.
        """
        limits = dict(self.limits)
        ceiling = sum(ceil(each * line.count) for each, line in zip(worth, self.lines, strict=True))
        for attempt in range(RETRIES):
            columns, bound = _solved(self._model(worth, limits, total), seconds)
            if attempt == 0:
                ceiling = min(ceiling, bound)
            counts = self._whole(columns)
            excess = self.shelf.excess(together(self.lines, counts))
            if not excess:
                return counts, ceiling
            for material, quantity in excess.items():
                limits[material] -= ceil(quantity)
        return self._taken_off(counts), ceiling

    def _whole(self, columns: Sequence[float]) -> tuple[int, ...]:
        if not columns:
            return tuple(self.least)
        return tuple(
            min(max(round(column), least), line.count)
            for column, least, line in zip(columns, self.least, self.lines, strict=False)
        )

    def _taken_off(self, counts: Sequence[int]) -> tuple[int, ...]:
        fewer = list(counts)
        while excess := self.shelf.excess(together(self.lines, fewer)):
            material = max(excess, key=lambda each: excess[each])
            spare = [place for place, count in enumerate(fewer) if count > self.least[place]]
            fewer[max(spare, key=lambda place: self._taken(place, material))] -= 1
        return tuple(fewer)

    def _taken(self, place: int, material: int) -> Fraction:
        return self.shelf.bought(self.lines[place].each).get(material, Fraction(0))

    def _model(
        self, worth: Sequence[float], limits: Mapping[int, int], total: int | None
    ) -> programmes.Programme:
        """As many pours as can be, each counting for its worth: the solver looks for the least, so all is negative."""
        rows: list[programmes.Row] = [
            (self.rows[material], -inf, limits[material] / THOUSANDTHS) for material in self.rows
        ]
        if total is not None:
            rows.append((dict.fromkeys(range(len(self.lines)), -1.0), -inf, float(-total)))
        made = [0.0] * len(self.made)
        return programmes.Programme(
            cost=[*(-each for each in worth), *made],
            lower=[*map(float, self.least), *made],
            upper=[*(float(line.count) for line in self.lines), *(inf for _made in self.made)],
            whole=[*(True for _line in self.lines), *(False for _made in self.made)],
            rows=rows,
        )


def _solved(model: programmes.Programme, seconds: float) -> tuple[Sequence[float], int]:
    """The best columns found in the time (none when there was not even one answer), and the bound, rounded down."""
    solution = programmes.solve(model, seconds=seconds, gap_in_cost=GAP)
    return solution.columns, floor(1e-6 - solution.bound) if solution.has_bound else sys.maxsize


def _area(lines: Sequence[PourLine], counts: Sequence[int]) -> int:
    return sum(line.area * count for line, count in zip(lines, counts, strict=True))


def _covers(shelf: Shelf, before: Mapping[int, Fraction], each: Mapping[int, Fraction], count: int) -> bool:
    wanted = dict(before)
    for material, quantity in each.items():
        wanted[material] = wanted.get(material, Fraction(0)) + quantity * count
    return shelf.covers(wanted)


def _largest(most: int, fits: Callable[[int], bool]) -> int:
    """The largest number up to `most` that fits, when each smaller one does. Nothing always fits."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if fits(middle) else (low, middle - 1)
    return low
