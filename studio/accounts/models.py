"""The people who sign in, and the tokens of their programs."""

from typing import Any

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.db import models, transaction
from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.auditing.recording import Virtual, audited
from studio.constraints import called, one_of
from studio.preferences.formatting import Formatter
from studio.translation import _


class Role(models.TextChoices):
    OWNER = "owner", gettext_lazy("Owner")
    HELPER = "helper", gettext_lazy("Helper")
    BOOKKEEPER = "bookkeeper", gettext_lazy("Bookkeeper")


def _on_or_off(is_on: bool, _formatter: Formatter) -> str:
    return _("on") if is_on else _("off")


def _renewed(how_many: int, _formatter: Formatter) -> str:
    return _("renewed")


@audited(
    without=["last_login", "page_choices"],
    secrets=["password"],
    virtual={
        "two_factor": Virtual(gettext_lazy("two-factor sign-in"), _on_or_off),
        "recovery_codes": Virtual(gettext_lazy("recovery codes"), _renewed),
    },
)
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
        help_text=gettext_lazy(
            "The language of this person's pages. Leave blank to use the studio's language."
        ),
    )
    may_see_money = models.BooleanField(
        default=False,
        help_text=gettext_lazy("Lets a helper see costs and prices. Owners and bookkeepers always see them."),
    )
    page_choices = models.JSONField(
        default=dict,
        blank=True,
        editable=False,
        help_text="How this person likes the pages: the phone's bottom bar, keys, filters of lists.",
    )

    class Meta(AbstractUser.Meta):
        constraints = [one_of("user", "role", Role.values)]

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save with the seal, or neither: Django itself saves a newer hash of the password while somebody signs in."""
        with transaction.atomic(using=kwargs.get("using")):
            super().save(*args, **kwargs)

    @property
    def sees_money(self) -> bool:
        return self.role in (Role.OWNER, Role.BOOKKEEPER) or self.may_see_money

    @property
    def may_write(self) -> bool:
        return self.role in (Role.OWNER, Role.HELPER)

    @property
    def is_owner(self) -> bool:
        return self.role == Role.OWNER


class TokenScope(models.TextChoices):
    READ = "read", gettext_lazy("Read only")
    WRITE = "write", gettext_lazy("Read and write")


class Token(models.Model):
    """A program signs in with it as a person. Only its SHA-256 is kept; the prefix says which one it is."""

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
