"""Which rows the change log's chain seals, and the digest of a row: every table of a floor but what it leaves out.

A digest is of what a row says, column by column, without those that hold their default: a column that a later version
adds changes no digest. It is the same on every database. Columns that stay behind when everything else of their row
moves to another studio, such as a password, are sealed apart from it.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from hashlib import sha256
from operator import itemgetter
from typing import Any

from django.apps import AppConfig
from django.contrib.contenttypes.models import ContentType
from django.db import connections
from django.db.models import DateField, Field, Model, QuerySet, TextField
from django.db.models.functions import Cast

DIGITS = 32  # of a SHA-256 in hexadecimal: 128 bits
ROWS_AT_A_TIME = 2_000
NO_DEFAULT = object()

Digests = Iterator[tuple[int, str]]


@dataclass(frozen=True, slots=True, eq=False)
class Sealed:
    """What one digest of a row is over: columns of a table by name, and beside them what each holds by default.

    Seals know it by its `name`: that of its table, or of a column that is sealed apart. SQLite keeps days as a digest
    writes them, so they are read as they are: making dates of them takes long.
    """

    model: type[Model]
    name: str
    columns: tuple[str, ...]
    defaults: tuple[object, ...]
    days: frozenset[str]

    @property
    def is_apart(self) -> bool:
        """Whether it is a column that is sealed apart from its row."""
        return self.name != self.model._meta.label_lower

    def are_among(self, written: Iterable[str]) -> bool:
        """Whether any of these columns, as `update_fields` names them, is sealed."""
        return any(name in self.columns or f"{name}_id" in self.columns for name in written)


_sealed: dict[type[Model], list[Sealed]] = {}
_left_out: dict[str, str] = {}


def tables_of(app: AppConfig, without: Mapping[str, str], apart: Collection[str]) -> list[type[Model]]:
    """Have every table of an app sealed, and return them: all `without` those named, each with its reason.

    "Digest" is a table, "User.password" a column, also of those that are sealed `apart` from their rows.
    """
    models = {model.__name__: model for model in app.get_models(include_auto_created=True)}
    columns = {
        f"{name}.{each.name}" for name, model in models.items() for each in model._meta.concrete_fields
    }
    if unknown := {*without, *apart} - models.keys() - columns:
        raise ValueError(f"{app.name} has no {', '.join(sorted(unknown))}.")
    _left_out.update({f"{app.label}.{name}": reason for name, reason in without.items()})
    found = [model for name, model in models.items() if name not in without]
    for model in found:
        fields = {f"{model.__name__}.{each.name}": each for each in model._meta.concrete_fields}
        held = [each for name, each in fields.items() if name not in without and name not in apart]
        label = model._meta.label_lower
        _sealed[model] = [_of(model, label, [each for each in held if not each.primary_key])]
        _sealed[model] += [
            _of(model, f"{label}.{fields[name].name}", [fields[name]]) for name in apart if name in fields
        ]
    return found


def _of(model: type[Model], name: str, held: "Sequence[Field[Any, Any]]") -> Sealed:
    # A digest sorts its columns: that is faster where they are sorted already.
    pairs = sorted(
        ((column, _default(field)) for field in held for column in _columns(field)), key=itemgetter(0)
    )
    days = frozenset(str(field.attname) for field in held if type(field) is DateField)
    columns, defaults = tuple(column for column, _held in pairs), tuple(default for _column, default in pairs)
    return Sealed(model, name, columns, defaults, days)


def _columns(field: "Field[Any, Any]") -> list[str]:
    """A kind of rows goes by its name: its number is another in each database."""
    if field.related_model is ContentType:
        return [f"{field.name}__app_label", f"{field.name}__model"]
    return [str(field.attname)]


def left_out() -> Mapping[str, str]:
    """The tables and columns that are not sealed, by the name of their app and theirs, and why."""
    return dict(_left_out)


def sealed_models() -> list[type[Model]]:
    return list(_sealed)


def sealed_parts() -> list[Sealed]:
    """Whatever a digest is over: the rows of every table, and the columns that are sealed apart."""
    return [part for parts in _sealed.values() for part in parts]


def sealed(model: type[Model]) -> Sequence[Sealed]:
    """What is sealed of a table: nothing, or its rows, and after them the columns that are sealed apart."""
    return _sealed.get(model, ())


def digests(part: Sealed, using: str, numbers: Sequence[int] | None = None) -> Digests:
    """Rows in the order of their numbers, each with its digest as it stands in the database; of some, or of all."""
    columns, defaults, rows = part.columns, part.defaults, _rows(part, connections[using].vendor).using(using)
    if numbers is not None:
        rows = rows.filter(pk__in=numbers)
    for number, *values in rows.iterator(chunk_size=ROWS_AT_A_TIME):
        contents = {
            name: value
            for name, value, default in zip(columns, values, defaults, strict=True)
            if value != default or type(value) is not type(default)
        }
        yield number, sha256(_canonical(contents).encode()).hexdigest()[:DIGITS]


@cache
def _rows(part: Sealed, vendor: str) -> QuerySet[Any, tuple[Any, ...]]:
    """What is read of a table, put together once: most seals are of a row or two, and then that takes longest."""
    days = part.days if vendor == "sqlite" else ()
    read = [Cast(name, TextField()) if name in days else name for name in part.columns]
    return part.model._base_manager.order_by("pk").values_list("pk", *read)


def _default(field: "Field[Any, Any]") -> object:
    """The default of a column; none of one that is worked out anew for each row, such as a moment."""
    if field.has_default() and callable(field.default) and field.default not in (list, dict):
        return NO_DEFAULT
    return field.get_default()


def _plain(value: Any) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    return value.isoformat() if isinstance(value, date) else str(value)


# Values from a database never refer to each other in a circle, and looking for one takes time.
_canonical = json.JSONEncoder(
    separators=(",", ":"), sort_keys=True, check_circular=False, default=_plain
).encode
