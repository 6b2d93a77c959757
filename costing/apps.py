"""The price tag's app."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class CostingConfig(AppConfig):
    name = "costing"
    verbose_name = gettext_lazy("Pieces and prices")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from costing import registrations  # which needs the models

        registrations.register(self)
