"""The price tag's app."""

from django.apps import AppConfig


class CostingConfig(AppConfig):
    name = "costing"
    verbose_name = "Pieces and prices"
    default_auto_field = "django.db.models.BigAutoField"
