"""The forms of the first pages: how the studio counts and writes, what is ticked, what is there already."""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from django import forms
from django.conf import settings
from django.forms import BoundField
from django.utils import timezone, translation
from django.utils.translation import get_language, gettext_lazy, to_locale

from costing.first_run.actions import StudioFacts
from costing.first_run.starter_set import CHANNELS, starters
from inventory.ledger.models import CostingMethod
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import OpeningLine
from studio.errors import InputError
from studio.pages.forms import DayInput, KeyedForm, MoneyField, PercentField, RatioField, StudioForm
from studio.preferences.countries import Habits, countries, country_codes, habits_of
from studio.preferences.locale_choices import COMMON
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.units import Measure

METHODS = {
    CostingMethod.FIFO: gettext_lazy("First in, first out: the oldest bottle is used up first. Usual."),
    CostingMethod.FEFO: gettext_lazy("First expired, first out: what goes off first is used first."),
    CostingMethod.AVERAGE: gettext_lazy("Weighted average: every bottle costs the same."),
}


def habits(country: str) -> Habits | None:
    """What a country sets here; None for what is no country."""
    if country not in country_codes():
        return None
    return habits_of(country, languages=[code for code, _name in settings.LANGUAGES], locales=list(COMMON))


def _choices() -> list[tuple[str, str]]:
    return [("", _("Choose…")), *countries(to_locale(get_language() or "en"))]


class FirstStudioForm(StudioForm):
    """What makes a studio its own. The studio that it is given has the habits of the country that was sent."""

    name = forms.CharField(
        label=gettext_lazy("Studio name"),
        max_length=120,
        help_text=gettext_lazy("As shown on every document."),
        widget=forms.TextInput(attrs={"autocomplete": "organization"}),
    )
    country = forms.ChoiceField(
        label=gettext_lazy("Country"),
        choices=_choices,
        help_text=gettext_lazy(
            "Sets currency, language, numbers and dates, paper size and fluid ounces. Settings can change each."
        ),
    )
    wage_per_hour = MoneyField(
        label=gettext_lazy("Hourly rate"),
        required=False,
        example=12_000_000,
        help_text=gettext_lazy("What an hour of your own labour costs. It can wait."),
    )
    tax_rate = PercentField(
        label=gettext_lazy("Tax included in your prices"),
        required=False,
        help_text=gettext_lazy(
            "Such as 20%, if you are registered for VAT or GST. Leave blank if you are not, or where tax is added at "
            "the till, as in the US and Canada."
        ),
    )
    costing_method = forms.ChoiceField(
        label=gettext_lazy("Your method"), choices=METHODS.items, widget=forms.RadioSelect, initial="fifo"
    )

    @property
    def facts(self) -> StudioFacts:
        sent = self.cleaned_data
        self.studio.name = sent["name"]
        return StudioFacts(self.studio, sent["costing_method"], sent["wage_per_hour"], sent["tax_rate"])


def _groups(studio: Studio) -> Iterator[tuple[str, Sequence[Any]]]:
    yield from starters(studio.paper)
    yield _("Where you sell"), CHANNELS


class StarterForm(StudioForm):
    """The starter set, group by group, to be ticked. What the studio has already is left out.

    Names are those that are saved, in the studio's language; everything about them is in the reader's.
    """

    def __init__(self, *args: Any, present: set[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, (heading, items) in enumerate(_groups(self.studio)):
            with translation.override(self.studio.language):
                choices = [(item.code, _(item.name)) for item in items]
            shown = [(code, name) for code, name in choices if name not in present]
            if shown:
                self.fields[f"group{number}"] = forms.MultipleChoiceField(
                    label=heading,
                    choices=choices,
                    required=False,
                    widget=forms.CheckboxSelectMultiple,
                    initial=[item.code for item in items if getattr(item, "is_usual", False)],
                )
                self.fields[f"group{number}"].widget.choices = shown  # sent again, all of them are understood

    @property
    def ticked(self) -> set[str]:
        return {code for codes in self.cleaned_data.values() for code in codes}


class OwnedLine(NamedTuple):
    """One material with its fields on the page; its density where an amount by weight asks for it."""

    material: Material
    amount: BoundField
    cost: BoundField
    density: BoundField | None


class FirstStockForm(KeyedForm):
    """How much of each material there is, and what that cost. Lines that are left blank are left out."""

    on = forms.DateField(
        label=gettext_lazy("Stock as of"),
        widget=DayInput,
        initial=timezone.localdate,
        help_text=gettext_lazy("To log a session of an earlier day, choose a day before it."),
    )

    def __init__(self, *args: Any, materials: Sequence[Material], may_change: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = materials
        for material in materials:
            example = {"count": _("such as 12"), "volume": _("such as 500 ml")}.get(material.measure, "")
            self.fields[f"amount{material.pk}"] = forms.CharField(
                label=_("{material}: amount", material=material.name),
                max_length=60,
                required=False,
                help_text=example,
            )
            cost = MoneyField(
                label=_(
                    "{material}: cost ({currency})", material=material.name, currency=self.studio.currency
                ),
                required=False,
            )
            cost.write_as(self.formatter)
            self.fields[f"cost{material.pk}"] = cost
            if may_change and material.measure == Measure.VOLUME and material.density is None:
                density = RatioField(
                    label=_("{material}: density (g/mL)", material=material.name), unit="g/mL", required=False
                )
                density.formatter = self.formatter
                self.fields[f"density{material.pk}"] = density

    def lines(self) -> list[OwnedLine]:
        return [
            OwnedLine(each, self[f"amount{each.pk}"], self[f"cost{each.pk}"], self._density(each))
            for each in self.materials
        ]

    def _density(self, material: Material) -> BoundField | None:
        """The field for it once it was asked for or typed: most of what is owned needs none."""
        name = f"density{material.pk}"
        return self[name] if name in self.errors or (name in self.fields and self[name].value()) else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.facts: list[OpeningLine] = []
        self.densities: dict[int, int] = {}
        for material in self.materials:
            self._read(material, cleaned)
        if not self.facts and not self.errors:
            raise forms.ValidationError(_("Enter what you have of at least one material, or skip this page."))
        return cleaned

    def _read(self, material: Material, cleaned: dict[str, Any]) -> None:
        text, cost = cleaned.get(f"amount{material.pk}"), cleaned.get(f"cost{material.pk}")
        if not text and cost is None:
            return
        if not text:
            self.add_error(f"amount{material.pk}", _("Enter how much there is of it."))
            return
        if cost is None:
            if f"cost{material.pk}" not in self.errors:
                self.add_error(f"cost{material.pk}", _("Enter what it cost; 0 if it was free."))
            return
        density = material.density or cleaned.get(f"density{material.pk}")
        try:
            reading = self.formatter.read(text, Measure(material.measure), density=density)
        except InputError as problem:
            field = f"density{material.pk}"
            if field in self.fields and density is None and self._is_weight(text):
                self.add_error(field, self._asked(text))
            elif field not in self.errors:
                self.add_error(f"amount{material.pk}", str(problem))
            return
        self.facts.append(OpeningLine(material, reading.quantity.amount, cost))
        if density and material.density is None:
            self.densities[material.pk] = density

    def _is_weight(self, text: str) -> bool:
        try:
            return bool(self.formatter.read(text, Measure.MASS))
        except InputError:
            return False

    def _asked(self, text: str) -> str:
        """Common practice, no source: glue and thin paints a little heavier than water, thick whites up to 1.5."""
        return _(
            "“{text}” is a weight, and this is measured by volume. Enter what 1 mL weighs: about {light} for glue, "
            "{usual} for most paints. Or enter the amount in mL.",
            text=text,
            light=self.formatter.density(1_070_000),
            usual=self.formatter.density(1_200_000),
        )
