"""Recorded changes in words: fields and rows by their names, figures and days the studio's way."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast

from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Model
from django.utils.text import Truncator, capfirst

from studio.auditing.queries import FieldChange
from studio.auditing.recording import SECRET, recorded, unit_of
from studio.preferences.formatting import Formatter
from studio.translation import _, quoted
from studio.values.numbers import NO_BREAK_SPACE, format_scaled
from studio.values.units import Measure

IN = " in "
MOST_QUOTED = 300  # of long notes, this many characters
_MEASURES = {measure.value for measure in Measure}
RATIOS = {"g/mL": 6, "mL/cm²": 3}  # written with their unit; the decimals that are kept of each
# What rows are called, by table and number.
_Names = dict[tuple[type[Model], str], str]


@dataclass(frozen=True, slots=True)
class ChangeWords:
    """One change as a row of the page."""

    change: FieldChange
    noun: str
    field: str = ""
    old: str = ""
    new: str = ""
    is_told: bool = True
    when: str = ""

    def sentence(self) -> str:
        """The change to a field in one sentence, for whoever edits that row."""
        who = self.change.by.get_username() if self.change.by else _("a command on the studio's computer")
        facts = {"who": who, "when": self.when, "field": capfirst(self.field)}
        if not self.is_told:
            return _("{field}: changed by {who}, {when}.", **facts)
        facts |= {"old": _quoted(self.old), "new": _quoted(self.new)}
        return _("{field}: changed from {old} to {new} by {who}, {when}.", **facts)


def _quoted(value: str) -> str:
    return quoted(Truncator(value).chars(MOST_QUOTED)) if value else _("nothing")


def all_in_words(changes: Iterable[FieldChange], formatter: Formatter) -> list[ChangeWords]:
    """Changes as people read them. Rows that they name are looked up together: a query for each of their tables."""
    listed = list(changes)
    names = _names_of_rows(listed)
    return [
        replace(_in_words(change, formatter, names), when=formatter.moment(change.at)) for change in listed
    ]


def noun(model: type[Model] | None, kind: str = "") -> str:
    """What one row of a table is called: "Sales channel". A table that is gone keeps its code's name."""
    return capfirst(str(model._meta.verbose_name)) if model else kind


def _in_words(change: FieldChange, formatter: Formatter, names: _Names) -> ChangeWords:
    model, what = change.model, noun(change.model, change.kind)
    kept = recorded(model)
    if not change.field or model is None or kept is None:
        return ChangeWords(change, what, change.field, _plain(change.old), _plain(change.new))
    column, unit = _column(model, change.field), unit_of(model, change.field)
    if change.field in kept.virtual:
        virtual = kept.virtual[change.field]
        ends = (change.old, change.new)
        old, new = ("" if value is None else virtual.words(value, formatter) for value in ends)
        return ChangeWords(change, what, str(virtual.label), old, new)
    called = str(getattr(column, "verbose_name", change.field))
    if unit == SECRET:
        hidden = _("hidden")
        return ChangeWords(change, what, called, hidden, hidden, is_told=False)
    if column is not None and column.related_model:
        old, new = (
            names.get((_table(column), str(value)), _plain(value)) for value in (change.old, change.new)
        )
    else:
        old, new = (_value(value, column, formatter, change) for value in (change.old, change.new))
    is_replaced_file = unit == "file" and bool(old and new)
    return ChangeWords(change, what, called, old, new, is_told=not is_replaced_file)


def _column(model: type[Model], name: str) -> "Field[object, object] | None":
    try:
        column = model._meta.get_field(name)
    except FieldDoesNotExist:
        return None
    return column if isinstance(column, Field) else None


def _plain(value: Any) -> str:
    return "" if value is None else str(value)


def _value(
    value: Any, column: "Field[object, object] | None", formatter: Formatter, change: FieldChange
) -> str:
    if column is None or value is None or value == "":
        return _plain(value)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if column.get_internal_type() == "DateField":
        return _day(str(value), formatter)
    choices = dict(getattr(column, "flatchoices", []))
    if value in choices:
        return str(choices[value])
    unit = unit_of(change.model, column.name)
    if unit == "file":
        return _("a file")
    return _figure(value, unit, formatter, change) if isinstance(value, int) else str(value)


def _names_of_rows(changes: list[FieldChange]) -> _Names:
    """What the rows are called that the changes name by number."""
    wanted: dict[type[Model], set[str]] = defaultdict(set)
    for change in changes:
        column = _column(change.model, change.field) if change.model and change.field else None
        if column is not None and column.related_model:
            wanted[_table(column)] |= {str(value) for value in (change.old, change.new) if value is not None}
    return {
        (table, str(row.pk)): str(row)
        for table, numbers in wanted.items()
        for row in table._default_manager.filter(pk__in=numbers)
    }


def _table(column: "Field[object, object]") -> type[Model]:
    """The table that a column's numbers stand for."""
    return cast("type[Model]", column.related_model)


def _day(text: str, formatter: Formatter) -> str:
    try:
        return formatter.day(date.fromisoformat(text[:10]))
    except ValueError:
        return text


def _figure(amount: int, unit: str, formatter: Formatter, change: FieldChange) -> str:
    what, is_own, where = unit.partition(IN)
    if is_own:
        return _in_its_own(amount, what, formatter, change.units.get(where, ""))
    if unit == "money":
        return formatter.money(amount)
    if unit == "percent":
        return formatter.percent(amount)
    if unit == "rate":
        return format_scaled(amount, 6, decimal_comma=formatter.decimal_comma)
    if unit in _MEASURES:
        return formatter.quantity(amount, unit)
    if unit in RATIOS:
        number = format_scaled(amount, RATIOS[unit], decimal_comma=formatter.decimal_comma)
        return f"{number}{NO_BREAK_SPACE}{unit}"
    return str(amount)


def _in_its_own(amount: int, what: str, formatter: Formatter, unit: str) -> str:
    """A figure in its row's own currency or measure; in none at all where nobody noted which it was."""
    if not unit:
        return format_scaled(amount, 6 if what == "money" else 3, decimal_comma=formatter.decimal_comma)
    return (
        replace(formatter, currency=unit).money(amount)
        if what == "money"
        else formatter.quantity(amount, unit)
    )
