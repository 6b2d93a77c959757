"""The form of one judge's scores of one pour: large buttons, one tap for each criterion."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from django import forms

from inventory.comparisons.models import Criterion, Scale
from studio.errors import InputError
from studio.pages.forms import StudioForm, TypedField
from studio.translation import _
from studio.values.numbers import format_scaled, read_decimal


class FigureField(TypedField):
    """A figure in thousandths, zero and below allowed."""

    def read(self, text: str) -> int:
        value: Fraction = read_decimal(text, decimal_comma=self.formatter.decimal_comma) * 1000
        if value.denominator != 1:
            raise InputError(_("“{text}” has too many decimals: at most three here.", text=text))
        return int(value)

    def write(self, amount: int) -> str:
        return format_scaled(amount, 3, decimal_comma=self.formatter.decimal_comma)


class ScoreForm(StudioForm):
    """A field for each criterion that is scored."""

    def __init__(self, *args: Any, criteria: Sequence[Criterion], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.criteria = {f"criterion_{each.pk}": each for each in criteria if each.is_scored}
        for name, criterion in self.criteria.items():
            self.fields[name] = self._field(criterion)

    def _field(self, criterion: Criterion) -> forms.Field:
        better = _("A lower score is better.") if criterion.low_is_better else ""
        if criterion.scale == Scale.FIGURE:
            field = FigureField(
                label=f"{criterion.name} ({criterion.unit})" if criterion.unit else criterion.name
            )
            field.help_text, field.formatter = better, self.formatter
            field.widget.attrs["inputmode"] = "decimal"
            return field
        return forms.TypedChoiceField(
            label=criterion.name,
            choices=[(value, self._label(criterion, value, word)) for value, word in criterion.choices],
            coerce=int,
            widget=forms.RadioSelect(attrs={"class": "score"}),
            help_text=better,
            error_messages={"required": _("Choose a score.")},
        )

    def _label(self, criterion: Criterion, value: int, word: str) -> str:
        if criterion.scale == Scale.WORDS:
            return word
        return format_scaled(value // 100, 1, decimal_comma=self.formatter.decimal_comma)

    @property
    def values(self) -> Mapping[Criterion, int]:
        """The scores in thousandths, once the form is valid."""
        return {criterion: self.cleaned_data[name] for name, criterion in self.criteria.items()}
