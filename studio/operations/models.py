"""The checks of the whole ledger."""

from django.db import models

from studio.translation import _


class BookCheck(models.Model):
    """One run of check_books over the whole ledger."""

    checked_at = models.DateTimeField(db_index=True)
    ok = models.BooleanField()
    note = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["-checked_at", "-pk"]

    def __str__(self) -> str:
        when = f"{self.checked_at:%Y-%m-%d %H:%M}"
        return (
            _("Ledger check passed, {when}", when=when)
            if self.ok
            else _("Ledger check failed, {when}", when=when)
        )
