"""The currency or the measure of a recorded figure whose row has one of its own: "money in supplier.currency"."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.db.models import Model

from studio.auditing.models import Change
from studio.auditing.recording import way_of_writing

IN = " in "


@dataclass(frozen=True, slots=True)
class _Held:
    """The row that holds a unit, and the unit that it holds today."""

    by: str
    unit: str


def units_of(changes: Iterable[Change]) -> dict[int, str]:
    """The unit of each figure when it was changed, by the change's number; left out where the row is gone.

    Two queries for each column that holds units, however many changes there are.
    """
    by_column: dict[tuple[type[Model], str], list[Change]] = defaultdict(list)
    for change in changes:
        model = _model(change)
        if model is None or not change.field:
            continue
        where = way_of_writing(model, change.field).partition(IN)[2]
        if where:
            by_column[model, where].append(change)
    return {
        number: unit
        for (model, where), found in by_column.items()
        for number, unit in _at_the_time(model, where, found).items()
    }


def _at_the_time(model: type[Model], where: str, changes: list[Change]) -> dict[int, str]:
    """A unit that was changed later on is the one that it was changed from."""
    link, _dot, column = where.rpartition(".")
    holder = model._meta.get_field(link).related_model if link else model
    held = _held_today(model, link, column, {change.row for change in changes})
    later: dict[str, list[Change]] = defaultdict(list)
    turned = Change.objects.filter(
        kind=_label(holder), field=column, row__in={item.by for item in held.values()}
    )
    for turn in turned.order_by("pk"):
        later[turn.row].append(turn)
    return {
        change.pk: next(
            (turn.old for turn in later[held[change.row].by] if turn.pk > change.pk), held[change.row].unit
        )
        for change in changes
        if change.row in held
    }


def _held_today(model: type[Model], link: str, column: str, rows: set[str]) -> dict[str, _Held]:
    found = model._default_manager.filter(pk__in=rows)
    holder, unit = (link, f"{link}__{column}") if link else ("pk", column)
    return {str(pk): _Held(str(by), str(said)) for pk, by, said in found.values_list("pk", holder, unit)}


def _model(change: Change) -> type[Model] | None:
    label = next((label for label in settings.RECORDED if label.lower() == change.kind), None)
    return apps.get_model(label) if label else None


def _label(model: object) -> str:
    if not (isinstance(model, type) and issubclass(model, Model)):
        raise TypeError("A unit is held by a row of a table.")
    return model._meta.label_lower
