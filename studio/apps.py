"""The ground floor's app."""

from collections.abc import Mapping
from typing import Any

from django.apps import AppConfig, apps
from django.core.checks import register
from django.db.models.signals import post_migrate, pre_save
from django.utils.translation import gettext_lazy

# What the chain of the change log does not hold, and why.
UNSEALED = {
    "ChangeSeal": "The chain itself.",
    "BookCheck": "What a check of the books found, as the next one finds anew.",
    "User.last_login": "When somebody signed in last.",
    "User.page_choices": "How somebody likes lists.",
    "Token.last_used_at": "When a program signed in last.",
}
# The same of the libraries: all of whose tables it holds unless it is said here.
_SIGNED_IN = "What signing in leaves behind."
UNSEALED_OF_LIBRARIES: Mapping[str, Mapping[str, str]] = {
    "auditlog": {},
    "otp_totp": {
        "TOTPDevice.drift": _SIGNED_IN,
        "TOTPDevice.last_t": _SIGNED_IN,
        "TOTPDevice.last_used_at": _SIGNED_IN,
        "TOTPDevice.throttling_failure_timestamp": _SIGNED_IN,
        "TOTPDevice.throttling_failure_count": _SIGNED_IN,
    },
    "otp_static": {
        "StaticDevice.last_used_at": _SIGNED_IN,
        "StaticDevice.throttling_failure_timestamp": _SIGNED_IN,
        "StaticDevice.throttling_failure_count": _SIGNED_IN,
    },
    "auth": dict.fromkeys(
        ("Permission", "Group", "Group_permissions"), "Not used: what somebody may do is a column of theirs."
    ),
    "contenttypes": {
        "ContentType": "The tables' own names, which are in the digest of whatever refers to one."
    },
    "sessions": {"Session": "Signed with the server's own key; ends within hours."},
    "axes": dict.fromkeys(
        ("AccessAttempt", "AccessAttemptExpiration", "AccessFailureLog", "AccessLog"),
        "Wrong guesses, counted for half an hour.",
    ),
}


def ensure_studio(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Every database has its one studio row from the first migration on."""
    try:
        # As the migrations that have run describe it: one step back in time it has fewer columns.
        studio_model = (kwargs.get("apps") or apps).get_model("studio", "Studio")
    except LookupError:
        return
    if "studio_studio" in _tables(using):
        studio_model._default_manager.using(using).bulk_create([studio_model(pk=1)], ignore_conflicts=True)


def _tables(using: str) -> list[str]:
    from django.db import connections

    return connections[using].introspection.table_names()


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = gettext_lazy("Studio")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from auditlog.models import LogEntry
        from django.utils import translation

        from studio import translation as wording
        from studio.accounts import security_log as security
        from studio.auditing.actor import sign
        from studio.auditing.recording import audited
        from studio.auditing.writing import seal_tables
        from studio.operations import checks
        from studio.preferences.models import Rates, Studio

        wording.set_translator(translation)
        post_migrate.connect(ensure_studio, sender=self)
        register(checks.database_keeps_its_word, "database")
        register(checks.demo_is_asked_for, "database")
        security.watch()
        # The change log writes its figures the studio's way, so the settings stand below it and are registered here.
        audited(
            units={
                **dict.fromkeys(("reserve", "measuring_tolerance", "water_limit"), "percent"),
                **dict.fromkeys(("measuring_step", "drop_size", "splash_size"), "volume"),
                "scale_step": "mass",
                "logo": "file",
            },
            without=["confirmed_at"],
        )(Studio)
        audited(units={"wage_per_hour": "money", "overhead_per_hour": "money", "tax_rate": "percent"})(Rates)
        _describe_archive()
        pre_save.connect(sign, sender=LogEntry, dispatch_uid="who changed it")
        seal_tables(self, without=UNSEALED, apart=["User.password"])
        for label, without in UNSEALED_OF_LIBRARIES.items():
            seal_tables(apps.get_app_config(label), without=without)


def _describe_archive() -> None:
    """What of the ground floor an archive leaves out, and what every database starts with."""
    from studio.archive import contents
    from studio.models import Backup, BookCheck, ChangeSeal, Studio, Token, User

    own = "It is about one computer and its files."
    contents.leave_out("Secrets, by which programs sign in.", Token)
    contents.leave_out(own, Backup, BookCheck)
    contents.leave_out("Not used.", User.groups.through, User.user_permissions.through)
    contents.leave_out_columns(User, {"password": "A secret.", "last_login": own})
    contents.starts_with_rows(Studio, ChangeSeal)
    contents.measured(Studio, "share", "service_level", "vital_service_level", "price_jump")
