"""What time costs a piece: its pours' share of their sessions, and the minutes worked on it since.

A session's minutes belong to all its pours alike, good or failed (common practice, no source). The money is worked out
once for the session and shared by largest remainder, so the pours' shares add up to the session's whole exactly;
so do the seconds.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from costing.pieces.models import Labour
from inventory.sessions.models import Pour, Session
from studio.translation import _, noop
from studio.values.allocation import allocate, divide_half_up

# Kept in English, for a request sent again is compared with them; put into the reader's language where they are shown.
WORK_NAMES = {"Finishing": noop("Finishing"), "Packing": noop("Packing")}


@dataclass(frozen=True, slots=True)
class TimeCost:
    """Seconds worked, at the wage and overhead per hour kept with them, and what both came to (millionths)."""

    work: str
    on: date
    pour_id: int | None
    seconds: int
    wage_per_hour: int
    wage: int
    overhead_per_hour: int
    overhead: int


def session_costs(session: Session) -> tuple[int, int]:
    """A session's whole labour and overhead."""
    return (
        divide_half_up(session.minutes * session.wage_per_hour, 60),
        divide_half_up(session.minutes * session.overhead_per_hour, 60),
    )


def session_times(pours: Iterable[Pour]) -> dict[int, TimeCost]:
    """Each pour's share of its session; none for a session that was reversed. Two queries."""
    by_pk = Session.objects.standing().in_bulk({pour.session_id for pour in pours})
    poured: dict[int, list[int]] = {}
    rows = Pour.objects.filter(session__in=by_pk).order_by("number").values_list("session_id", "pk")
    for session_pk, pour_pk in rows:
        poured.setdefault(session_pk, []).append(pour_pk)
    times: dict[int, TimeCost] = {}
    for session_pk, pour_pks in poured.items():
        times.update(_shared(by_pk[session_pk], pour_pks))
    return times


def labour_times(pieces: Iterable[int]) -> dict[int, list[TimeCost]]:
    """Minutes worked on each piece since its sessions, by piece. One query."""
    times: dict[int, list[TimeCost]] = {}
    for row in Labour.objects.filter(piece__in=list(pieces)):
        wage = divide_half_up(row.minutes * row.wage_per_hour, 60)
        overhead = divide_half_up(row.minutes * row.overhead_per_hour, 60)
        work = _(WORK_NAMES[row.work]) if row.work in WORK_NAMES else row.work
        time = TimeCost(
            work, row.on, None, row.minutes * 60, row.wage_per_hour, wage, row.overhead_per_hour, overhead
        )
        times.setdefault(row.piece_id, []).append(time)
    return times


def _shared(session: Session, pours: list[int]) -> dict[int, TimeCost]:
    alike = [1] * len(pours)
    labour, overhead = session_costs(session)
    shares = zip(
        pours,
        allocate(session.minutes * 60, alike),
        allocate(labour, alike),
        allocate(overhead, alike),
        strict=True,
    )
    return {
        pour: TimeCost(
            str(session),
            session.held_on,
            pour,
            seconds,
            session.wage_per_hour,
            wage,
            session.overhead_per_hour,
            cost,
        )
        for pour, seconds, wage, cost in shares
    }
