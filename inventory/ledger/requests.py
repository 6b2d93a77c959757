"""What a request makes at most once although it may make no posting, whose own key would tell."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.errors import KeyReused
from studio.accounts.models import User
from studio.translation import _


class SentOnce(models.Model):
    """A row that knows the request that made it. Rows older than this knowledge, and rows of programs, have no key."""

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

    @classmethod
    def sent_before(cls, *, by: User | None, key: str, fingerprint: str) -> Self | None:
        """The row that this request already made, if any. Raises KeyReused when it asked for something else."""
        if not key:
            return None
        found: Self | None = cls._default_manager.filter(recorded_by=by, key=key).first()
        if found is not None and found.fingerprint != fingerprint:
            raise KeyReused(
                _("This form was sent before with other contents. Reload the page and enter it afresh.")
            )
        return found
