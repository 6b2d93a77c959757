"""The rows that every studio starts with: the ledger's head, usual causes, and techniques with their usual coverage."""

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connections, models, transaction
from django.utils import translation

from inventory.ledger.models import Books, Reason
from inventory.sessions.models import Flaw, Technique
from studio.archive.contents import first_rows
from studio.auditing import chain
from studio.auditing.sealed_rows import sealed
from studio.translation import _, noop

REASONS = [
    ("spoiled", noop("Spoiled batch"), "loss"),
    ("spilled", noop("Spill or dropped bottle"), "loss"),
    ("dried-out", noop("Dried out or expired"), "loss"),
    ("leftover", noop("Leftover thrown away"), "loss"),
    ("ruined", noop("Ruined pour"), "loss"),
    ("usual-failure", noop("Usual failed pours"), "normal"),
    ("damaged", noop("Damaged finished work"), "loss"),
    ("missing", noop("Lost or stolen work"), "loss"),
    ("gift", noop("Gift"), "gift"),
    ("own-use", noop("Own use"), "own_use"),
    ("sample", noop("Sample or test tile"), "sample"),
    ("count", noop("Stocktake difference"), "count"),
]

# Paint poured per surface area, run-off included, in microlitres per cm² (0.22 mL/cm² = 220).
TECHNIQUES = [
    (noop("Straight pour"), 200),
    (noop("Puddle pour"), 220),
    (noop("Dirty pour"), 220),
    (noop("Flip cup"), 220),
    (noop("Ring pour"), 220),
    (noop("Swipe"), 220),
    (noop("Dutch pour"), 160),
]
# What goes wrong with a pour (common practice, no source).
FLAWS = [
    noop("Muddied"),
    noop("Crazed"),
    noop("Slid"),
    noop("Skinned"),
    noop("Dull patch"),
    noop("Dust or hair"),
    noop("Pits or bubbles"),
    noop("Bare corner"),
]
# Where these figures come from.
SOURCE = noop("rule of thumb, replaced by your own pours")


def ensure(using: str = "default") -> None:
    """Add the first rows to tables that are still empty; a studio's own changes are never touched."""
    tables = set(connections[using].introspection.table_names())
    if not {"inventory_books", "inventory_reason", "inventory_technique", "inventory_flaw"} <= tables:
        return
    is_new = not chain.is_begun(using)
    Books.objects.using(using).get_or_create(pk=1)
    if not Reason.objects.using(using).exists():
        Reason.objects.using(using).bulk_create(
            Reason(code=code, name=name, kind=kind) for code, name, kind in REASONS
        )
    if not Flaw.objects.using(using).exists():
        Flaw.objects.using(using).bulk_create(Flaw(name=name) for name in FLAWS)
    if not Technique.objects.using(using).exists():
        Technique.objects.using(using).bulk_create(
            Technique(name=name, coverage=coverage, source=SOURCE) for name, coverage in TECHNIQUES
        )
    if is_new:
        for model in first_rows():
            if sealed(model):
                chain.wrote(
                    model, list(model._base_manager.using(using).values_list("pk", flat=True)), using=using
                )


@transaction.atomic
def speak(language: str) -> None:
    """Say the first rows in another language, where nobody has written anything else since.

    A row whose new name is taken already, or too long, keeps the one it has.
    """
    for code, name, _kind in REASONS:
        _say(Reason.objects.filter(code=code), "name", name, language)
    for name, _coverage in TECHNIQUES:
        _say(Technique.objects.all(), "name", name, language)
    _say(Technique.objects.all(), "source", SOURCE, language)
    for name in FLAWS:
        _say(Flaw.objects.all(), "name", name, language)


def _say(rows: models.QuerySet[Any], column: str, text: str, language: str) -> None:
    known = {text, *(_in(each, text) for each, _own_name in settings.LANGUAGES)}
    wanted = _in(language, text)
    for row in rows.filter(**{f"{column}__in": known - {wanted}}):
        setattr(row, column, wanted)
        try:
            row.full_clean()
        except ValidationError:
            continue
        row.save(update_fields=[column])


def _in(language: str, text: str) -> str:
    with translation.override(language):
        return _(text)
