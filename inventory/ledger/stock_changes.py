"""What follows when the stock has changed: later rooms connect to this signal when they start up.

It is sent after the commit, with `materials` (primary keys) and `at` (the moment of the change). The posting is safe
by then: a receiver that fails is logged, and never makes a submission look refused that was carried out.

`history_changed` is sent with `materials` before the commit, as a part of it, by a posting that changes what was known
of days that have passed: what was worked out from them no longer counts.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.db import transaction
from django.dispatch import Signal

stock_changed = Signal()
history_changed = Signal()

_batch: ContextVar[set[int] | None] = ContextVar("stock_changes_batch", default=None)


def announce_after_commit(materials: Iterable[int], *, at: datetime) -> None:
    """Send `stock_changed` for these materials once the transaction is committed, or with the batch that is open."""
    changed = frozenset(materials)
    batch = _batch.get()
    if batch is not None:
        batch |= changed
    elif changed:
        transaction.on_commit(lambda: _send(changed, at))


@contextmanager
def batched(*, at: datetime) -> Iterator[None]:
    """Announce the changes of everything that is posted inside once, at the end, as one."""
    changed: set[int] = set()
    token = _batch.set(changed)
    try:
        yield
    finally:
        _batch.reset(token)
    announce_after_commit(changed, at=at)


def _send(materials: frozenset[int], at: datetime) -> None:
    stock_changed.send_robust(sender=None, materials=materials, at=at)
