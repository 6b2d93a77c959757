"""The writer for what the scale showed of pours that are logged already: how much of each ran off."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.sessions.actions.weighings import WeighingFacts, add_weighings
from inventory.sessions.models import Pour, Session, Weighing
from inventory.sessions.queries.densities import density_of_pours
from inventory.sessions.queries.session_costs import account_of
from inventory.sessions.weighing import Readings, run_off_of_each
from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.queries import last_change_number
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _

RUN_OFF = ("run_off",)


@dataclass(frozen=True, slots=True)
class WeighedPoursFacts:
    """Pours of one session that were weighed together, and what the scale showed.

    With `take_back`, earlier weighings that took in other pours as well are taken back: what ran off those is then
    not measured. Raises InputError naming the field.
    """

    session: Session
    pours: Sequence[Pour]
    readings: Readings
    take_back: bool = False

    def __post_init__(self) -> None:
        problems = []
        if not self.pours:
            problems.append(InputError(_("Tick the pours that were weighed together."), field="pours"))
        if len({pour.pk for pour in self.pours}) < len(self.pours):
            problems.append(InputError(_("A pour can be part of one weighing only."), field="pours"))
        stray = next((pour for pour in self.pours if pour.session_id != self.session.pk), None)
        if stray is not None:
            text = _("{pour} is no pour of this session. Weigh it with its own.", pour=stray.label)
            problems.append(InputError(text, field="pours"))
        if self.readings.ran_off is None:
            text = _("Enter both weights of the tray, or the drips: they say how much ran off.")
            problems.append(InputError(text, field="tray_after"))
        refuse_all(problems)


def weigh_pours(
    *, facts: WeighedPoursFacts, submission: Submission, seen: int | None = None
) -> list[Weighing]:
    """Keep the readings, and set what ran off each pour: its share, by volume poured, of what was caught.

    Earlier weighings of these pours are replaced. Sent again it changes nothing. No paint and no money moves.
    Raises InputError, UnknownDensity naming what to weigh, InventoryError for a reversed session, and EditConflict.
    """
    with open_ledger(submission):
        session = Session.objects.select_related("posting__reversed_by").get(pk=facts.session.pk)
        if hasattr(session.posting, "reversed_by"):
            raise InventoryError(_("This session was reversed. Log it again, and weigh its pours there."))
        rows = session.pours.select_for_update(of=("self",)).order_by("number")
        pours = list(rows.filter(pk__in=[pour.pk for pour in facts.pours]))
        if len(pours) < len(facts.pours):
            raise InputError(
                _("A correction struck out one of these pours. Open the page again."), field="pours"
            )
        apart = _weighed_along(session, pours)
        others = [pour for _weighing, along in apart for pour in along]
        if others and not facts.take_back:
            raise InputError(_parted(others), field="pours")
        _refuse_stale([*pours, *others], seen)
        for pour, run_off in zip(pours, _run_off(session, pours, facts.readings), strict=True):
            _set_run_off(pour, run_off)
        for weighing, along in apart:
            if weighing.readings.ran_off is not None:
                for pour in along:
                    _set_run_off(pour, None)
        return add_weighings([WeighingFacts(range(len(pours)), facts.readings)], session, pours)


def _weighed_along(session: Session, pours: Sequence[Pour]) -> list[tuple[Weighing, list[Pour]]]:
    """Earlier weighings of these pours, each with the other pours that it takes in."""
    earlier = session.weighings.filter(pours__in=pours).distinct().prefetch_related("pours")
    keys = {pour.pk for pour in pours}
    return [(each, [pour for pour in each.pours.all() if pour.pk not in keys]) for each in earlier]


def _parted(others: Sequence[Pour]) -> str:
    return _(
        "An earlier weighing takes in {others} as well. Tick all of its pours, or take that weighing back.",
        others=", ".join(pour.label for pour in others),
    )


def _refuse_stale(pours: Sequence[Pour], seen: int | None) -> None:
    """Refuse for the pour whose last change is the earliest, so that no later one is skipped when saved again."""
    if seen is None or last_change_number(Pour, *(pour.pk for pour in pours), fields=RUN_OFF) <= seen:
        return
    for pour in sorted(pours, key=lambda pour: last_change_number(Pour, pour.pk, fields=RUN_OFF)):
        refuse_stale(pour, seen=seen, fields=RUN_OFF)


def _run_off(session: Session, pours: Sequence[Pour], readings: Readings) -> list[int]:
    if not any(pour.poured for pour in pours):
        raise InputError(
            _("No paint was poured on these, so none can have run off. Tick others."), field="pours"
        )
    keys = {pour.pk for pour in pours}
    accounts = [each for each in account_of(session).pours if each.pour.pk in keys]
    return run_off_of_each(readings, [pour.poured for pour in pours], density_of_pours(accounts))


def _set_run_off(pour: Pour, run_off: int | None) -> None:
    if pour.run_off != run_off:
        pour.run_off = run_off
        pour.save(update_fields=["run_off"])
