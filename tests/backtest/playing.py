"""A year of use played against a rule: orders placed by the level, deliveries that come when they come."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from inventory.reordering.calculations.lead_times import LeadTime, lead_time
from tests.backtest.families import TEST_FROM, Case, World
from tests.backtest.rules import History, Known

DAYS_ORDERED_FOR = 30
TUNING_STEPS = 12
WEEK = 7  # levels are worked out anew so often
Levels = Sequence[int | None]  # one a week
Rule = Callable[[Known, LeadTime, Sequence[float]], list[int | None]]


@dataclass
class Outcome:
    """Deliveries, those that came in time, and what was held, in days of average use, summed over days."""

    deliveries: int = 0
    in_time: int = 0
    held: float = 0.0

    @property
    def service(self) -> float:
        """In percent."""
        return 100 * self.in_time / self.deliveries if self.deliveries else 0.0

    def add(self, other: "Outcome") -> None:
        self.deliveries += other.deliveries
        self.in_time += other.in_time
        self.held += other.held


@dataclass(frozen=True, slots=True)
class Prepared:
    """A case with what is known of it in each week of the test."""

    case: Case
    lead: LeadTime
    known: Sequence[Known]

    @property
    def first(self) -> int:
        return max(TEST_FROM, self.case.first_day)


def prepare(world: World, *, days_between_checks: int = 1) -> list[Prepared]:
    prepared = []
    for case in world.cases:
        supplier = world.suppliers[case.supplier]
        others = [each for number, each in enumerate(world.suppliers) if number != case.supplier]
        lead = lead_time(
            supplier.stated,
            own=supplier.known,
            ratios_of_others=[days / each.stated for each in others for days in each.known],
            days_between_checks=days_between_checks,
        )
        history, first = History(case.values, case.first_day), max(TEST_FROM, case.first_day)
        known = [history.at_end_of(day) for day in range(first, len(case.values), WEEK)]
        prepared.append(Prepared(case, lead, known))
    return prepared


def levels_by_week(each: Prepared, rule: Rule, targets: Sequence[float]) -> list[Levels]:
    """The levels of every week, one list a target, rounded up to whole things where they are counted."""
    weeks = [rule(known, each.lead, targets) for known in each.known]
    unit = each.case.unit
    return [
        [None if level is None else -(-level // unit) * unit for level in target]
        for target in zip(*weeks, strict=True)
    ]


def play(each: Prepared, levels: Levels, *, days_between_checks: int = 1) -> Outcome:
    """Every draw of lead times, one after the other."""
    total = Outcome()
    for lead_times in each.case.lead_times:
        total.add(_played(each, levels, lead_times, days_between_checks))
    return total


def _played(each: Prepared, levels: Levels, lead_times: Sequence[int], days_between_checks: int) -> Outcome:
    """One course of a year. Use comes first, then the day's deliveries, then, in the evening, the order.

    A delivery came in time when nothing was owed just before it.
    """
    case, first = each.case, each.first
    outcome, due = Outcome(), dict[int, int]()
    level, a_day = levels[0], each.known[0].a_day
    start = next((level for level in levels if level is not None), 0)
    stock, coming, held, ordered = start + max(case.pack, a_day * DAYS_ORDERED_FOR), 0, 0.0, 0
    for day in range(first, len(case.values)):
        week, weekday = divmod(day - first, WEEK)
        if not weekday:
            level, a_day = levels[week], each.known[week].a_day
        stock -= case.values[day]
        held += max(stock, 0)
        if day in due:
            outcome.deliveries += 1
            outcome.in_time += stock >= 0
            arrived = due.pop(day)
            stock, coming = stock + arrived, coming - arrived
        if level is None or weekday % days_between_checks or stock + coming > level:
            continue
        wanted = level + max(case.pack, a_day * DAYS_ORDERED_FOR) - stock - coming
        packs = -(-int(wanted) // case.pack)
        arrives = day + lead_times[ordered % len(lead_times)]
        due[arrives] = due.get(arrives, 0) + packs * case.pack
        coming, ordered = coming + packs * case.pack, ordered + 1
    outcome.held = held / max(sum(case.values) / (len(case.values) - case.first_day), 1)
    return outcome


def total(outcomes: Iterable[Outcome]) -> Outcome:
    together = Outcome()
    for outcome in outcomes:
        together.add(outcome)
    return together


def naive(cases: Sequence[Prepared], factor: float, *, days_between_checks: int = 1) -> Outcome:
    """Average use × lead time × a factor."""

    def levels(each: Prepared) -> list[int | None]:
        return [int(known.a_day * each.lead.mean * factor) + 1 for known in each.known]

    return total(play(each, levels(each), days_between_checks=days_between_checks) for each in cases)


def tuned(cases: Sequence[Prepared], service: float, *, days_between_checks: int = 1) -> Outcome:
    """The naive rule with the factor that gives the same service: chosen in hindsight, which is more than fair."""
    low, high = 0.0, 16.0
    for _step in range(TUNING_STEPS):
        factor = (low + high) / 2
        if naive(cases, factor, days_between_checks=days_between_checks).service < service:
            low = factor
        else:
            high = factor
    return naive(cases, high, days_between_checks=days_between_checks)
