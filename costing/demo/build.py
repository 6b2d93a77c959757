"""Builds the demonstration studio: all of it or nothing, through the same writers as the pages."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from functools import partial
from random import Random

from django.db import connection, transaction

from costing.demo.agenda import Agenda, Hour
from costing.demo.bench import Bench
from costing.demo.buying import Buyer
from costing.demo.consigning import Consigning
from costing.demo.figures import Diary
from costing.demo.gallery import draw_logo, hang_pictures, photos_undone
from costing.demo.mishaps import Mishaps
from costing.demo.needs import Needs
from costing.demo.older_pieces import hang_older_pieces
from costing.demo.ordering import Ordering
from costing.demo.places import Places
from costing.demo.plan import plan_year
from costing.demo.saved_plans import plan_ahead, plan_by_ratio
from costing.demo.selling import Selling
from costing.demo.setting_up import Loft, set_up
from costing.demo.shopping import add_by_hand
from costing.demo.titles import titles
from costing.demo.works import Works
from inventory.alerts.actions.answers import acknowledge, snooze
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert
from inventory.ledger.models import Posting
from inventory.ledger.stock_changes import batched
from inventory.materials.models import Material, Supplier
from inventory.sessions.actions.sessions import area_of
from studio.accounts.models import User
from studio.preferences.models import Studio

SEED = 20_240_417
YEAR = 365
TITLES_NEEDED = 205
RECIPE_CHANGED = 170
ALERTS_EVERY = 30

Progress = Callable[[int], None]


class SomebodysOwn(Exception):
    """Raised when the database already holds a studio that is not the demo."""


def holds_demo() -> bool:
    """Whether this database holds the complete demo: it is marked in the transaction that builds it."""
    return _has_table("studio_studio") and Studio.objects.filter(is_demo=True).exists()


def refuse_somebodys_own() -> None:
    """Raise SomebodysOwn when there is anything here that a person may have entered. Reads only."""
    for model in (User, Material, Supplier, Posting):
        if _has_table(model._meta.db_table) and model._default_manager.exists():
            raise SomebodysOwn(
                "This database already contains someone's own data, and the demo would mix with it. "
                "Nothing was changed. Give the demo a place of its own: set MENISCUS_DATA to an empty folder, "
                "or DATABASE_URL to an empty database, and run it again."
            )


@transaction.atomic
def build(*, today: date, now: datetime, scale: float = 1, progress: Progress = lambda percent: None) -> None:
    """Live the year that ends today. `scale` 0.1 lives a tenth of it; `progress` is told the per cent done.

    Raises SomebodysOwn. Everything is one transaction: a build that is interrupted leaves an empty database.
    """
    refuse_somebodys_own()
    rng = Random(SEED)  # noqa: S311 -- a story told the same way every time, not a secret
    loft, agenda = set_up(Diary(today, now), rng), Agenda()
    _fill(agenda, loft, scale)
    with photos_undone(loft):
        # The year raises its alerts on its own days; one look at the stock as it is now follows the commit.
        with batched(at=now):
            agenda.live(pause=lambda days_ago: progress((YEAR - days_ago) * 90 // YEAR))
        hang_pictures(loft, progress=lambda percent: progress(90 + percent // 10))
        draw_logo()


def _fill(agenda: Agenda, loft: Loft, scale: float) -> None:
    """Put the year on the agenda."""
    sessions = plan_year(
        loft.rng,
        scale=scale,
        rate={name: technique.coverage for name, technique in loft.techniques.items()},
        area=lambda surface: area_of(loft.materials[surface]),
    )
    works = Works(loft, agenda, titles(loft.rng, round(TITLES_NEEDED * scale)))
    bench = Bench(loft, agenda, sessions, works)
    buyer = Buyer(loft, Needs(loft, sessions), agenda, scale)
    selling = Selling(loft, agenda, works, scale)
    Ordering(loft, agenda, works, selling)
    Consigning(loft, agenda, works)
    Places(loft, agenda, works, scale)
    Mishaps(loft, agenda, bench)
    agenda.put(YEAR, Hour.ORDERS, buyer.open_shelf)
    agenda.put(YEAR, Hour.ORDERS, partial(hang_older_pieces, loft))
    agenda.put(RECIPE_CHANGED, Hour.SHELF, bench.rewrite_tide_blue)
    agenda.put(2, Hour.ORDERS, lambda days_ago: buyer.order_late_and_open())
    agenda.put(5, Hour.DELIVERIES, buyer.order_in_two_parts)
    agenda.put(0, Hour.LAST, lambda days_ago: plan_ahead(loft))
    agenda.put(0, Hour.LAST, lambda days_ago: plan_by_ratio(loft))
    agenda.put(0, Hour.LAST, lambda days_ago: add_by_hand(loft))
    for days_ago in range(YEAR - YEAR % ALERTS_EVERY, -1, -ALERTS_EVERY):
        agenda.put(days_ago, Hour.LAST, lambda day: _look_at_alerts(loft, day))


def _look_at_alerts(loft: Loft, days_ago: int) -> None:
    day = loft.diary.ago(days_ago)
    refresh_alerts(on=day, at=loft.diary.evening(day))
    if not days_ago:
        _answer_some(loft, day)


def _answer_some(loft: Loft, day: date) -> None:
    """What one of the sisters has seen, and what she will look at next week."""
    submission = loft.submission(loft.helper, day)
    for kind, answer in (
        ("near_date", partial(acknowledge, submission=submission)),
        ("stocktake_due", partial(snooze, until=day + timedelta(days=7), submission=submission)),
    ):
        alert = Alert.objects.waiting(day).filter(kind=kind).order_by("pk").first()
        if alert is not None:
            answer(alert=alert)


def _has_table(name: str) -> bool:
    return name in connection.introspection.table_names()
