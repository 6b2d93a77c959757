"""The rows that every studio starts with: the ledger's head, usual causes, and techniques with their usual coverage."""

from django.db import connections

from inventory.models import Books, Cause, Technique

CAUSES = [
    ("spoiled", "Spoiled batch", "loss"),
    ("spilled", "Spill or dropped bottle", "loss"),
    ("dried-out", "Dried out or past its date", "loss"),
    ("leftover", "Leftover thrown away", "loss"),
    ("ruined", "Ruined pour", "loss"),
    ("damaged", "Damaged finished work", "loss"),
    ("gift", "Gift", "gift"),
    ("own-use", "Own use", "own_use"),
    ("sample", "Sample or test tile", "sample"),
    ("count", "Count difference", "count"),
]

# Paint poured per surface area, run-off included, in microlitres per cm² (0.22 mL/cm² = 220).
TECHNIQUES = [
    ("Straight", 200),
    ("Puddle", 220),
    ("Dirty", 220),
    ("Flip cup", 220),
    ("Ring", 220),
    ("Swipe", 220),
    ("Dutch", 160),
]


def ensure(using: str = "default") -> None:
    """Add the first rows to tables that are still empty; a studio's own changes are never touched."""
    tables = set(connections[using].introspection.table_names())
    if not {"inventory_books", "inventory_cause", "inventory_technique"} <= tables:
        return
    Books.objects.using(using).get_or_create(pk=1)
    if not Cause.objects.using(using).exists():
        Cause.objects.using(using).bulk_create(
            Cause(code=code, name=name, kind=kind) for code, name, kind in CAUSES
        )
    if not Technique.objects.using(using).exists():
        Technique.objects.using(using).bulk_create(
            Technique(name=name, coverage=coverage, standing="from memory") for name, coverage in TECHNIQUES
        )
