"""What is in an archive: every table of the studio's own apps, but those that a floor leaves out with a reason.

Tables are found in the app registry, so a new model is in the archive from its first day.
"""

from collections.abc import Iterable, Mapping
from pathlib import Path

from auditlog.models import LogEntry
from django.apps import AppConfig, apps
from django.conf import settings
from django.db.models import FileField, Model

from studio.archive.columns import Column
from studio.auditing.recording import unit_of

_LEFT_OUT: dict[type[Model], str] = {}
_WITHOUT: dict[type[Model], dict[str, str]] = {}
_FIRST_ROWS: set[type[Model]] = set()
_EXPLANATIONS: list[str] = []
_UNITS: dict[tuple[type[Model], str], str] = {}


def leave_out(reason: str, *models: type[Model]) -> None:
    """Keep tables out of archives. The README of each archive says so, and why."""
    _LEFT_OUT.update(dict.fromkeys(models, reason))


def leave_out_columns(model: type[Model], reasons: Mapping[str, str]) -> None:
    """Keep columns of a table out of archives; on import they take their default."""
    _WITHOUT.setdefault(model, {}).update(reasons)


def starts_with_rows(*models: type[Model]) -> None:
    """Say that every database has rows of these from its first migration on: an import replaces them."""
    _FIRST_ROWS.update(models)


def measured(model: type[Model], unit: str, *columns: str) -> None:
    """Say in which unit whole-number columns are kept, where the change log does not say so already."""
    _UNITS.update({(model, column): unit for column in columns})


def explain(text: str) -> None:
    """Add a section (Markdown) to the README of every archive."""
    if text not in _EXPLANATIONS:
        _EXPLANATIONS.append(text)


def explanations() -> list[str]:
    return list(_EXPLANATIONS)


def archived_models() -> list[type[Model]]:
    """The models in an archive, by the names of their tables."""
    ours = [model for config in apps.get_app_configs() if _is_ours(config) for model in _models_of(config)]
    return sorted({*ours, LogEntry} - _LEFT_OUT.keys(), key=table_name)


def models_left_out() -> dict[type[Model], str]:
    """What an archive leaves out of the studio's own apps, and why."""
    return dict(sorted(_LEFT_OUT.items(), key=lambda each: table_name(each[0])))


def columns_left_out(model: type[Model]) -> dict[str, str]:
    return _WITHOUT.get(model, {})


def first_rows() -> list[type[Model]]:
    return [model for model in archived_models() if model in _FIRST_ROWS]


def table_name(model: type[Model]) -> str:
    return str(model._meta.db_table)


def columns_of(model: type[Model]) -> list[Column]:
    """The columns of a table in an archive, in the order in which they were declared."""
    without = columns_left_out(model)
    return [Column(field) for field in model._meta.concrete_fields if field.attname not in without]


def photo_columns(model: type[Model]) -> list[str]:
    return [field.attname for field in model._meta.concrete_fields if isinstance(field, FileField)]


def unit_in_archive(model: type[Model], column: str) -> str:
    """In which unit a whole number is kept, in the words of its registration; "" for a plain number."""
    return _UNITS.get((model, column), "") or UNITS_OF_THE_LOG.get(unit_of(model, column), "")


UNITS_OF_THE_LOG = {
    "money": "money",
    "money in currency": "money of currency",
    "quantity in measure": "quantity",
    "percent": "share",
    "share": "share",
    "ratio": "ratio",
    "length": "length",
    "area": "area",
    "volume": "volume",
    "mass": "mass",
    "g/mL": "density",
    "mL/cm²": "coverage",
    "rate": "rate",
}


def _is_ours(config: AppConfig) -> bool:
    return Path(config.path).parent == Path(settings.BASE_DIR)


def _models_of(config: AppConfig) -> Iterable[type[Model]]:
    return config.get_models(include_auto_created=True)
