"""What goes into a cup, part by part: amounts and lots by material, and what was added to this cup alone."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.forms import BoundField

from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cup_totals import MOST_ADDED, amount_field, reading_of
from inventory.recipes.forms.samples import SampledForm
from studio.pages.forms import AmountStepper
from studio.translation import _
from studio.values.quantities import input_text
from studio.values.units import Measure

ADDABLE = "addable-parts"  # the list of names that the page has once for all its cups
_ADDED = re.compile(r"(?:.+-)?added_[1-9]", re.ASCII)


def added_names(data: Mapping[str, Any]) -> list[str]:
    """The names typed of what was added to any cup of a page."""
    return [str(text) for name, text in data.items() if _ADDED.fullmatch(name) and str(text).strip()]


class PartsForm(SampledForm):
    """A form with an amount for each part of a cup, a lot where there are several, and parts of this cup alone."""

    form_choices: FormChoices

    def _text(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name), ""))

    def _typed(self, item: Ingredient) -> str:
        return input_text(
            item.quantity, Measure(item.material.measure), decimal_comma=self.formatter.decimal_comma
        )

    def _readable(self, item: Ingredient) -> int:
        """The amount of a part as it stands in the form; as given where it cannot be read."""
        return reading_of(self._text(amount_field(item.material)), item, self.formatter)

    def _add_lot(self, material: Material) -> None:
        choices = self.form_choices.lots.get(material.pk, [])
        if len(choices) > 2:  # with one bottle on the shelf there is nothing to choose
            self.fields[lot_field(material)] = forms.ChoiceField(
                label=_("{material} from", material=material.name), required=False, choices=choices
            )

    def _lot(self, material: Material) -> int | None:
        chosen = self.cleaned_data.get(lot_field(material))
        return int(chosen) if chosen else None

    # What was added to this cup alone

    def _added(self) -> list[tuple[int, Material]]:
        """What is named by now, by its row."""
        named = [
            (row, self.form_choices.addable_named(self._text(f"added_{row}"))) for row in self.added_rows
        ]
        return [(row, material) for row, material in named if material is not None]

    @property
    def added_rows(self) -> Sequence[int]:
        """A row for each that says something, and one more."""
        rows = range(1, MOST_ADDED + 1)
        filled_in = [row for row in rows if self._text(f"added_{row}") or self._text(f"added_amount_{row}")]
        return rows[: max(filled_in, default=0) + 1]

    @property
    def added_fields(self) -> list[BoundField]:
        return [self[name] for row in self.added_rows for name in (f"added_{row}", f"added_amount_{row}")]

    @property
    def says_added(self) -> bool:
        return any(field.value() or field.errors for field in self.added_fields)

    def _add_rows_of_added(self) -> None:
        for row in self.added_rows:
            self.fields[f"added_{row}"] = forms.CharField(
                label=_("Added"),
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs={"list": ADDABLE}),
            )
            self.fields[f"added_amount_{row}"] = forms.CharField(
                label=_("How much of it"), required=False, max_length=60, widget=AmountStepper
            )

    def _readable_added(self) -> list[Ingredient]:
        """What was added as far as it can be read, while one types."""
        items = [(row, Ingredient(material, 0)) for row, material in self._added()]
        return [
            Ingredient(item.material, reading_of(self._text(f"added_amount_{row}"), item, self.formatter))
            for row, item in items
        ]

    def _clean_added(self, parts: Sequence[Material]) -> list[Ingredient]:
        """What was added to the cup beside these parts; a problem lands on its field."""
        items: list[Ingredient] = []
        for row in self.added_rows:
            name, amount = f"added_{row}", f"added_amount_{row}"
            material = self.form_choices.addable_named(self._text(name))
            if material is None:
                if self._text(name).strip():
                    self.add_error(name, _("Choose one from the list."))
                elif self._text(amount).strip():
                    self.add_error(name, _("Choose what this is an amount of."))
            elif material in parts:
                self.add_error(name, _("The recipe has this part already. Change its amount above."))
            elif material in [item.material for item in items]:
                self.add_error(name, _("It is listed already. Enter the whole amount there."))
            elif not self._text(amount).strip():
                self.add_error(amount, _("Enter how much of it went in, such as 5 ml or 3 drops."))
            elif quantity := self.read_amount(amount, material.measure, density=material.density):
                estimate = self.formatter.estimate_in(self.cleaned_data.get(amount, ""))
                items.append(Ingredient(material, quantity, self._lot(material), estimate))
        return items


def lot_field(material: Material) -> str:
    return f"lot_{material.pk}"
