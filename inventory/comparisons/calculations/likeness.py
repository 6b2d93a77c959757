"""Whether the pours of a comparison differ in what she compares, and in nothing else that is recorded.

Cups are held against each other one by one, matched by their paint, as parts per 1 of paint: shares of the whole
cup would blame every part for the excess of one, and sums over cups would hide errors that cancel out. What
follows from these (consistency, water in all, drying) and how the pours turned out is shown, not judged.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from functools import partial
from itertools import combinations
from typing import Any, TypeVar

from inventory.comparisons.calculations.designs import mean
from inventory.comparisons.calculations.facts import (
    NUMBERS,
    ROLES,
    STATED,
    TOLERANCES,
    WORDS,
    Cup,
    Fact,
    Part,
    PourRecord,
    Role,
    Varied,
)

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Difference:
    """One fact that is not alike, as it is in each arm: words, or the mean. `about` names the cup or material."""

    fact: Fact
    by_arm: Mapping[int, str | Fraction]
    about: str = ""
    session: str = ""


class Fairness(StrEnum):
    """The verdict on a comparison's pours."""

    FAIR = "fair"
    AS_FAR_AS_RECORDED = "as_far_as_recorded"
    NOT_FAIR = "not_fair"
    NO_COMPARISON = "no_comparison"


@dataclass(slots=True)
class Likeness:
    """The verdict and its reasons. `sessions` hold every arm; the pours of `left_out` are not compared."""

    fairness: Fairness = Fairness.FAIR
    other: list[Difference] = field(default_factory=list)
    notes: list[Difference] = field(default_factory=list)
    missing: list[Fact] = field(default_factory=list)
    sessions: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    same_arms: list[tuple[int, int]] = field(default_factory=list)

    def lacks(self, fact: Fact) -> None:
        if fact not in self.missing:
            self.missing.append(fact)


def likeness(pours: Sequence[PourRecord], varied: Varied) -> Likeness:
    """Hold every recorded fact of the pours against the others' but what differs on purpose."""
    verdict = Likeness()
    arms = sorted({pour.arm for pour in pours})
    if len(arms) < 2:
        verdict.fairness = Fairness.NO_COMPARISON
        return verdict
    _hold_compared(verdict, pours, arms, varied)
    for session, held in _sessions(verdict, pours, arms):
        for fact in WORDS:
            if fact.value != varied.value:
                _hold_word(verdict, session, held, fact)
        for fact in NUMBERS:
            if fact.value != varied.value:
                _hold_number(verdict, session, held, fact)
        _hold_cups(verdict, session, held, varied)
        _note_turns(verdict, session, held)
        _note_times(verdict, session, held)
        _note_lots(verdict, session, held, varied)
    if verdict.same_arms:
        verdict.fairness = Fairness.NO_COMPARISON
    elif verdict.other:
        verdict.fairness = Fairness.NOT_FAIR
    elif verdict.missing:
        verdict.fairness = Fairness.AS_FAR_AS_RECORDED
    return verdict


def _hold_compared(
    verdict: Likeness, pours: Sequence[PourRecord], arms: Sequence[int], varied: Varied
) -> None:
    """What she compares must be alike inside an arm and unlike between arms."""
    if varied in STATED:
        return
    values = {arm: [_compared(pour, varied) for pour in pours if pour.arm == arm] for arm in arms}
    if any(value is None for column in values.values() for value in column):
        verdict.lacks(Fact.PART if varied in ROLES or varied == Varied.RATIO else Fact(varied.value))
        return
    if varied == Varied.AMOUNT:
        # Nobody pours the same twice to the drop: the arms' means count.
        values = {arm: [{"": _mean_amount(pours, arm)}] for arm in arms}
    for first, second in combinations(arms, 2):
        if all(_same(a, b, varied) for a in values[first] for b in values[second]):
            verdict.same_arms.append((first, second))
    if any(not _same(a, b, varied) for column in values.values() for a, b in combinations(column, 2)):
        verdict.other.append(Difference(Fact.COMPARED, {}))


Compared = Mapping[object, Any]


def _mean_amount(pours: Sequence[PourRecord], arm: int) -> Fraction:
    return mean([pour.numbers[Fact.AMOUNT] or Fraction(0) for pour in pours if pour.arm == arm])


def _compared(pour: PourRecord, varied: Varied) -> Compared | None:
    """What one pour was given of what is compared; None where that is not recorded."""
    if varied == Varied.AMOUNT:
        rate = pour.numbers.get(Fact.AMOUNT)
        return None if rate is None else {"": rate}
    if varied in ROLES or varied == Varied.RATIO:
        if pour.cups is None:
            return None
        if varied in (Varied.RATIO, Varied.WATER):
            roles = list(Role) if varied == Varied.RATIO else [Role.WATER]
            return {(cup.name, role): _total(role, cup) for cup in pour.cups for role in roles}
        role = ROLES[varied]
        return {
            _cup_key(cup, place, varied): frozenset(name for kind, name in cup.parts if kind == role)
            for place, cup in enumerate(pour.cups)
        }
    word = pour.words.get(Fact(varied.value))
    return None if word is None else {"": word}


def _same(a: Compared | None, b: Compared | None, varied: Varied) -> bool:
    if a is None or b is None or a.keys() != b.keys():
        return False
    if varied in (Varied.RATIO, Varied.WATER, Varied.AMOUNT):
        tolerance = TOLERANCES[Fact.AMOUNT if varied == Varied.AMOUNT else Fact.PART]
        return all(tolerance.alike(a[key], b[key]) for key in a)
    return a == b


def _sessions(
    verdict: Likeness, pours: Sequence[PourRecord], arms: Sequence[int]
) -> list[tuple[str, list[PourRecord]]]:
    """The sessions that hold every arm; where none does, all pours together, and the day may be the reason."""
    by_session: dict[str, list[PourRecord]] = {}
    for pour in pours:
        by_session.setdefault(pour.session, []).append(pour)
    whole = {name: held for name, held in by_session.items() if {pour.arm for pour in held} == set(arms)}
    verdict.sessions = list(whole)
    verdict.left_out = [name for name in by_session if name not in whole] if whole else []
    if whole:
        return list(whole.items())
    verdict.other.append(
        Difference(Fact.DAY, _by_arm(pours, lambda held: ", ".join(sorted({pour.session for pour in held}))))
    )
    return [("", list(pours))]


def _hold_word(verdict: Likeness, session: str, pours: Sequence[PourRecord], fact: Fact) -> None:
    if any(pour.words.get(fact) is None for pour in pours):
        verdict.lacks(fact)
        return
    tallies = _by_arm(pours, lambda held: Counter(str(pour.words[fact]) for pour in held))
    shares = [
        {word: Fraction(count, tally.total()) for word, count in tally.items()} for tally in tallies.values()
    ]
    if any(share != shares[0] for share in shares):
        words = {arm: _in_words(tally) for arm, tally in tallies.items()}
        verdict.other.append(Difference(fact, words, session=session))


def _in_words(tally: Counter[str]) -> str:
    if len(tally) == 1:
        return next(iter(tally))
    return ", ".join(f"{count} × {word}" for word, count in sorted(tally.items()))


def _hold_number(verdict: Likeness, session: str, pours: Sequence[PourRecord], fact: Fact) -> None:
    values = [pour.numbers.get(fact) for pour in pours]
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        verdict.lacks(fact)
        return
    means = _by_arm(pours, lambda held: mean([pour.numbers[fact] or Fraction(0) for pour in held]))
    tolerance = TOLERANCES[fact]
    if not tolerance.alike(min(means.values()), max(means.values())):
        verdict.other.append(Difference(fact, means, session=session))
    elif not tolerance.alike(min(known), max(known)):
        verdict.notes.append(Difference(fact, means, session=session))


def _hold_cups(verdict: Likeness, session: str, pours: Sequence[PourRecord], varied: Varied) -> None:
    if any(pour.cups is None for pour in pours):
        verdict.lacks(Fact.PART)
        return
    cups = {
        id(pour): {_cup_key(cup, place, varied): cup for place, cup in enumerate(pour.cups or ())}
        for pour in pours
    }
    for name in dict.fromkeys(name for held in cups.values() for name in held):
        about = {id(pour): cups[id(pour)].get(name) for pour in pours}
        _hold_cup(verdict, session, pours, about, varied)


def _hold_cup(
    verdict: Likeness,
    session: str,
    pours: Sequence[PourRecord],
    cups: Mapping[int, Cup | None],
    varied: Varied,
) -> None:
    name = next(cup.name for cup in cups.values() if cup is not None)

    def means(value: Callable[[Cup], Fraction]) -> dict[int, Fraction]:
        return _by_arm(
            pours,
            lambda held: mean(
                [Fraction(0) if (cup := cups[id(pour)]) is None else value(cup) for pour in held]
            ),
        )

    if any(cup is None for cup in cups.values()) and len({*means(lambda _cup: Fraction(1)).values()}) > 1:
        verdict.other.append(Difference(Fact.COLOURS, means(lambda _cup: Fraction(1)), name, session))
        return
    # How much of the pour a cup is follows from its parts where those are compared.
    if varied not in (*ROLES, Varied.RATIO):
        _hold_means(verdict, Fact.CUP_SHARE, means(lambda cup: cup.share), name, session)
    for label, value in _held_parts([cup for cup in cups.values() if cup is not None], varied):
        by_arm = means(value)
        if varied == Varied.RATIO:
            by_arm = {arm: Fraction(amount > 0) for arm, amount in by_arm.items()}
        _hold_means(verdict, Fact.PART, by_arm, f"{name}: {label}", session)


def _hold_means(
    verdict: Likeness, fact: Fact, means: Mapping[int, Fraction], about: str, session: str
) -> None:
    if not TOLERANCES[fact].alike(min(means.values()), max(means.values())):
        verdict.other.append(Difference(fact, means, about, session))


def _held_parts(cups: Sequence[Cup], varied: Varied) -> Iterable[tuple[str, Callable[[Cup], Fraction]]]:
    """What of a cup is held against the others': each material; of the role that is compared only how much in all.

    How much of an additive, or of water, is what is compared there.
    """
    role = ROLES.get(varied)
    for part in dict.fromkeys(part for cup in cups for part in cup.parts):
        if part[0] != role:
            yield part[1], partial(_amount, part)
    if role in (Role.MEDIUM, Role.PAINT):
        yield str(role), partial(_total, role)


def _note_turns(verdict: Likeness, session: str, pours: Sequence[PourRecord]) -> None:
    """One arm wholly before another: paint thickens and hands tire (common practice, no source)."""
    turns = _by_arm(pours, lambda held: [pour.turn for pour in held])
    several = {arm: places for arm, places in turns.items() if len(places) > 1}
    if any(max(a) < min(b) or max(b) < min(a) for a, b in combinations(several.values(), 2)):
        ranges = {arm: f"{min(places)}–{max(places)}" for arm, places in turns.items()}
        verdict.notes.append(Difference(Fact.TURN, ranges, session=session))


def _note_times(verdict: Likeness, session: str, pours: Sequence[PourRecord]) -> None:
    """One arm hours after another: light, warmth and hands change in a day (common practice, no source)."""
    if all(pour.time is not None for pour in pours):
        means = _by_arm(pours, lambda held: mean([pour.time or Fraction(0) for pour in held]))
        if not TOLERANCES[Fact.TIME].alike(min(means.values()), max(means.values())):
            verdict.notes.append(Difference(Fact.TIME, means, session=session))


def _note_lots(verdict: Likeness, session: str, pours: Sequence[PourRecord], varied: Varied) -> None:
    for material in dict.fromkeys(name for pour in pours for name in pour.lots):
        using = [pour for pour in pours if material in pour.lots]
        by_arm = _by_arm(using, partial(_lots_of, material))
        if len(set(by_arm.values())) > 1:
            verdict.notes.append(Difference(Fact.LOT, by_arm, material, session))


def _lots_of(material: str, pours: Sequence[PourRecord]) -> str:
    return ", ".join(sorted({lot for pour in pours for lot in pour.lots[material]}))


def _by_arm(pours: Sequence[PourRecord], value: Callable[[list[PourRecord]], T]) -> dict[int, T]:
    arms: dict[int, list[PourRecord]] = {}
    for pour in pours:
        arms.setdefault(pour.arm, []).append(pour)
    return {arm: value(held) for arm, held in sorted(arms.items())}


def _amount(part: Part, cup: Cup) -> Fraction:
    return cup.parts.get(part, Fraction(0))


def _total(role: Role, cup: Cup) -> Fraction:
    return sum((amount for (kind, _name), amount in cup.parts.items() if kind == role), Fraction(0))


def _cup_key(cup: Cup, place: int, varied: Varied) -> object:
    """Cups are matched by their paint; where paints are compared, by their place."""
    return place if varied == Varied.PAINT else cup.name
