"""The shelf's app."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = gettext_lazy("Stock")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from inventory import registrations  # which needs the models

        registrations.register(self)
