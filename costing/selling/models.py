"""Sales. Money is millionths of the currency unit."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from inventory.ledger.models import Posting
from studio.constraints import whole
from studio.translation import _


class Sale(models.Model):
    """One piece sold once; a return reverses the posting and frees the piece to be sold again."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="sales")
    channel = models.ForeignKey(SalesChannel, on_delete=models.PROTECT, related_name="sales")
    sold_on = models.DateField()
    price = models.BigIntegerField(help_text=gettext_lazy("What the buyer paid, tax included."))
    tax_rate = models.BigIntegerField(
        default=0, help_text=gettext_lazy("Tax that was included in the price, in millionths (20% = 200000).")
    )
    tax = models.BigIntegerField(default=0)
    commission = models.BigIntegerField(default=0)
    card_fee = models.BigIntegerField(default=0)
    fixed_fee = models.BigIntegerField(default=0)
    note = models.CharField(max_length=200, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="sale")
    returned_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-sold_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(returned_on__isnull=True), name="sale_piece_sold_once"
            ),
            models.CheckConstraint(condition=Q(price__gte=0), name="sale_sensible"),
            *whole("sale", "price", "tax_rate", "tax", "commission", "card_fee", "fixed_fee"),
        ]

    def __str__(self) -> str:
        return _("Sale {number}", number=self.pk)

    @property
    def net_proceeds(self) -> int:
        """What is left of the price after tax and the sales channel's fees."""
        return self.price - self.tax - self.commission - self.card_fee - self.fixed_fee
