"""Django's makemigrations, with the operations of each migration folded into as few as will do.

The autodetector adds every constraint, and every foreign key to a later model, by an operation of its own. Each of
those renders the models anew (and on SQLite remakes the table), which was nearly all the time that a new studio
took to set up. Folded, a table is created whole, after those that it refers to.
"""

from collections.abc import Sequence
from copy import deepcopy
from graphlib import CycleError, TopologicalSorter
from typing import Any

from django.core.management.commands.makemigrations import Command as DjangoCommand
from django.db.migrations import Migration
from django.db.migrations.operations import AddConstraint, AddField, AddIndex, CreateModel
from django.db.migrations.operations.base import Operation


class Command(DjangoCommand):
    """Writes migrations as Django does."""

    def write_migration_files(self, changes: dict[str, list[Migration]], *args: Any, **kwargs: Any) -> None:
        for app, migrations in changes.items():
            for migration in migrations:
                migration.operations = folded(migration.operations, app)  # type: ignore[misc]
        super().write_migration_files(changes, *args, **kwargs)


def folded(operations: Sequence[Operation], app: str) -> list[Operation]:
    """The same tables by fewer operations: what is added to a model that is created here is created with it."""
    created = {each.name_lower: deepcopy(each) for each in operations if isinstance(each, CreateModel)}
    rest: list[Operation] = []
    for operation in operations:
        if isinstance(operation, CreateModel):
            continue
        model = created.get(getattr(operation, "model_name_lower", ""))
        is_column = isinstance(operation, AddField) and not operation.field.many_to_many
        if model is not None and isinstance(operation, AddField) and is_column:
            model.fields.append((operation.name, operation.field))
        elif model is not None and isinstance(operation, AddConstraint):
            model.options.setdefault("constraints", []).append(operation.constraint)
        elif model is not None and isinstance(operation, AddIndex):
            model.options.setdefault("indexes", []).append(operation.index)
        else:
            rest.append(operation)
    try:
        return [*_in_order(created, app), *rest]
    except CycleError:  # two models refer to each other: Django's own way does it
        return list(operations)


def _in_order(created: dict[str, CreateModel], app: str) -> list[CreateModel]:
    """Models after those that they refer to."""
    sorter: TopologicalSorter[str] = TopologicalSorter()
    for name, model in created.items():
        sorter.add(name, *_referred(model, app) & created.keys() - {name})
    return [created[name] for name in sorter.static_order()]


def _referred(model: CreateModel, app: str) -> set[str]:
    """The models of the app that its foreign keys point to."""
    targets = (field.remote_field.model for _name, field in model.fields if field.remote_field)
    labels = (target if isinstance(target, str) else target._meta.label for target in targets)
    return {
        name.casefold()
        for label, _dot, name in (text.rpartition(".") for text in labels)
        if label in ("", app)
    }
