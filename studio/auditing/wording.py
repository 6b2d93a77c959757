"""Recorded changes in words: fields and rows by their names, figures and days the studio's way."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import cast

from django.apps import apps
from django.conf import settings
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Model
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import Truncator, capfirst

from studio.auditing.models import Change, ChangeAction
from studio.auditing.recording import way_of_writing
from studio.auditing.units import IN, units_of
from studio.preferences.formatting import Formatter
from studio.translation import _, noop
from studio.values.numbers import NO_BREAK_SPACE, format_scaled
from studio.values.units import Measure

_PLAIN = {"True": noop("yes"), "False": noop("no")}
_NO_COLUMN = {
    "parts": noop("parts"),
    "pours": noop("pours"),
    "codes": noop("sign-in codes"),
    "recovery codes": noop("recovery codes"),
}
MOST_QUOTED = 300  # of long notes, this many characters
_MEASURES = {measure.value for measure in Measure}
RATIOS = {"g/mL": 6, "mL/cm²": 3}  # written with their unit; the decimals that are kept of each
# What rows are called, by table and number.
_Names = dict[tuple[type[Model], str], str]


@dataclass(frozen=True, slots=True)
class ChangeWords:
    """One change as a row of the page."""

    change: Change
    noun: str
    field: str = ""
    old: str = ""
    new: str = ""
    is_told: bool = True

    def sentence(self, *, within: type[Model]) -> str:
        """The change in one sentence, for whoever edits that row, or one of another table that it belongs to."""
        who = self.change.by.get_username() if self.change.by else _("a command on the studio's machine")
        facts = {
            "who": who,
            "when": date_format(timezone.localtime(self.change.at), "j M Y, H:i"),
            "row": f"{self.noun}: {self.change.name}",
        }
        if self.change.action == ChangeAction.ADDED:
            return _("{row} was added by {who}, {when}.", **facts)
        if self.change.action == ChangeAction.DELETED:
            return _("{row} was deleted by {who}, {when}.", **facts)
        is_own = self.change.kind == within._meta.label_lower
        facts["field"] = capfirst(self.field) if is_own else f"{facts['row']}, {self.field}"
        if not self.is_told:
            return _("{field}: changed by {who}, {when}.", **facts)
        facts |= {"old": _quoted(self.old), "new": _quoted(self.new)}
        return _("{field}: changed from {old} to {new} by {who}, {when}.", **facts)


def _quoted(value: str) -> str:
    return f"“{Truncator(value).chars(MOST_QUOTED)}”" if value else _("nothing")


def all_in_words(changes: Iterable[Change], formatter: Formatter) -> list[ChangeWords]:
    """Changes as people read them. What they name is looked up together: a query or two for each of its tables."""
    found = list(changes)
    names, units = _names_of_rows(found), units_of(found)
    return [_in_words(change, formatter, names, units.get(change.pk, "")) for change in found]


def noun(label: str) -> str:
    """What one row of a table is called: "Selling route"."""
    return capfirst(str(apps.get_model(label)._meta.verbose_name))


def _in_words(change: Change, formatter: Formatter, names: _Names, unit: str) -> ChangeWords:
    label = _label_of(change.kind)
    if label is None:
        return ChangeWords(change, change.kind, change.field, change.old, change.new)
    if not change.field:
        return ChangeWords(change, noun(label))
    model = apps.get_model(label)
    way, called = way_of_writing(model, change.field), _called(model, change.field)
    if way == "secret":
        hidden = _("not shown")
        return ChangeWords(change, noun(label), called, hidden, hidden, is_told=False)
    column = _column(model, change.field)
    if column is None or not column.related_model:
        old, new = (_value(text, model, column, formatter, unit) for text in (change.old, change.new))
    else:
        old, new = (names.get((_table(column), text), text) for text in (change.old, change.new))
    is_replaced_file = way == "file" and bool(old and new)
    return ChangeWords(change, noun(label), called, old, new, is_told=not is_replaced_file)


def _called(model: type[Model], field: str) -> str:
    """What a field is called. One that is no longer there keeps the name it had."""
    if field in _NO_COLUMN:
        return _(_NO_COLUMN[field])
    return str(getattr(_column(model, field), "verbose_name", field))


def _label_of(kind: str) -> str | None:
    return next((label for label in settings.RECORDED if label.lower() == kind), None)


def _column(model: type[Model], name: str) -> "Field[object, object] | None":
    try:
        found = model._meta.get_field(name)
    except FieldDoesNotExist:
        return None
    return found if isinstance(found, Field) else None


def _value(
    text: str, model: type[Model], column: "Field[object, object] | None", formatter: Formatter, unit: str
) -> str:
    if column is None or not text:
        return text
    if column.get_internal_type() == "DateField":
        return _day(text, formatter)
    words = {value: _(word) for value, word in _PLAIN.items()}
    words |= {str(value): str(word) for value, word in getattr(column, "flatchoices", [])}
    return words.get(text) or _figure(text, way_of_writing(model, column.name), formatter, unit)


def _names_of_rows(changes: list[Change]) -> _Names:
    """What the rows are called that the changes name by number."""
    wanted: dict[type[Model], set[str]] = defaultdict(set)
    for change in changes:
        label = _label_of(change.kind)
        column = _column(apps.get_model(label), change.field) if label and change.field else None
        if column is not None and column.related_model:
            wanted[_table(column)] |= {text for text in (change.old, change.new) if text}
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


def _figure(text: str, way: str, formatter: Formatter, unit: str) -> str:
    if way == "file":
        return _("a file")
    try:
        amount = int(text)
    except ValueError:
        return text
    what, is_own, _where = way.partition(IN)
    if is_own:
        return _in_its_own(amount, what, formatter, unit)
    if way == "money":
        return formatter.money(amount)
    if way == "percent":
        return formatter.percent(amount)
    if way in _MEASURES:
        return formatter.quantity(amount, way)
    if way in RATIOS:
        number = format_scaled(amount, RATIOS[way], decimal_comma=formatter.decimal_comma)
        return f"{number}{NO_BREAK_SPACE}{way}"
    return text


def _in_its_own(amount: int, what: str, formatter: Formatter, unit: str) -> str:
    """A figure in its row's own currency or measure; in none at all once nobody knows which it was."""
    if not unit:
        return format_scaled(amount, 6 if what == "money" else 3, decimal_comma=formatter.decimal_comma)
    return (
        replace(formatter, currency=unit).money(amount)
        if what == "money"
        else formatter.quantity(amount, unit)
    )
