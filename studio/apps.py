"""The ground floor's app."""

from typing import Any

from django.apps import AppConfig
from django.contrib.admin.apps import AdminConfig
from django.core.checks import register
from django.db.models.signals import post_migrate


def ensure_studio(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Every database has its one studio row from the first migration on."""
    try:
        studio_model = sender.get_model("Studio")
    except LookupError:
        return
    if "studio_studio" in _tables(using):
        studio_model._default_manager.using(using).bulk_create([studio_model(pk=1)], ignore_conflicts=True)


def _tables(using: str) -> list[str]:
    from django.db import connections

    return connections[using].introspection.table_names()


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio import audit, checks, security

        post_migrate.connect(ensure_studio, sender=self)
        register(checks.database_keeps_its_word, "database")
        security.watch()
        audit.watch()


class SettingsPagesConfig(AdminConfig):
    """Django's administration, on the site that opens to owners alone."""

    default_site = "studio.settings_site.SettingsSite"
