"""What every room shares: the people who sign in, and the one studio's own settings."""

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from studio.fields import one_of, whole


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    HELPER = "helper", "Helper"
    BOOKKEEPER = "bookkeeper", "Bookkeeper"


class User(AbstractUser):
    """A person who signs in. Helpers see no money unless the owner allows it; bookkeepers change nothing."""

    role = models.CharField(max_length=12, choices=Role.choices, default=Role.HELPER)
    may_see_money = models.BooleanField(
        default=False, help_text="Lets a helper see costs and prices. Owners and bookkeepers always see them."
    )

    class Meta(AbstractUser.Meta):
        constraints = [one_of("user", "role", Role.values)]

    @property
    def sees_money(self) -> bool:
        return self.role in (Role.OWNER, Role.BOOKKEEPER) or self.may_see_money

    @property
    def may_write(self) -> bool:
        return self.role in (Role.OWNER, Role.HELPER)

    @property
    def is_owner(self) -> bool:
        return self.role == Role.OWNER


class Studio(models.Model):
    """The one studio this database belongs to. Money rates are millionths of the currency unit."""

    class FluidSystem(models.TextChoices):
        IMPERIAL = "imperial", "Imperial (fluid ounce 28.41 mL)"
        US = "us", "US (fluid ounce 29.57 mL)"

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        A5 = "A5", "A5"
        LETTER = "Letter", "US Letter"

    name = models.CharField(max_length=120, default="My studio")
    currency = models.CharField(
        max_length=3, default="GBP", help_text="ISO 4217 code, such as GBP, EUR or USD."
    )
    locale = models.CharField(
        max_length=20,
        default="en_GB",
        help_text="How numbers and dates are written, such as en_GB, en_US or de_DE.",
    )
    fluid_system = models.CharField(
        max_length=8,
        choices=FluidSystem.choices,
        default=FluidSystem.IMPERIAL,
        help_text="What a plain fluid ounce, pint or gallon means here.",
    )
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    wage_per_hour = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    overhead_per_hour = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    tax_rate = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text="Tax inside the shown price, in millionths (20 % = 200000).",
    )
    reserve = models.BigIntegerField(
        default=100_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text="Extra paint planned on top of the need, in millionths (10 % = 100000).",
    )
    varnish_after_days = models.PositiveSmallIntegerField(
        default=7, help_text="Days a pour dries before varnish. At least a week is common practice."
    )
    is_demo = models.BooleanField(default=False, editable=False)

    class Meta:
        verbose_name = verbose_name_plural = "studio settings"
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="studio_only_one"),
            *whole("studio", "wage_per_hour", "overhead_per_hour", "tax_rate", "reserve"),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> "Studio":
        """The studio of this database (made with defaults at first migration)."""
        return cls.objects.get(pk=1)
