"""Fixtures of the stories that email."""

from tests.inventory.alerts.mailing import on_day, owners_address

__all__ = ["on_day", "owners_address"]
