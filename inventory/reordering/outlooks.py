"""One material through time: its use by week, its stock behind and ahead, and whether its deliveries came in time.

Read for its page and for programs, in the same few queries however long its history is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.dates import MONTHS

from inventory.plans.models import Plan
from inventory.plans.queries import Promises
from inventory.reordering.calculations import outlook
from inventory.reordering.calculations.demand import Kind, Series, kind_of
from inventory.reordering.calculations.forecasts import forecast, season
from inventory.reordering.calculations.levels import DAYS_OF_RATE
from inventory.reordering.calculations.outlook import Came, Change, Expected
from inventory.reordering.history import Story, days_without_stock, deliveries_of, story_of
from inventory.reordering.queries import Level
from studio.translation import _, noop

FEWEST_WEEKS = 3  # of which a kind of use can be told (own choice)
DAYS_BACK, FEWEST_AHEAD, MOST_AHEAD = 90, 28, 90
WEEKS_SHOWN = 52
KINDS = {
    Kind.SMOOTH: noop("smooth: most weeks, about the same"),
    Kind.ERRATIC: noop("erratic: most weeks, by very different amounts"),
    Kind.INTERMITTENT: noop("intermittent: some weeks, about the same"),
    Kind.LUMPY: noop("lumpy: some weeks, by very different amounts"),
    Kind.NONE: noop("none"),
}


@dataclass(frozen=True, slots=True)
class Demand:
    """What kind of use a material has by week, how much is expected of a week, and the months that use more.

    `kind` is None while there are too few weeks to tell it.
    """

    kind: Kind | None
    week: float
    months: Sequence[int]

    @property
    def week_rounded(self) -> int:
        return round(self.week)

    @property
    def kind_in_words(self) -> str:
        return _("too little to tell yet") if self.kind is None else _(KINDS[self.kind])

    @property
    def months_in_words(self) -> str:
        """Names of the months, where two years agree that they use more."""
        return ", ".join(str(MONTHS[number]) for number in self.months)


@dataclass(frozen=True, slots=True)
class Arrival:
    """So much that an open order should bring, and when; what is late is looked for tomorrow."""

    day: date
    quantity: int


@dataclass(frozen=True, slots=True)
class Taking:
    """So much that an open plan takes, and when; one whose day has passed may take it today."""

    day: date
    quantity: int
    plan: Plan


@dataclass(frozen=True, slots=True)
class Outlook:
    """A level with what is behind it and what is ahead of it. Quantities are thousandths of the base unit."""

    level: Level
    demand: Demand
    on: date
    past: Sequence[Change]
    ahead: Sequence[Expected]
    arrivals: Sequence[Arrival]
    takings: Sequence[Taking]
    weeks: Sequence[Change]
    deliveries: Sequence[Came]
    days_without: int

    @property
    def in_time(self) -> int:
        """How many deliveries of the last year came while something was left."""
        return sum(came.in_time for came in self.deliveries)


def outlook_of(level: Level, on: date, promises: Promises) -> Outlook:
    """Everything about one material through time; `level` is today's, `promises` those of today."""
    pk, year = level.material.pk, on - timedelta(days=DAYS_OF_RATE)
    story = story_of(on - timedelta(days=1), pk)
    changes = [(day, change) for day, change, _used in story.days]
    known_since = max(year, story.first or year)
    came = deliveries_of(pk, since=known_since, on=on)
    arrivals, takings = _arrivals(level, on, promises), _takings(level, on, promises)
    gone = days_without_stock(story.days, story.held, on=on - timedelta(days=1))
    return Outlook(
        level=level,
        demand=_demand(story, on),
        on=on,
        past=outlook.stock_by_day(
            changes, story.held, since=max(on - timedelta(days=DAYS_BACK), story.first or on), on=on
        ),
        ahead=_ahead(level, story.series, on, arrivals, takings),
        arrivals=arrivals,
        takings=takings,
        weeks=outlook.by_week(_uses(story), on=on, weeks=WEEKS_SHOWN),
        deliveries=outlook.deliveries(came, changes, story.held),
        days_without=sum(known_since < day for day in gone),
    )


def _uses(story: Story) -> list[Change]:
    return [(day, used) for day, _change, used in story.days]


def _demand(story: Story, on: date) -> Demand:
    weeks = story.series.by_week()
    seen = season(outlook.by_month(_uses(story), on=on, since=story.first)) if story.first else None
    kind = kind_of(weeks) if weeks.length >= FEWEST_WEEKS else None
    return Demand(kind, forecast(weeks), outlook.busy_months(seen))


def _ahead(
    level: Level, series: Series, on: date, arrivals: Sequence[Arrival], takings: Sequence[Taking]
) -> list[Expected]:
    if level.use is None:
        return []
    longest = level.lead.longest if level.lead else FEWEST_AHEAD
    return outlook.expected_stock(
        series,
        level.use.per_day,
        level.stock,
        on=on,
        days=min(max(longest, FEWEST_AHEAD), MOST_AHEAD),
        changes=[
            *((each.day, each.quantity) for each in arrivals),
            *((each.day, -each.quantity) for each in takings),
        ],
    )


def _arrivals(level: Level, on: date, promises: Promises) -> list[Arrival]:
    found = [
        Arrival(max(each.due_on, on + timedelta(days=1)), each.quantity)
        for each in promises.arrivals
        if each.material == level.material.pk and each.quantity
    ]
    return sorted(found, key=lambda each: each.day)


def _takings(level: Level, on: date, promises: Promises) -> list[Taking]:
    return [
        Taking(max(plan.planned_on, on), quantity, plan)
        for plan, quantity in promises.plans_that_take(level.material.pk)
    ]
