"""The answer to a submission that is sent again: the row that it made the first time."""

import hashlib
import json
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.errors import KeyReused
from studio.submission import Submission
from studio.translation import _

Row = TypeVar("Row", bound=models.Model)


class KeyedRecord(models.Model):
    """A row that answers a repeated key although it may have no posting, whose own key would. Programs send no key."""

    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    key = models.CharField(
        max_length=80, blank=True, help_text=gettext_lazy("The request's idempotency key.")
    )
    fingerprint = models.CharField(max_length=64, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.UniqueConstraint(
                fields=["recorded_by", "key"], condition=~Q(key=""), name="%(class)s_key_once"
            )
        ]


def fingerprint_of(facts: object) -> str:
    """SHA-256 of what a submission asks for, so that a repeated key with other contents can be told apart."""
    return hashlib.sha256(json.dumps(facts, sort_keys=True, default=_plain).encode()).hexdigest()


def rows_under_key(model: type[Row], submission: Submission) -> models.QuerySet[Row]:
    """The row of a model under a submission's key: one at most.

    Leaving the empty key out in so many words lets SQLite use the index on the keys, which leaves it out too;
    otherwise it would look through everything that this person ever recorded.
    """
    keyed = model._default_manager.exclude(key="")
    return keyed.filter(recorded_by=submission.by, key=submission.key)


def earlier_row(model: type[Row], submission: Submission, fingerprint: str) -> Row | None:
    """The row of a model that this submission made when it was first sent, if it was.

    The model has the columns of KeyedRecord. Raises KeyReused when the first had other contents.
    """
    if not submission.key:
        return None
    row = rows_under_key(model, submission).first()
    if row is not None and getattr(row, "fingerprint") != fingerprint:  # noqa: B009, the columns of KeyedRecord
        raise KeyReused(
            _("This form was already sent with other contents. Reload the page and enter it again.")
        )
    if row is not None:
        submission.earlier.append(row)
    return row


def _plain(fact: Any) -> object:
    """A row by its primary key, facts by their fields, anything else (a day, a choice) as it is written."""
    if isinstance(fact, models.Model):
        return fact.pk
    if is_dataclass(fact):
        return {each.name: getattr(fact, each.name) for each in fields(fact)}
    return str(fact)
