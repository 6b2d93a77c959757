"""Three versions of a form: as it was when its page was opened, as the row stands now, and as it was sent.

What the sender left alone is brought up to date, what only the sender changed is kept, and what both changed is kept
and named, with what stands now beside it. Values are compared as a browser sends them, so a field that says the same
in other words counts as left alone. Nothing is written here: the form comes back and is saved again.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import BaseForm, CheckboxInput, Field, FileField
from django.utils.datastructures import MultiValueDict
from django.utils.html import format_html
from django.utils.text import Truncator

from studio.auditing.wording import MOST_QUOTED
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext

Sent = list[str]  # what a browser sends of one field; nothing for a box without a tick


@dataclass(frozen=True, slots=True)
class Version:
    """What fields hold at one time, and how each would be sent."""

    values: dict[str, Any]
    sent: dict[str, Sent]

    @classmethod
    def of(cls, fields: Mapping[str, Field], values: Mapping[str, Any]) -> "Version":
        """Of those fields that somebody can type into and that the values name. Files are never sent back."""
        known = {
            name: values[name]
            for name, each in fields.items()
            if name in values and not each.disabled and not isinstance(each, FileField)
        }
        return cls(known, {name: as_sent(fields[name], value) for name, value in known.items()})

    @classmethod
    def of_form(cls, form: BaseForm, *, only: Collection[str] | None = None) -> "Version":
        """What a form shows before anything is typed, in all of its fields or in those that are named."""
        names = form.fields.keys() if only is None else only
        first = {name: form.get_initial_for_field(form.fields[name], name) for name in names}
        return cls.of(form.fields, first)


@dataclass(slots=True)
class Merge:
    """What becomes of the fields of one form, by their names.

    `sent` takes the place of what was sent. `fresh` was brought up to date, with what the sender's page showed.
    `disputed` was changed by both: what stands now, and the sender's.
    """

    sent: dict[str, Sent] = field(default_factory=dict)
    fresh: dict[str, Sent] = field(default_factory=dict)
    disputed: dict[str, tuple[Sent, Sent]] = field(default_factory=dict)


def as_sent(each: Field, value: Any) -> Sent:
    """A field's value as a browser sends it back when nobody touches it."""
    if callable(value):
        value = value()
    if isinstance(each.widget, CheckboxInput):
        return ["on"] if value else []
    text = each.widget.format_value(each.prepare_value(value))
    if isinstance(text, list | tuple):
        return [str(part) for part in text]
    return ["" if text is None else str(text)]


def sent_in(
    fields: Mapping[str, Field], data: Mapping[str, Any], key: Callable[[str], str]
) -> dict[str, Sent]:
    """What was sent of each field, by the key that it has in the data. A field that is not there is left out."""
    found: dict[str, Sent] = {}
    for name, each in fields.items():
        if isinstance(each.widget, CheckboxInput):
            found[name] = as_sent(each, each.widget.value_from_datadict(data, MultiValueDict(), key(name)))
        elif key(name) in data:
            found[name] = (
                data.getlist(key(name)) if isinstance(data, MultiValueDict) else [str(data[key(name)])]
            )
    return found


def merge(fields: Mapping[str, Field], before: Version, now: Version, mine: Mapping[str, Sent]) -> Merge:
    """Merge what was sent with what stands now. A field that was not sent at all counts as left alone."""
    merged = Merge()
    for name, stands in now.sent.items():
        opened, own, each = before.sent[name], mine.get(name), fields[name]
        is_changed = before.values[name] != now.values[name]
        if own is None or says_the_same(each, own, opened):
            merged.sent[name] = stands
            if is_changed:
                merged.fresh[name] = opened
        elif is_changed and not says_the_same(each, own, stands):
            merged.disputed[name] = stands, own
    return merged


def says_the_same(each: Field, one: Sent, other: Sent) -> bool:
    """Whether two texts of a field come to the same: "55" and "55.00"."""
    if tidied(one) == tidied(other):
        return True
    if len(one) != 1 or len(other) != 1 or not (one[0].strip() and other[0].strip()):
        return False
    try:
        return bool(each.clean(one[0]) == each.clean(other[0]))
    except ValidationError:
        return False


def tidied(sent: Sent) -> Sent:
    return [text.replace("\r\n", "\n").strip() for text in sent]


# In words


def in_words(each: Field, sent: Sent, formatter: Formatter) -> str:
    """What a field says, quoted: choices by their labels, days the studio's way."""
    if isinstance(each.widget, CheckboxInput):
        return quoted(_("yes") if sent else _("no"))
    labels = _labels(each)
    return quoted(", ".join(labels.get(text) or _day(each, text, formatter) for text in sent if text))


def quoted(text: str) -> str:
    return f"“{Truncator(text).chars(MOST_QUOTED)}”" if text.strip() else _("nothing")


def stands_at(now: str, mine: str) -> str:
    """What is said at a field that both changed."""
    return _("Now stands at {now}; yours is {mine}.", now=now, mine=mine)


def told(fresh: Collection[str], disputed: Collection[str], notes: Collection[str] = ()) -> list[str]:
    """What was done to the form, below what was changed: the fields to decide on, and those that are up to date."""
    lines = list(notes)
    if disputed:
        lines.append(
            ngettext(
                "Changed on both sides: {fields}. Yours stands below, and takes the place of the other "
                "when you save again.",
                "Changed on both sides: {fields}. Yours stand below, and take the place of the others "
                "when you save again.",
                len(disputed),
                fields=", ".join(disputed),
            )
        )
    if fresh:
        lines.append(
            ngettext(
                "One field that you had left alone has been brought up to date: {fields}. "
                "Look it over and save again.",
                "{n} fields that you had left alone have been brought up to date: {fields}. "
                "Look them over and save again.",
                len(fresh),
                n=len(fresh),
                fields=", ".join(fresh),
            )
        )
    return lines or [
        _("Your page stands below as you sent it. Save it again, and nothing of these changes is lost.")
    ]


def mark(form: BaseForm, merged: Merge, formatter: Formatter) -> None:
    """Say at each field what became of it. The form is bound, and has been looked through."""
    for name, (stands, own) in merged.disputed.items():
        each = form.fields[name]
        form.add_error(name, stands_at(in_words(each, stands, formatter), in_words(each, own, formatter)))
    for name, opened in merged.fresh.items():
        each, bound = form.fields[name], form[name]
        note = _("Brought up to date: your page showed {old}.", old=in_words(each, opened, formatter))
        # A bound field has copied its help by now.
        each.help_text = bound.help_text = format_html("<strong>{}</strong> {}", note, each.help_text)


def labels_of(form: BaseForm, names: Mapping[str, object]) -> list[str]:
    return [str(form[name].label) for name in names]


def _labels(each: Field) -> dict[str, str]:
    found: dict[str, str] = {}
    for value, label in getattr(each, "choices", None) or ():
        group = label if isinstance(label, list | tuple) else [(value, label)]
        found |= {str(choice): str(name) for choice, name in group}
    return found


def _day(each: Field, text: str, formatter: Formatter) -> str:
    try:
        value = each.to_python(text)
    except ValidationError:
        return text
    return formatter.day(value) if isinstance(value, date) else text
