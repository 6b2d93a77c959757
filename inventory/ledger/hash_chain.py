"""The seal of a posting. Each is sealed on the one before it: no line can be changed without breaking the chain."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from datetime import UTC, date
from typing import NamedTuple

from inventory.ledger.models import Posting


class Line(NamedTuple):
    """An entry of a draft, its fields named as the columns that they go to."""

    line: int
    place: str
    material_id: int
    lot_id: int | None
    mix_id: int | None
    pour_id: int | None
    reason_id: int | None
    quantity: int
    money: int
    role: str
    effective_on: date


# Plain rows never refer to each other in a circle, and looking for one takes time.
_canonical = json.JSONEncoder(
    separators=(",", ":"), ensure_ascii=True, sort_keys=True, check_circular=False, default=date.isoformat
).encode


def seal_over(posting: Posting, lines: Iterable[Sequence[object]]) -> str:
    """The posting's link in the chain: SHA-256 over the previous link, its own facts and every line.

    Lines are plain rows: the fields of Line, in their order.
    """
    facts = [
        posting.previous_hash,
        posting.number,
        posting.kind,
        posting.effective_on.isoformat(),
        posting.recorded_at.astimezone(UTC).isoformat(),
        posting.recorded_by_id,
        posting.note,
        posting.key,
        posting.fingerprint,
        posting.reverses_id,
        posting.corrects_id,
        posting.confirmed,
        posting.lines,
        list(lines),
    ]
    return hashlib.sha256(_canonical(facts).encode()).hexdigest()
