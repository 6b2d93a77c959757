"""A submission: who asks for a change, when, for which day, under which key; and its one transaction."""

from collections.abc import Container, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django.db import transaction as database
from django.utils import timezone

from studio.auditing.actor import acting
from studio.auditing.chain import sealing

if TYPE_CHECKING:
    from studio.accounts.models import User


@dataclass(frozen=True, slots=True)
class Submission:
    """Travels through every action as one value.

    `at` is the moment it was sent, `on` the business day that it is about. With a `key`, the same submission sent
    again is answered with the first one's result. `confirmed` names the questions (`studio.errors.Question`) that
    were answered with yes: what it asks for is recorded although it is unusual. `earlier` has what it made before,
    once the action has looked: it looks while the ledger is locked, so only it can know.
    """

    by: "User"
    at: datetime
    on: date
    key: str = ""
    confirmed: Container[str] = frozenset()
    earlier: list[Any] = field(default_factory=list, compare=False)

    @property
    def today(self) -> date:
        """The studio's own day at the moment of the submission."""
        return timezone.localtime(self.at).date()

    def is_ahead(self, day: date) -> bool:
        """Whether a day lies in the future. A day's grace: her clock may run ahead of the studio's."""
        return (day - self.today).days > 1


@contextmanager
def transaction(submission: Submission | None) -> Iterator[None]:
    """The one transaction in which a submission is carried out: all of it, or nothing.

    Every action begins with it, alone or through the ledger's `open_ledger`, so that whatever is written inside is
    recorded as changed by `submission.by`. One within another joins it. None: a command on the studio's own machine.
    """
    with database.atomic(), acting(submission.by if submission else None), sealing():
        yield
