"""What people say of the shopping list: what they add to it, what they have in the basket, which pack they chose.

What is low or short for a plan is worked out whenever the list is looked at, so it is not kept.
"""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.materials.models import Material, Supply
from studio.constraints import whole
from studio.translation import _

LONGEST_TEXT = 120


class ShoppingEntry(models.Model):
    """One thing that somebody had something to say about: a material, or anything else in a few words."""

    material = models.OneToOneField(
        Material, on_delete=models.CASCADE, null=True, blank=True, related_name="shopping_entry"
    )
    text = models.CharField(max_length=LONGEST_TEXT, blank=True)
    quantity = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1)],
        help_text=gettext_lazy("What was added by hand, on top of what is low or short for a plan."),
    )
    supply = models.ForeignKey(
        Supply, on_delete=models.SET_NULL, null=True, blank=True, related_name="chosen_for"
    )
    packs = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=gettext_lazy("So many of the pack that was chosen by hand.")
    )
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ticked_at = models.DateTimeField(null=True, blank=True)
    ticked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "shopping entries"
        constraints = [
            models.CheckConstraint(
                condition=Q(material__isnull=False, text="") | (Q(material__isnull=True) & ~Q(text="")),
                name="shoppingentry_of_something",
            ),
            models.UniqueConstraint(fields=["text"], condition=~Q(text=""), name="shoppingentry_text_once"),
            models.CheckConstraint(
                condition=Q(quantity__isnull=True) | Q(quantity__gt=0, material__isnull=False),
                name="shoppingentry_quantity_sensible",
            ),
            models.CheckConstraint(
                condition=Q(supply__isnull=True)
                | Q(packs__isnull=False, packs__gte=1, material__isnull=False),
                name="shoppingentry_choice_whole",
            ),
            *whole("shoppingentry", "quantity"),
        ]

    def __str__(self) -> str:
        return self.text or _("Material {number}", number=self.material_id)

    @property
    def is_ticked(self) -> bool:
        return self.ticked_at is not None

    @property
    def says_nothing(self) -> bool:
        """Whether it could as well not be there."""
        return not (self.text or self.quantity or self.supply_id or self.ticked_at)
