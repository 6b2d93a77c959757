"""Past use by material, kept from its first reading of a day to the next.

Use counts to the end of the day before, so whatever is posted for today leaves it as it is. What is posted for an
earlier day, corrected or reversed lets the kept row fall, within its own transaction. The lead time and the guess that
a row was worked out for are in its fingerprint: with others it does not count. Reading never writes: rows are kept by
the refresh of alerts, which holds the ledger's lock.
"""

import hashlib
from collections.abc import Collection, Mapping
from datetime import date

from inventory.materials.models import Material
from inventory.reordering.calculations.lead_times import LeadTime
from inventory.reordering.calculations.levels import PastUse, Spread, UseUntilDelivery
from inventory.reordering.models import OF_USE, KeptUse


def fingerprint(lead: LeadTime, guess: int | None) -> str:
    """What a kept row was worked out for."""
    return hashlib.sha256(repr((lead.points, guess)).encode()).hexdigest()[:16]


def kept_use(material: Material, *, day: date, stamp: str) -> PastUse | None:
    """What was kept of a material, read with its `kept_use`, for this day and fingerprint."""
    row: KeptUse | None = getattr(material, "kept_use", None)
    if row is None or (row.day, row.fingerprint) != (day, stamp):
        return None
    use = None
    if None not in (figures := [getattr(row, name) for name in OF_USE]):
        mean, variance, per_day, largest_usual, uses = figures
        use = UseUntilDelivery(Spread(mean, variance), per_day, largest_usual, row.history_days, uses)
    return PastUse(use, row.history_days, row.is_recent)


def keep(worked_out: Mapping[int, tuple[str, PastUse]], *, day: date) -> None:
    """Keep what was worked out anew by material, with the fingerprints that it was worked out for."""
    KeptUse.objects.bulk_create(
        [_row(material, day, stamp, past) for material, (stamp, past) in worked_out.items()],
        update_conflicts=True,
        unique_fields=["material"],
        update_fields=["day", "fingerprint", "history_days", "is_recent", *OF_USE],
    )


def let_fall(*, materials: Collection[int], **signal: object) -> None:
    """Forget what was kept of these materials: connected when the app starts."""
    KeptUse.objects.filter(material__in=materials).delete()


def _row(material: int, day: date, stamp: str, past: PastUse) -> KeptUse:
    use = past.until_delivery
    row = KeptUse(
        material_id=material, day=day, fingerprint=stamp, history_days=past.days, is_recent=past.is_recent
    )
    if use is not None:
        row.mean, row.variance = use.spread.mean, use.spread.variance
        row.per_day, row.largest_usual, row.use_days = use.per_day, use.largest_usual, use.uses
    return row
