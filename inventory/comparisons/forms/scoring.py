"""The form of one judge's scores of one pour: large buttons, one tap for each criterion."""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from django import forms

from inventory.comparisons.models import FIGURES, Criterion, Scale
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
        if criterion.scale in FIGURES:
            unit = criterion.measured_in
            # What is counted on a photo need not be typed: the count is its score.
            field = FigureField(
                label=f"{criterion.name} ({unit})" if unit else criterion.name,
                required=not criterion.is_on_photo,
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
        typed = {criterion: self.cleaned_data[name] for name, criterion in self.criteria.items()}
        return {criterion: value for criterion, value in typed.items() if value is not None}

    @property
    def judged(self) -> list[forms.BoundField]:
        """What is tapped or typed on the page."""
        return [self[name] for name, criterion in self.criteria.items() if not criterion.is_on_photo]

    @property
    def typed_instead(self) -> list[forms.BoundField]:
        """What can be typed where it is not counted on a photo."""
        return [self[name] for name, criterion in self.criteria.items() if criterion.is_on_photo]
