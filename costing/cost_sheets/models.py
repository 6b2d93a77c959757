"""What stays of a piece's cost when it leaves: the hourly rates."""

from django.db import models
from django.db.models import Q

from costing.pieces.models import Piece
from studio.constraints import whole


class KeptRates(models.Model):
    """The rates per hour (millionths) that a piece which has left keeps for the work of one day.

    None where none held, or since None for one that held from the beginning. Written when it leaves, and taken away
    when it comes back.
    """

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="kept_rates")
    on = models.DateField()
    wage_per_hour = models.BigIntegerField(null=True)
    wage_since = models.DateField(null=True)
    overhead_per_hour = models.BigIntegerField(null=True)
    overhead_since = models.DateField(null=True)

    class Meta:
        verbose_name = verbose_name_plural = "kept rates"
        constraints = [
            models.UniqueConstraint(fields=["piece", "on"], name="keptrates_one_a_day"),
            models.CheckConstraint(
                condition=(Q(wage_per_hour__isnull=True) | Q(wage_per_hour__gte=0))
                & (Q(overhead_per_hour__isnull=True) | Q(overhead_per_hour__gte=0)),
                name="keptrates_sensible",
            ),
            *whole("keptrates", "wage_per_hour", "overhead_per_hour"),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id}: {self.on}"
