"""One column of an archive: how its values are written as JSON, and read again only if they are just that."""

import json
import re
from datetime import UTC, date, datetime, time
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db import models

from studio.archive.errors import ArchiveError
from studio.translation import _

LARGEST_WHOLE = 2**63 - 1
PHOTO = re.compile(r"[\w][\w .()+-]*(/[\w][\w .()+-]*)*")
Plain = Any  # what JSON holds


class Column:
    """A column by its name in the database. `kind` says in one word what its values are."""

    def __init__(self, field: "models.Field[Any, Any]") -> None:
        self.field, self.name, self.kind = field, field.attname, _kind(field)

    @property
    def refers_to(self) -> str:
        """The table that it refers to, or ""."""
        related = self.field.related_model
        return related._meta.db_table if isinstance(related, type) and self.kind != "model" else ""

    def written(self, value: Any) -> Plain:
        """A value as plain JSON: moments in UTC, days and times by ISO 8601, numbers exact."""
        if value is None or self.kind in ("number", "truth", "text", "json"):
            return value
        if self.kind == "moment":
            return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
        if self.kind == "model":
            return ".".join(ContentType.objects.get_for_id(value).natural_key())
        return str(value) if self.kind == "photo" else value.isoformat()

    def read(self, value: Plain) -> Any:
        """The same back. Raises ArchiveError for anything that this column would not have written."""
        if value is None and (self.field.null or self.kind == "json"):
            return None
        try:
            return _READERS[self.kind](self.field, value)
        except (ValueError, TypeError, ContentType.DoesNotExist):
            shown = json.dumps(value)[:80]
            raise ArchiveError(
                _("{value} is not a value for the column {column}.", value=shown, column=self.name)
            ) from None


def _kind(field: "models.Field[Any, Any]") -> str:
    if field.related_model is ContentType:
        return "model"
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    for kind, classes in KINDS.items():
        if isinstance(field, classes):
            return kind
    # Floats would not come back as they were on every database, and nothing that is archived is one.
    raise ArchiveError(f"{field.model._meta.label}.{field.name} cannot be archived: {type(field).__name__}.")


KINDS: dict[str, tuple[type["models.Field[Any, Any]"], ...]] = {
    "number": (models.IntegerField,),
    "truth": (models.BooleanField,),
    "moment": (models.DateTimeField,),
    "day": (models.DateField,),
    "time": (models.TimeField,),
    "json": (models.JSONField,),
    "photo": (models.FileField,),
    "text": (models.CharField, models.TextField, models.GenericIPAddressField),
}


def _number(field: Any, value: Plain) -> int:
    if type(value) is not int or abs(value) > LARGEST_WHOLE:
        raise ValueError
    return value


def _truth(field: Any, value: Plain) -> bool:
    if type(value) is not bool:
        raise ValueError
    return value


def _text(field: Any, value: Plain) -> str:
    if not isinstance(value, str) or "\0" in value:
        raise ValueError
    longest = getattr(field, "max_length", None)  # SQLite would take a longer one
    if longest is not None and len(value) > longest:
        raise ValueError
    return value


def _photo(field: Any, value: Plain) -> str:
    text = _text(field, value)
    if text and not PHOTO.fullmatch(text):
        raise ValueError
    return text


def _moment(field: Any, value: Plain) -> datetime:
    moment = datetime.fromisoformat(value)
    if moment.tzinfo is None:
        raise ValueError
    return moment.astimezone(UTC)


def _model(field: Any, value: Plain) -> int:
    app, _dot, model = _text(field, value).partition(".")
    return int(ContentType.objects.get_by_natural_key(app, model).pk)


_READERS: dict[str, Any] = {
    "number": _number,
    "truth": _truth,
    "text": _text,
    "photo": _photo,
    "moment": _moment,
    "day": lambda field, value: date.fromisoformat(value),
    "time": lambda field, value: time.fromisoformat(value),
    "json": lambda field, value: value,
    "model": _model,
}
