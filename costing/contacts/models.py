"""Buyers and galleries: no more of them than is needed to reach them. Nothing else holds what can name a person.

The change log keeps that a contact was changed, never what it said: it could not be erased from there.
"""

from django.db import models
from django.utils.translation import pgettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from studio.auditing.recording import audited
from studio.constraints import called
from studio.translation import _


@audited(secrets=("name", "reach", "note"), without=["recorded_by", "key", "fingerprint"])
@called(
    pgettext_lazy("table", "contact"),
    name=pgettext_lazy("column", "name"),
    reach=pgettext_lazy("column", "how to reach"),
    note=pgettext_lazy("column", "note"),
)
class Contact(KeyedRecord):
    """A buyer, somebody who may become one, or a gallery. Everything that refers to one survives its erasure."""

    name = models.CharField(max_length=80)
    reach = models.TextField(max_length=300, blank=True)
    note = models.TextField(max_length=1000, blank=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(condition=~models.Q(name=""), name="contact_named"),
        ]

    def __str__(self) -> str:
        """Without the name: this is what the change log keeps for good."""
        return _("Contact {number}", number=self.pk)
