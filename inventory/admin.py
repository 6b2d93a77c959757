"""Settings pages of the shelf: its ledger to look at."""

from inventory.admin_pages import books

__all__ = ["books"]
