"""The shelf's app: keeps the database's own rules installed and checked."""

from typing import Any

from django.apps import AppConfig
from django.core.checks import register
from django.db.models.signals import post_migrate


def after_migrate(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Put the canonical rules (and the first reference rows) in place after every migration."""
    from inventory import database_rules, first_rows

    database_rules.install(using)
    first_rows.ensure(using)


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Shelf"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from inventory.checks import database_rules_in_place

        post_migrate.connect(after_migrate, sender=self)
        register(database_rules_in_place, "database")
