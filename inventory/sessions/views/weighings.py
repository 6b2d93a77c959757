"""What a session's weighings say, in words."""

from dataclasses import dataclass

from django.http import HttpRequest

from inventory.sessions.models import Session
from inventory.sessions.queries.session_costs import SessionAccount
from inventory.sessions.queries.weighings import BalanceRow, WeighedPours, weighings_of
from inventory.sessions.tables import BalanceTable
from inventory.sessions.weighing import Balance, Verdict
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class DescribedWeighing:
    """One weighing with its table and its verdict in words; without a table only what was poured is known."""

    weighed: WeighedPours
    table: BalanceTable | None
    is_closed: bool
    words: str
    off_the_record: str  # where the cups say something else than what was logged


def described_weighings(
    request: HttpRequest, session: Session, account: SessionAccount
) -> list[DescribedWeighing]:
    formatter = Formatter.of(current_studio(request))
    return [_described(request, each, formatter) for each in weighings_of(session, account.pours)]


def _described(request: HttpRequest, weighed: WeighedPours, formatter: Formatter) -> DescribedWeighing:
    found = weighed.balance
    if found is None:
        words = _(
            "Only the cups or only the tray were weighed, so there is nothing to set against each other."
        )
        return DescribedWeighing(weighed, None, True, words, _off_the_record(weighed, formatter))
    was_weighed = weighed.readings.stayed is not None
    rows = [
        BalanceRow(_("Left the cups"), found.poured, weighed.volume(found.poured), found.share(found.poured)),
        _run_off(weighed, found, formatter),
        BalanceRow(
            _("Stayed on the surfaces") if was_weighed else _("Stayed on the surfaces (the rest)"),
            found.stayed,
            weighed.volume(found.stayed),
            found.share(found.stayed),
        ),
    ]
    if was_weighed:
        rows.append(BalanceRow(_("Gap"), found.gap, weighed.volume(found.gap), found.share(found.gap)))
    words = (
        _verdict(found, formatter) if was_weighed else _("Weigh the surfaces too to see whether it adds up.")
    )
    is_closed = found.verdict == Verdict.CLOSES
    off = _off_the_record(weighed, formatter)
    return DescribedWeighing(weighed, BalanceTable(rows, request), is_closed, words, off)


def _off_the_record(weighed: WeighedPours, formatter: Formatter) -> str:
    gap = weighed.off_the_record
    if not gap:
        return ""
    amount = formatter.short_quantity(abs(gap), Measure.MASS)
    if gap > 0:
        return _("By the cups, {amount} more was poured than was logged.", amount=amount)
    return _("By the cups, {amount} less was poured than was logged.", amount=amount)


def _run_off(weighed: WeighedPours, found: Balance, formatter: Formatter) -> BalanceRow:
    return BalanceRow(
        _("Ran off"),
        found.ran_off,
        weighed.volume(found.ran_off),
        found.share(found.ran_off),
        note=_("± {share} by the scale", share=formatter.percent(found.run_off_unsure)),
    )


def _verdict(found: Balance, formatter: Formatter) -> str:
    gap = formatter.quantity(abs(found.gap), Measure.MASS)
    most = formatter.short_quantity(found.most_gap, Measure.MASS)
    if found.verdict == Verdict.TOO_MUCH:
        return _("{gap} more was found than left the cups. One of the weights is wrong: check them.", gap=gap)
    if found.verdict == Verdict.MISSING:
        return _(
            "{gap} is missing; up to {most} dries away, sticks to tools or is the scale's. Was some spilled or "
            "wiped off, or was a weight read late?",
            gap=gap,
            most=most,
        )
    return _("All paint is accounted for: a gap of up to {most} is usual here.", most=most)
