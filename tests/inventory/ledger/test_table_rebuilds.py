"""The ledger's rules survive whatever a migration does to their tables; SQLite rebuilds a table for most of it."""

import re
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction
from django.db.migrations.operations import (
    AddConstraint,
    AddField,
    AddIndex,
    AlterField,
    RemoveConstraint,
    RenameField,
)
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState

from inventory.ledger import database_rules
from inventory.ledger.models import Entry
from tests import making
from tests.inventory.invariants import assert_books_hold

pytestmark = pytest.mark.django_db(transaction=True)

TABLES = sorted(
    {rule.table for rule in database_rules.rules("postgresql")} | {"inventory_mix", "inventory_material"}
)


def model_of(table: str) -> type[models.Model]:
    return next(model for model in apps.get_models() if model._meta.db_table == table)


def plain_fields(model: type[models.Model]) -> "list[models.Field[Any, Any]]":
    """Columns that are neither a key nor a reference."""
    return [field for field in model._meta.concrete_fields if not field.primary_key and not field.is_relation]


def unmentioned(model: type[models.Model]) -> "models.Field[Any, Any] | None":
    """A plain column that no rule speaks of, so that it may change its name."""
    words = set(
        re.findall(
            r"\w+", " ".join(f"{rule.when} {rule.body}" for rule in database_rules.rules(connection.vendor))
        )
    )
    return next((field for field in plain_fields(model) if field.column not in words), None)


def name_of(model: type[models.Model]) -> str:
    return model._meta.object_name or ""


def added_field(model: type[models.Model]) -> Operation:
    return AddField(name_of(model), "extra", models.BigIntegerField(default=7))


def added_text(model: type[models.Model]) -> Operation:
    return AddField(name_of(model), "extra", models.CharField(max_length=9, default="", db_index=True))


def added_constraint(model: type[models.Model]) -> Operation:
    condition = models.Q(pk__gte=0) | models.Q(pk__lt=0)
    return AddConstraint(name_of(model), models.CheckConstraint(condition=condition, name="extra_check"))


def added_index(model: type[models.Model]) -> Operation:
    index = models.Index(fields=[model._meta.pk.name], name="extra_index")
    return AddIndex(name_of(model), index)


def altered_field(model: type[models.Model]) -> Operation | None:
    """A column that may from now on be empty, where there is one that is no reference."""
    field = next(iter(plain_fields(model)), None)
    if field is None:
        return None
    clone = field.clone()
    clone.null = True
    return AlterField(name_of(model), field.name, clone)


def renamed_field(model: type[models.Model]) -> Operation | None:
    field = unmentioned(model)
    return RenameField(name_of(model), field.name, "under_another_name") if field else None


def removed_constraint(model: type[models.Model]) -> Operation | None:
    constraints = model._meta.constraints
    return RemoveConstraint(name_of(model), constraints[0].name) if constraints else None


CHANGES: list[Callable[[type[models.Model]], Operation | None]] = [
    added_field,
    added_text,
    added_constraint,
    added_index,
    altered_field,
    renamed_field,
    removed_constraint,
]


def _of_the_rules() -> list[str]:
    """What differs about the rules; that the table itself is another one now is what was asked for."""
    return [line for line in database_rules.differences() if database_rules.PREFIX in line]


@cache
def as_it_stands() -> ProjectState:
    """Of every model; made once, because making it takes longer than the changes."""
    state = ProjectState.from_apps(apps)
    assert state.apps  # drawn up now, so that each copy has it too
    return state


def there_and_back(model: type[models.Model], operation: Operation) -> list[list[str]]:
    """Apply an operation and take it back, as migrate would; what differed from the rules after each."""
    before = as_it_stands()
    after = before.clone()
    operation.state_forwards(model._meta.app_label, after)
    found = []
    with connection.schema_editor() as editor:
        operation.database_forwards(model._meta.app_label, editor, before, after)
    try:
        found.append(_of_the_rules())
    finally:
        with connection.schema_editor() as editor:
            operation.database_backwards(model._meta.app_label, editor, after, before)
    found.append(database_rules.differences())
    return found


@pytest.mark.parametrize("table", TABLES)
def test_the_rules_survive_every_change_of_a_table(table: str) -> None:
    making.make_pour()
    model = model_of(table)
    for change in CHANGES:
        operation = change(model)
        if operation is not None:
            assert there_and_back(model, operation) == [[], []], change.__name__
    assert_books_hold()


def test_the_rules_still_work_after_their_tables_were_rebuilt() -> None:
    pour = making.make_pour()
    for table in (
        "inventory_entry",
        "inventory_posting",
        "inventory_lotbalance",
        "inventory_books",
        "inventory_lot",
    ):
        there_and_back(model_of(table), added_field(model_of(table)))
    making.take_back(pour.session.posting)
    assert_books_hold()
    with pytest.raises(IntegrityError, match="entries are never changed"), transaction.atomic():
        Entry.objects.update(money=0)
