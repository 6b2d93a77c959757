"""Form fields that read what a person types, the studio's way, into whole numbers."""

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple, cast
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.forms.models import construct_instance
from django.forms.utils import ErrorDict
from django.urls import reverse_lazy
from django.utils.translation import gettext_lazy

from studio.auditing.edit_conflicts import EditConflict, read_change_number
from studio.errors import InputError, MeniscusError, NeedsConfirmation, Question
from studio.pages.bound_fields import CalmField
from studio.pages.formsets import Rows
from studio.preferences.formatting import Formatter, read_percent
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.money import LARGEST_AMOUNT, money_input_text, rate_text, read_money, read_rate
from studio.values.numbers import format_scaled, read_decimal, tidy
from studio.values.quantities import input_text
from studio.values.sizes import Size, read_size
from studio.values.units import Measure

if TYPE_CHECKING:
    from django.http import QueryDict
    from django.utils.functional import _StrOrPromise

    ModelForm = forms.ModelForm[Any]
else:
    ModelForm = forms.ModelForm


class TypedField(forms.CharField):
    """Text that a reader turns into a whole number. The form makes it write and read as the studio does.

    An `example` of what to type is such a number, or a text that every studio types alike; the help text may name it
    as {example}.
    """

    formatter: Formatter

    def __init__(self, *, example: int | str = "", **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 60)
        super().__init__(**kwargs)
        self.example = example

    def write_as(self, formatter: Formatter) -> None:
        self.formatter = formatter
        example = self.prepare_value(self.example)
        if example:
            self.widget.attrs.setdefault("placeholder", example)
            self.help_text = str(self.help_text).format(example=example)

    def read(self, text: str) -> Any:
        raise NotImplementedError

    def write(self, amount: Any) -> str:
        raise NotImplementedError

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.read(text)
        except InputError as problem:
            raise ValidationError(str(problem)) from None

    def prepare_value(self, value: Any) -> Any:
        is_number = isinstance(value, int | Decimal) and not isinstance(value, bool)
        return self.write(value) if is_number else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class QuantityField(TypedField):
    """A quantity in thousandths of the base unit of a known measure; with a `density`, by weight or by volume."""

    density: int | None = None

    def __init__(self, *, measure: Measure, allow_zero: bool = False, **kwargs: Any) -> None:
        self.measure, self.allow_zero = measure, allow_zero
        super().__init__(**kwargs)

    def read(self, text: str) -> int:
        reading = self.formatter.read(text, self.measure, density=self.density, allow_zero=self.allow_zero)
        return reading.quantity.amount

    def write(self, amount: int) -> str:
        return input_text(amount, self.measure, decimal_comma=self.formatter.decimal_comma)


class MoneyField(TypedField):
    """Money in millionths. `currency` overrides the studio's own; a label may name it as {currency}."""

    currency: str | None = None

    def read(self, text: str) -> int:
        return read_money(
            text, self.currency or self.formatter.currency, decimal_comma=self.formatter.decimal_comma
        )

    def write(self, amount: int) -> str:
        return money_input_text(
            amount, self.currency or self.formatter.currency, decimal_comma=self.formatter.decimal_comma
        )


class RateField(TypedField):
    """An exchange rate, exactly as it is typed."""

    def read(self, text: str) -> Decimal:
        return read_rate(text, decimal_comma=self.formatter.decimal_comma)

    def write(self, amount: Decimal) -> str:
        return rate_text(amount, decimal_comma=self.formatter.decimal_comma)


class PercentField(TypedField):
    """A share in millionths, typed as a percentage."""

    def read(self, text: str) -> int:
        return read_percent(text, decimal_comma=self.formatter.decimal_comma)

    def write(self, amount: int) -> str:
        # All four decimals: what is shown rounded would be saved rounded.
        number = format_scaled(amount, 4, decimal_comma=self.formatter.decimal_comma)
        return number + self.formatter.percent_sign()


class RatioField(TypedField):
    """A plain number above zero kept in millionths (or to other places), with its unit after it or without."""

    def __init__(self, *, unit: str = "", places: int = 6, **kwargs: Any) -> None:
        self.unit, self.places = unit, places
        super().__init__(**kwargs)

    def read(self, text: str) -> int:
        number = tidy(text, example=self.write(1_120_000))
        if self.unit and number.casefold().endswith(self.unit.casefold()):
            number = number[: -len(self.unit)].strip()
        value = read_decimal(number, decimal_comma=self.formatter.decimal_comma)
        scaled = value * 10**self.places
        if scaled <= 0 or scaled.denominator != 1 or scaled > LARGEST_AMOUNT:
            raise InputError(
                _(
                    "“{text}” must be above zero and have at most {most} decimals.",
                    text=text,
                    most=self.places,
                )
            )
        return int(scaled)

    def write(self, amount: int) -> str:
        number = format_scaled(amount, self.places, decimal_comma=self.formatter.decimal_comma)
        return f"{number} {self.unit}".strip()


class SizeField(TypedField):
    """A surface's size: "30 x 30 x 1.8 cm", "8 x 10 in", "30 cm round"."""

    def read(self, text: str) -> Size:
        return read_size(text, decimal_comma=self.formatter.decimal_comma)


class Fieldset(NamedTuple):
    """Fields that stand together on a page, under a heading; what is seldom needed is folded away while it is blank."""

    heading: "_StrOrPromise"
    fields: Sequence[str]
    hint: "_StrOrPromise" = ""
    is_folded: bool = False


def _of_plain_digits(to_python: Callable[[Any], int | None]) -> Callable[[Any], int | None]:
    """Django would read the digits of any script; ours are read by one rule everywhere."""

    def read(value: Any) -> int | None:
        if isinstance(value, str) and not value.isascii():
            raise ValidationError(_("Use the digits 0 to 9."))
        return to_python(value)

    return read


class StudioForm(forms.Form):
    """A form that knows the studio's units, currency and way of writing; `refuse` makes errors of refusals."""

    bound_field_class = CalmField
    fieldsets: ClassVar[Sequence[Fieldset]] = ()
    hides_errors = False  # a page that is still being filled in complains of nothing

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.formatter = Formatter.of(studio)
        for field in self.fields.values():
            if isinstance(field, TypedField):
                field.write_as(self.formatter)
            if isinstance(field, forms.IntegerField):
                field.to_python = _of_plain_digits(field.to_python)  # type: ignore[method-assign, assignment]
            if isinstance(field, MoneyField) and field.label:
                field.label = str(field.label).format(currency=studio.currency)

    @property
    def groups(self) -> list[tuple[Fieldset, list[forms.BoundField], bool]]:
        """The fieldsets, each with those of its fields that the form has, and whether any of them is filled in."""
        fields = [[self[name] for name in each.fields if name in self.fields] for each in self.fieldsets]
        filled = [any(field.value() or field.errors for field in some) for some in fields]
        return list(zip(self.fieldsets, fields, filled, strict=True))

    @property
    def errors(self) -> ErrorDict:
        errors = super().errors  # which reads the form, in any case
        return ErrorDict() if self.hides_errors else errors

    def read_amount(
        self, field: str, measure: str, *, density: int | None = None, allow_zero: bool = False
    ) -> int | None:
        """Read a text field as a quantity once the measure is known; a problem lands on the field."""
        text = self.cleaned_data.get(field)
        if not text:
            return None
        try:
            reading = self.formatter.read(text, measure, density=density, allow_zero=allow_zero)
        except InputError as problem:
            self.add_error(field, str(problem))
            return None
        return reading.quantity.amount

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """Show a refusal at the field that it names, or above the form; on its own row where it names a line."""
        for each in problem.problems if isinstance(problem, InputError) else (problem,):
            form: StudioForm = self
            field = each.field if isinstance(each, InputError) else None
            if isinstance(each, InputError) and each.line is not None and each.rows in formsets:
                form = formsets[each.rows].kept[each.line - 1]
            form.add_error(field if field in form.fields else None, str(each))


def new_key() -> str:
    """A key for one sending of a form."""
    return uuid4().hex


class KeyedForm(StudioForm):
    """A form whose sending posts at most once: the hidden key travels with it, and the ledger knows it again."""

    key = forms.RegexField(
        r"^[0-9a-f]{32}$",
        widget=forms.HiddenInput,
        error_messages={"invalid": gettext_lazy("Reload the page and try again.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["key"].initial = new_key()


class AskingForm(KeyedForm):
    """A form whose action may ask something before it saves (NeedsConfirmation).

    The page comes back with the questions and one tick (`parts/questions.html`), whose value names them, so that it
    confirms just those; `confirmed` carries what was confirmed so far, so that nothing is asked twice.
    """

    tick = "confirm"
    confirmed = forms.CharField(required=False, widget=forms.HiddenInput, max_length=5000)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.questions: Sequence[Question] = ()
        if self.is_bound:
            self.data = cast("QueryDict", self.data).copy()
            self.data["confirmed"] = " ".join(sorted(self.confirmations))

    @property
    def confirmations(self) -> frozenset[str]:
        """The questions that were answered with yes, for the submission."""
        return frozenset(f"{self.data.get('confirmed', '')} {self.data.get(self.tick, '')}".split())

    @property
    def asked(self) -> str:
        """What the tick confirms."""
        return " ".join(each.token for each in self.questions)

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        if isinstance(problem, NeedsConfirmation):
            self.questions = problem.questions
        else:
            super().refuse(problem, **formsets)


class EditForm(StudioForm):
    """A form that changes a row which somebody else may be changing too.

    `seen` is the number of the last recorded change that the page has seen: the view asks for it before it reads the
    row, and the action compares it (`studio/auditing/edit_conflicts.py`); a page without it has seen none. When the
    action raises EditConflict, `refuse` says field by field who changed what and when, keeps what was typed, and takes
    on the new number, so that saving again is a decision.
    """

    # What to do about a conflict, below the changes.
    advice: "_StrOrPromise" = gettext_lazy(
        "Your own entries are kept below. Compare them, then save again to replace what was changed."
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def clean_seen(self) -> int:
        return read_change_number(self.cleaned_data["seen"])

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        if not isinstance(problem, EditConflict):
            super().refuse(problem, **formsets)
            return
        data = cast("QueryDict", self.data).copy()
        data[self.add_prefix("seen")] = str(problem.seen)
        self.data = data
        self.add_error(None, [*problem.sentences, str(self.advice)])


class RowForm(EditForm, ModelForm):
    """A form of one row's own columns. Once it is valid, `instance` is the row to save."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.TypedChoiceField) and field.required:
                field.choices = [
                    (value, gettext_lazy("Choose…") if value == "" else label)
                    for value, label in cast("list[tuple[Any, Any]]", field.choices)
                ]

    def _post_clean(self) -> None:
        """Fill in the instance, and leave its check to the action, which holds the lock."""
        self.instance = construct_instance(self, self.instance, self._meta.fields)


class NotesField(forms.CharField):
    """Words over several lines, which may be left out."""

    def __init__(self, *, rows: int = 3, **kwargs: Any) -> None:
        usual: dict[str, Any] = {"label": gettext_lazy("Notes"), "required": False, "max_length": 2000}
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **usual | kwargs)


class DayInput(forms.DateInput):
    """A day, by the browser's own date picker."""

    input_type = "date"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%d", **kwargs)


class CodeInput(forms.TextInput):
    """A code that can also be read from a photo: `studio/scan.js` adds the button."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        scan = {
            "autocomplete": "off",
            "data-scan-code": gettext_lazy("Scan"),
            "data-codes-url": reverse_lazy("codes"),
            "data-no-code": gettext_lazy("No code was found on the photo. Come closer, or type the digits."),
        }
        super().__init__({**scan, **(attrs or {})})


class Stepper(forms.Widget):
    """Marks a field that gets a minus and a plus beside it, for gloved hands: `inventory/steppers.js` adds them."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"data-stepper": True, **(attrs or {})})


class AmountStepper(Stepper, forms.TextInput):
    """An amount as she types it: 300 ml, 1/2 l, 2 each."""


class CountStepper(Stepper, forms.NumberInput):
    """A whole number."""


def mark_decimals(form: StudioForm) -> None:
    """Tell the amounts of a form which decimal mark the studio writes.

    Their greatest length is left to the reader of amounts, which says what is wrong: there are dozens on a page.
    """
    for field in form.fields.values():
        if isinstance(field.widget, AmountStepper):
            field.widget.attrs.pop("maxlength", None)
            if form.formatter.decimal_comma:
                field.widget.attrs["data-decimal-comma"] = True
