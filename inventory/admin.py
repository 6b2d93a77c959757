"""Settings pages of the shelf: its reference data to change, its ledger to look at."""

from inventory.admin_pages import books, materials, supply

__all__ = ["books", "materials", "supply"]
