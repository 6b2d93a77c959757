"""Jobs by clocks that are wrong, and round the clock where the day begins at odd moments."""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from http import HTTPStatus
from unittest.mock import patch
from zoneinfo import ZoneInfo

from django.utils import timezone

from inventory.errors import InventoryError
from inventory.ledger.models import Books, Lot, Posting
from inventory.ledger.month_ends import balances_on, keep_month_ends
from inventory.materials.models import Material
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import RecipeVersion
from inventory.stock.actions.lots import write_off
from inventory.stock.through_time import use_by_month
from studio.accounts.models import User
from studio.submission import Submission
from tests import making
from tests.days import AT, DAY
from tests.faults.jobs import Meet, Say, Scene
from tests.faults.page_jobs import Bench

EPOCH = datetime(1970, 1, 1, 3, tzinfo=UTC)
# How far the clock is put wrong, and for how long it is then believed: two hours back, a day ahead, and a machine
# that has forgotten the year.
WRONG = {
    "two hours back": -timedelta(hours=2),
    "a day ahead": DAY,
    "in 1970": EPOCH - AT,
    "right": timedelta(),
}
YEAR = 2026  # two changes of the clock lie in it, in every zone below
# Half an hour of summer time, clocks that change at midnight, quarters of an hour from UTC, both halves of the globe.
ZONES = (
    "America/New_York",
    "America/St_Johns",
    "America/Santiago",
    "Australia/Lord_Howe",
    "Europe/London",
    "Pacific/Chatham",
)


@dataclass
class Told:
    """What a story of clocks came to: postings by clock, refusals in words by clock, days and months compared."""

    posted: dict[str, int] = field(default_factory=dict)
    refused: dict[str, int] = field(default_factory=dict)
    days: int = 0
    months: int = 0


def post_by_wrong_clocks(*, scene: Scene, count: int, seed: int, say: Say, meet: Meet) -> Told:
    """Post on by a clock that is put wrong again and again, by hand and through pages, and look at the order."""
    chance, bench, told = random.Random(seed), Bench.at(scene), Told()
    posted, refused = Counter[str](), Counter[str]()
    true, made = AT, list(Posting.objects.order_by("number").values_list("number", flat=True))
    for turn in range(count):
        true += timedelta(minutes=chance.randrange(1, 90))
        name = chance.choice(list(WRONG))
        clock = true + WRONG[name]
        on = clock.date() if chance.random() < 0.5 else AT.date()
        try:
            by_page = chance.random() < 0.3
            number = _by_page(bench, turn, clock, on) if by_page else _by_hand(scene, chance, clock, on)
        except InventoryError:
            refused[name] += 1
        else:
            posted[name] += 1
            made.append(number)
            assert Books.objects.get().last_recorded_at == max(clock, _recorded_before(number))
    assert made == list(Posting.objects.order_by("number").values_list("number", flat=True))
    moments = list(Posting.objects.order_by("number").values_list("recorded_at", flat=True))
    assert moments == sorted(moments)
    told.posted, told.refused = dict(posted), dict(refused)
    _compare_days_and_months(scene, told)
    _compare_days(scene)
    return told


def post_round_the_clock(*, scene: Scene, step: int, say: Say, meet: Meet) -> Told:
    """Post every so many minutes through the days on which clocks change, by each zone's own calendar."""
    told, posted, wanted = Told(), Counter[str](), []
    moments = sorted((at, name) for name in ZONES for at in _round(ZoneInfo(name), timedelta(minutes=step)))
    for turn, (at, name) in enumerate(moments):
        with timezone.override(name):
            on = timezone.localdate(at)
            by = scene.of(User, scene.owner)
            posting = _take(
                scene, 1 + turn % 7, making.make_submission(by=by, on=on, at=at), is_use=turn % 3 == 0
            )
        assert on == at.astimezone(ZoneInfo(name)).date()
        wanted.append((posting.number, on, at))
        posted[name] += 1
    kept = Posting.objects.filter(kind__in=["write_off", "mix"]).order_by("number")
    assert wanted == list(kept.values_list("number", "effective_on", "recorded_at"))
    told.posted = dict(posted)
    for name in ZONES:
        with timezone.override(name):
            _compare_days_and_months(scene, told)
    _compare_days(scene)
    return told


def _by_hand(scene: Scene, chance: random.Random, clock: datetime, on: date) -> int:
    """A mix, a write-off, or a delivery, which may come in on any day there ever was."""
    by, paint = scene.of(User, scene.owner), scene.of(Material, scene.paint)
    if chance.random() < 0.2:
        return making.make_delivery(lines=[(paint, 900, 110_000)], on=on, by=by, at=clock).posting_id
    submission = making.make_submission(by=by, on=on, at=clock)
    return _take(scene, 5, submission, is_use=chance.random() < 0.5).number


def _take(scene: Scene, quantity: int, submission: Submission, *, is_use: bool) -> Posting:
    """Mix paint into something else, or write it off."""
    if is_use:
        facts = MixFacts(
            scene.of(RecipeVersion, scene.version), [Ingredient(scene.of(Material, scene.paint), quantity)]
        )
        return make_mix(facts=facts, submission=submission).posting
    lot = Lot.objects.select_related("material").get(pk=scene.lots[-1])
    return write_off(lot=lot, quantity=quantity, reason=making.the_reason(), submission=submission)


def _by_page(bench: Bench, turn: int, clock: datetime, on: date) -> int:
    """A form that is sent while the machine's clock is wrong. Raises the refusal that the page shows."""
    path, fields = bench.form(2 * turn)
    with patch.object(timezone, "now", return_value=clock):
        bench.client.force_login(bench.owner)  # it may have run out by this clock
        answer = bench.send(path, {**fields, "on": str(on)})
    if answer.status_code == HTTPStatus.UNPROCESSABLE_ENTITY:
        raise InventoryError(answer.content.decode())
    assert answer.headers["Location"].startswith("/lots/"), answer.headers
    return Posting.objects.get(key=fields["key"]).number


def _recorded_before(number: int) -> datetime:
    before = Posting.objects.filter(number__lt=number).order_by("-number").first()
    return before.recorded_at if before else datetime.min.replace(tzinfo=UTC)


def _round(zone: ZoneInfo, step: timedelta) -> Iterator[datetime]:
    """Moments from an hour before each day on which a zone's clocks change until an hour after it."""
    start = datetime(YEAR, 1, 1, 12, tzinfo=UTC)
    noons = [start + number * DAY for number in range(365)]
    for noon in noons:
        before, after = (moment.astimezone(zone).utcoffset() for moment in (noon - DAY, noon))
        if before == after:
            continue
        day = noon.astimezone(zone).date()
        at = datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC) - timedelta(hours=1)
        end = at + timedelta(hours=27)
        while at < end:
            yield at
            at += step


def _compare_days_and_months(scene: Scene, told: Told) -> None:
    """Each month's use is the sum of its days', and so is what the kept ends of months say that the shelf lost."""
    paint = scene.of(Material, scene.paint)
    by_day = Counter[date]()
    for on, quantity in _moves(scene):
        by_day[on] += quantity
    months = sorted({day.replace(day=1) for day in by_day})
    used_on = Counter[date]()
    for posting in Posting.objects.filter(kind="mix"):
        taken = posting.entries.filter(place="lot", material=paint)
        used_on[posting.effective_on] += sum(-entry.quantity for entry in taken)
    keep_month_ends(before=max(by_day) + 40 * DAY)
    for month in months:
        last = (month + 31 * DAY).replace(day=1) - DAY
        days = [day for day in by_day if day.replace(day=1) == month]
        (used,) = use_by_month(paint, on=last, months=1).values()
        assert used == sum(used_on[day] for day in days)
        assert _held(scene, last) == _held(scene, month - DAY) + sum(by_day[day] for day in days)
        told.days, told.months = told.days + len(days), told.months + 1


def _compare_days(scene: Scene) -> None:
    """What the shelf held at the end of each day is what it held the day before, and what moved on it."""
    by_day = Counter[date]()
    for on, quantity in _moves(scene):
        by_day[on] += quantity
    for day, moved in by_day.items():
        assert _held(scene, day) == _held(scene, day - DAY) + moved


def _moves(scene: Scene) -> Iterator[tuple[date, int]]:
    """What each posting moved in or out of the paint's lots, from its own rows."""
    paint = scene.of(Material, scene.paint)
    yield from paint.entries.filter(place="lot").values_list("posting__effective_on", "quantity")


def _held(scene: Scene, day: date) -> int:
    lots = set(Lot.objects.filter(material=scene.paint).values_list("pk", flat=True))
    return sum(quantity for lot, (quantity, _money) in balances_on(day).items() if lot in lots)
