"""What every room shares: the people who sign in, and the one studio's own settings."""

from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.fields import called, one_of, whole
from studio.wording import _


class Role(models.TextChoices):
    OWNER = "owner", gettext_lazy("Owner")
    HELPER = "helper", gettext_lazy("Helper")
    BOOKKEEPER = "bookkeeper", gettext_lazy("Bookkeeper")


@called(
    role=pgettext_lazy("column", "role"), may_see_money=pgettext_lazy("column", "may see costs and prices")
)
class User(AbstractUser):
    """A person who signs in. Helpers see no money unless the owner allows it; bookkeepers change nothing."""

    role = models.CharField(max_length=12, choices=Role.choices, default=Role.HELPER)
    language = models.CharField(
        gettext_lazy("language"),
        max_length=10,
        choices=settings.LANGUAGES,
        blank=True,
        default="",
        help_text=gettext_lazy("The language of this person's pages. Empty: the studio's."),
    )
    may_see_money = models.BooleanField(
        default=False,
        help_text=gettext_lazy("Lets a helper see costs and prices. Owners and bookkeepers always see them."),
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


@called(
    name=pgettext_lazy("column", "name"),
    currency=pgettext_lazy("column", "currency"),
    locale=pgettext_lazy("column", "numbers and dates"),
    fluid_system=pgettext_lazy("column", "fluid ounces"),
    paper=pgettext_lazy("column", "paper"),
    wage_per_hour=pgettext_lazy("column", "wage per hour"),
    overhead_per_hour=pgettext_lazy("column", "overhead per hour"),
    tax_rate=pgettext_lazy("column", "tax in your prices"),
    reserve=pgettext_lazy("column", "reserve of paint"),
    varnish_after_days=pgettext_lazy("column", "days before varnish"),
)
class Studio(models.Model):
    """The one studio this database belongs to. Money rates are millionths of the currency unit."""

    class FluidSystem(models.TextChoices):
        IMPERIAL = "imperial", gettext_lazy("Imperial (fluid ounce 28.41 mL)")
        US = "us", gettext_lazy("US (fluid ounce 29.57 mL)")

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        A5 = "A5", "A5"
        LETTER = "Letter", gettext_lazy("US Letter")

    name = models.CharField(max_length=120, default="My studio")
    currency = models.CharField(
        max_length=3, default="GBP", help_text=gettext_lazy("ISO 4217 code, such as GBP, EUR or USD.")
    )
    language = models.CharField(
        gettext_lazy("language"),
        max_length=10,
        choices=settings.LANGUAGES,
        default=settings.LANGUAGE_CODE,
        help_text=gettext_lazy(
            "What pages, papers and mails are written in. Everybody may choose their own pages' language."
        ),
    )
    locale = models.CharField(
        max_length=20,
        default="en_GB",
        help_text=gettext_lazy("How numbers and dates are written, such as en_GB, en_US or de_DE."),
    )
    fluid_system = models.CharField(
        max_length=8,
        choices=FluidSystem.choices,
        default=FluidSystem.IMPERIAL,
        help_text=gettext_lazy("What a plain fluid ounce, pint or gallon means here."),
    )
    paper = models.CharField(max_length=6, choices=Paper.choices, default=Paper.A4)
    wage_per_hour = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    overhead_per_hour = models.BigIntegerField(default=0, validators=[MinValueValidator(0)])
    tax_rate = models.BigIntegerField(
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("Tax inside the shown price, in millionths (20 % = 200000)."),
    )
    reserve = models.BigIntegerField(
        default=100_000,
        validators=[MinValueValidator(0), MaxValueValidator(1_000_000)],
        help_text=gettext_lazy("Extra paint planned on top of the need, in millionths (10 % = 100000)."),
    )
    varnish_after_days = models.PositiveSmallIntegerField(
        default=7,
        help_text=gettext_lazy("Days a pour dries before varnish. At least a week is common practice."),
    )
    is_demo = models.BooleanField(default=False, editable=False)

    class Meta:
        verbose_name = verbose_name_plural = gettext_lazy("studio settings")
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


class ChangeAction(models.TextChoices):
    ADDED = "added", gettext_lazy("Added")
    CHANGED = "changed", gettext_lazy("Changed")
    DELETED = "deleted", gettext_lazy("Deleted")


class Change(models.Model):
    """One field of one row of reference data, changed once: who, when, from what, to what. Append-only by trigger."""

    Action = ChangeAction

    at = models.DateTimeField(db_index=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        help_text=gettext_lazy("Empty: a command on the studio's own machine."),
    )
    kind = models.CharField(
        max_length=80, help_text=gettext_lazy("The table's name, such as inventory.material.")
    )
    row = models.CharField(max_length=40, help_text=gettext_lazy("The row's number in its table."))
    name = models.CharField(max_length=200, help_text=gettext_lazy("What the row was called then."))
    action = models.CharField(max_length=8, choices=ChangeAction.choices)
    field = models.CharField(max_length=80, blank=True)
    old = models.TextField(blank=True)
    new = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["kind", "row"], name="change_kind_row")]
        constraints = [one_of("change", "action", ChangeAction.values)]

    def __str__(self) -> str:
        return f"{self.kind} {self.row}: {self.field or self.action}"


class Backup(models.Model):
    """One attempt at a backup, good or not."""

    made_at = models.DateTimeField(db_index=True)
    path = models.CharField(max_length=1000)
    size = models.BigIntegerField(default=0, help_text=gettext_lazy("Bytes."))
    sha256 = models.CharField(max_length=64, blank=True)
    ok = models.BooleanField()
    note = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = whole("backup", "size")

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return Path(self.path).name


class BookCheck(models.Model):
    """One run of check_books over the whole ledger."""

    checked_at = models.DateTimeField(db_index=True)
    ok = models.BooleanField()
    note = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["-checked_at", "-pk"]

    def __str__(self) -> str:
        when = f"{self.checked_at:%Y-%m-%d %H:%M}"
        return _("Books hold, {when}", when=when) if self.ok else _("Books broken, {when}", when=when)


class TokenScope(models.TextChoices):
    READ = "read", gettext_lazy("Read only")
    WRITE = "write", gettext_lazy("Read and write")


class Token(models.Model):
    """A program signs in with it as a person. Only its SHA-256 is kept; the prefix says which one it is."""

    Scope = TokenScope

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=80, help_text=gettext_lazy("What it is for."))
    prefix = models.CharField(max_length=20, unique=True)
    digest = models.CharField(max_length=64, unique=True)
    scope = models.CharField(max_length=5, choices=TokenScope.choices, default=TokenScope.READ)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [one_of("token", "scope", TokenScope.values)]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"

    @property
    def may_write(self) -> bool:
        return self.scope == TokenScope.WRITE
