"""The shelf's app: keeps the database's own rules installed and checked."""

from datetime import datetime
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import register
from django.db.models import Model
from django.db.models.signals import post_migrate, post_save
from django.utils.translation import gettext_lazy


def after_migrate(sender: AppConfig, using: str, **kwargs: Any) -> None:
    """Put the canonical rules (and the first reference rows) in place after every migration."""
    from inventory import starter_rows as first_rows
    from inventory.ledger import database_rules

    database_rules.install(using)
    first_rows.ensure(using)


def after_studio_saved(sender: type[Model], instance: Model, raw: bool, **kwargs: Any) -> None:
    """First rows that nobody has renamed follow the studio's language."""
    from inventory import starter_rows as first_rows

    if not raw:
        first_rows.speak(getattr(instance, "language", settings.LANGUAGE_CODE))


def after_mixing_facts_changed(sender: type[Model], material: Any, **kwargs: Any) -> None:
    """What is made from a material follows its density and its share of water."""
    from inventory.recipes.actions.recipes import refresh_made_from

    refresh_made_from(material)


def after_reorder_facts_changed(
    sender: type[Model], materials: list[int], at: datetime, **kwargs: Any
) -> None:
    """Alerts follow levels, lead times and packs as they follow the stock."""
    from inventory.ledger.stock_changes import announce_after_commit

    announce_after_commit(materials, at=at)


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = gettext_lazy("Stock")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from inventory import navigation
        from inventory.ledger.backup_totals import LEDGER_PROOF
        from inventory.ledger.system_checks import database_rules_in_place
        from inventory.materials.actions import mixing_facts_changed, reorder_facts_changed
        from inventory.registrations import register_with_ledger
        from studio.api.choices import name_choices
        from studio.backups import verification
        from studio.preferences.context import on_every_page

        post_migrate.connect(after_migrate, sender=self)
        post_save.connect(after_studio_saved, sender="studio.Studio")
        mixing_facts_changed.connect(after_mixing_facts_changed)
        reorder_facts_changed.connect(after_reorder_facts_changed)
        register_with_ledger()
        register(database_rules_in_place, "database")
        verification.register(LEDGER_PROOF)
        navigation.register_entries()
        navigation.register_settings()
        on_every_page(navigation.open_alerts)
        name_choices(
            MaterialKind="inventory.materials.models.Kind", PostingKind="inventory.ledger.models.PostingKind"
        )
