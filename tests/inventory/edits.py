"""Direct edits of the ledger's rows, generated: every column of every table that the books rest on, and whole rows."""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.db import DatabaseError, connection, models, transaction

from inventory.ledger import database_rules
from inventory.ledger.models import Books, Entry, Lot, LotBalance, MonthEnd, Posting
from inventory.ledger.month_ends import keep_month_ends
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.recipes.models import Mix
from inventory.sessions.models import Session
from inventory.stock.models import Stocktake
from tests.days import DAY, TODAY
from tests.inventory.tampering import after

if TYPE_CHECKING:
    AnyField = models.Field[Any, Any]

# A row's own number stands for nothing that the books say. How far the books are closed, and which way costs flow, are
# the owner's decisions: the database's rules keep them, and no other row tells what they were.
NOT_THE_LEDGERS = {
    ("inventory_books", "closed_through"),
    ("inventory_books", "costing_method"),
    ("inventory_books", "costing_method_chosen_at"),
}
WHOLE_TABLES: tuple[type[models.Model], ...] = (Entry, Posting, LotBalance, Books, MonthEnd)
COLUMNS_OF: dict[type[models.Model], tuple[str, ...]] = {
    Lot: ("material",),
    Delivery: ("invoiced", "paid", "rate_digits", "rate_places", "carriage", "duty", "tax"),
    DeliveryLine: ("quantity", "landed", "price"),
}
REMOVED: tuple[type[models.Model], ...] = (
    Entry, Posting, LotBalance, Books, MonthEnd, DeliveryLine, Delivery, Mix, Session, Stocktake,
)  # fmt: skip


@dataclass(frozen=True)
class Edit:
    """One edit: what it does in words, and the statements that do it."""

    name: str
    statements: tuple[tuple[Any, ...], ...]


@dataclass
class Edits:
    """How a run of edits ended: found by the check, refused by the database though its rules were off, or missed."""

    found: int = 0
    refused: int = 0
    missed: tuple[str, ...] = ()


def edits(*, rows: int, seed: int) -> Iterator[Edit]:
    """Every column in so many rows drawn by chance, rows taken away and copied, values swapped, rules taken off."""
    chance = random.Random(seed)
    keep_month_ends(before=TODAY + 60 * DAY)
    for model in (*WHOLE_TABLES, *COLUMNS_OF):
        for field in _columns(model):
            yield from _in_rows(model, field, rows, chance)
    for model in REMOVED:
        for row in _some(model, rows, chance):
            said = f"DELETE FROM {model._meta.db_table} WHERE {_key(model)} = %s"
            yield Edit(f"{model.__name__} {row.pk} removed", ((said, row.pk),))
    yield from _copied(rows, chance)
    yield from _swapped(rows, chance)


def try_all(made: Iterator[Edit]) -> Edits:
    """Make each edit alone, behind the ledger's back, check the books, and take it back."""
    found, refused, missed = 0, 0, []
    for edit in made:
        try:
            with transaction.atomic():
                report = after(*edit.statements)
        except DatabaseError:
            refused += 1
            continue
        if report.is_clean:
            missed.append(edit.name)
        else:
            found += 1
    return Edits(found, refused, tuple(missed))


def _columns(model: type[models.Model]) -> "list[AnyField]":
    table, chosen = model._meta.db_table, COLUMNS_OF.get(model)
    return [
        field
        for field in model._meta.concrete_fields
        if (field.name in chosen if chosen else field.column != "id")
        and (table, field.column) not in NOT_THE_LEDGERS
    ]


def _in_rows(
    model: type[models.Model], field: "AnyField", rows: int, chance: random.Random
) -> Iterator[Edit]:
    """One column edited in some rows; where rows hold nothing in it, something is put there."""
    for row in _some(model, rows, chance):
        before = getattr(row, field.attname)
        value = _another(field, before, chance)
        said = f"UPDATE {model._meta.db_table} SET {field.column} = %s WHERE {_key(model)} = %s"
        yield Edit(
            f"{model.__name__} {row.pk} {field.name}: {before!r} to {value!r}", ((said, value, row.pk),)
        )


def _another(field: "AnyField", before: Any, chance: random.Random) -> Any:
    """A value that the column can hold, and that is not the one it holds."""
    if isinstance(field, models.ForeignKey):
        related = field.related_model
        assert not isinstance(related, str)
        others = list(related._default_manager.exclude(pk=before).values_list("pk", flat=True))
        return chance.choice(others) if others else 9_999
    if isinstance(before, datetime):
        return before - timedelta(days=chance.randrange(1, 400))
    if isinstance(before, date):
        return before + timedelta(days=chance.randrange(1, 400))
    if isinstance(before, int):
        return before + chance.choice([-1, 1]) * chance.randrange(1, 90)
    choices = [value for value, _label in field.choices or () if value != before]
    return chance.choice(choices) if choices else f"{before}x"[-(field.max_length or 64) :]


def _copied(rows: int, chance: random.Random) -> Iterator[Edit]:
    """A row put in once more, under the next number."""
    head = Books.objects.get().last_number
    new: dict[type[models.Model], tuple[str, Callable[[Any], int]]] = {
        Entry: ("line", lambda row: row.line + 100),
        Posting: ("number", lambda row: head + 1),
        LotBalance: ("lot_id", lambda row: 9_000 + row.lot_id),
    }
    for model, (column, number) in new.items():
        names = [
            str(each.column) for each in model._meta.concrete_fields if each.column not in ("id", column)
        ]
        listed = ", ".join(names)
        for row in _some(model, rows, chance):
            said = (
                f"INSERT INTO {model._meta.db_table} ({column}, {listed}) "
                f"SELECT %s, {listed} FROM {model._meta.db_table} WHERE {_key(model)} = %s"
            )
            more: tuple[tuple[Any, ...], ...] = ()
            if model is Posting:  # its seal and its key are kept apart by indexes
                more = (("DROP INDEX IF EXISTS posting_key_once",),)
                said = said.replace(" hash FROM", " 'x' || substr(hash, 2) FROM")
            yield Edit(f"{model.__name__} {row.pk} copied", (*more, (said, number(row), row.pk)))


def _swapped(rows: int, chance: random.Random) -> Iterator[Edit]:
    """Two rows' values in each other's place: every total stays what it was."""
    for model, name in ((Entry, "money"), (Entry, "quantity"), (Posting, "note"), (LotBalance, "quantity")):
        for first in _some(model, rows, chance):
            others = model._default_manager.exclude(**{name: getattr(first, name)})
            second = chance.choice(list(others))
            said = f"UPDATE {model._meta.db_table} SET {name} = %s WHERE {_key(model)} = %s"
            both = ((said, getattr(second, name), first.pk), (said, getattr(first, name), second.pk))
            yield Edit(f"{model.__name__} {first.pk} and {second.pk}: {name} swapped", both)


def _some(model: type[models.Model], rows: int, chance: random.Random) -> list[Any]:
    there = list(model._default_manager.order_by("pk"))
    return chance.sample(there, min(rows, len(there)))


def _key(model: type[models.Model]) -> str:
    assert model._meta.pk is not None
    return str(model._meta.pk.column)


def rules_taken_off() -> Edits:
    """Each of the database's own rules dropped, one at a time."""
    found, missed = 0, []
    for rule in database_rules.rules(connection.vendor):
        on_table = "" if connection.vendor == "sqlite" else f" ON {rule.table}"
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"DROP TRIGGER {rule.trigger}{on_table}")
            is_found = f"{rule.trigger} is missing" in database_rules.differences()
            transaction.set_rollback(True)
        found += is_found
        missed += [] if is_found else [rule.trigger]
    return Edits(found, 0, tuple(missed))
