"""Recorded changes in words: fields by their names, figures the studio's way."""

from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.core.exceptions import FieldDoesNotExist

from studio.audit import way_of_writing
from studio.models import Change
from studio.numerals import write_scaled
from studio.showing import Shown

_PLAIN = {"True": "yes", "False": "no"}


@dataclass(frozen=True, slots=True)
class ChangeWords:
    """One change as a row of the page."""

    change: Change
    noun: str
    field: str = ""
    old: str = ""
    new: str = ""


def in_words(change: Change, shown: Shown) -> ChangeWords:
    """A change as people read it. A field that is no longer there keeps the name it had."""
    label = next((label for label in settings.AUDITED if label.lower() == change.kind), None)
    if label is None:
        return ChangeWords(change, change.kind, change.field, change.old, change.new)
    if not change.field:
        return ChangeWords(change, noun(label))
    model = apps.get_model(label)
    way = way_of_writing(model, change.field)
    if way == "secret":
        return ChangeWords(change, noun(label), change.field, "not shown", "not shown")
    try:
        field = model._meta.get_field(change.field)
    except FieldDoesNotExist:
        return ChangeWords(change, noun(label), change.field, change.old, change.new)
    words = {**_PLAIN, **{str(value): str(word) for value, word in getattr(field, "flatchoices", [])}}
    old, new = (words.get(text, _figure(text, way, shown)) for text in (change.old, change.new))
    return ChangeWords(change, noun(label), str(getattr(field, "verbose_name", change.field)), old, new)


def noun(label: str) -> str:
    """What one row of a table is called: "Selling route"."""
    return str(apps.get_model(label)._meta.verbose_name).capitalize()


def _figure(text: str, way: str, shown: Shown) -> str:
    try:
        amount = int(text)
    except ValueError:
        return text
    if way == "money":
        return shown.money(amount)
    if way == "percent":
        return shown.percent(amount)
    places = {"thousandths": 3, "millionths": 6}.get(way)
    return text if places is None else write_scaled(amount, places, decimal_comma=shown.decimal_comma)
