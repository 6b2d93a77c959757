"""What the scale showed in a session, set against itself: poured, ran off, stayed on, and the gap."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.sessions.models import Pour, Session, Weighing
from inventory.sessions.queries.densities import densities_of
from inventory.sessions.queries.session_costs import PourAccount
from inventory.sessions.weighing import Balance, Readings, blended_density, off_the_record
from studio.values.quantities import mass_of, volume_of


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """One line of a weighing: a mass in mg, the volume where the density is known, its share in millionths."""

    name: Any
    mass: int
    volume: int | None
    share: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class WeighedPours:
    """One weighing: its pours, the readings, how they close, and the density of what was poured (µg/mL), if known."""

    weighing: Weighing
    pours: Sequence[Pour]
    readings: Readings
    balance: Balance | None
    density: int | None

    @property
    def labels(self) -> str:
        return ", ".join(pour.label for pour in self.pours)

    @property
    def off_the_record(self) -> int:
        """How much more left the cups than was logged for these pours (mg); 0 where nothing says so."""
        if self.density is None:
            return 0
        logged = mass_of(sum(pour.poured for pour in self.pours), self.density)
        return off_the_record(self.readings, logged)

    def volume(self, mass: int) -> int | None:
        """The volume of so much of this paint; a gap below zero is one too."""
        if self.density is None:
            return None
        return volume_of(mass, self.density) if mass >= 0 else -volume_of(-mass, self.density)


def weighings_of(session: Session, accounts: Sequence[PourAccount]) -> list[WeighedPours]:
    """The weighings of a session whose pours are these: four queries at most, however many there are."""
    rows = list(session.weighings.prefetch_related("pours"))
    if not rows:
        return []
    densities = densities_of(accounts)
    by_pour = {account.pour.pk: account.pour for account in accounts}
    return [_weighed(row, by_pour, densities) for row in rows]


def _weighed(row: Weighing, by_pour: dict[int, Pour], densities: dict[int, int]) -> WeighedPours:
    pours = sorted(
        (by_pour[pour.pk] for pour in row.pours.all() if pour.pk in by_pour), key=lambda pour: pour.number
    )
    parts = [(pour.poured, densities[pour.pk]) for pour in pours if pour.pk in densities]
    is_known = bool(parts) and len(parts) == len(pours)
    return WeighedPours(row, pours, row.readings, row.balance, blended_density(parts) if is_known else None)
