"""The studio's own settings, as the owner types them."""

from dataclasses import fields
from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy

from studio.pages.forms import EditForm, MoneyField, PercentField
from studio.preferences.locale_choices import CurrencyInput, ways_of_writing
from studio.preferences.models import Studio
from studio.setup.actions import StudioFacts, is_currency_fixed
from studio.translation import _

# The fields of the page under their headings, by name.
SECTIONS = (
    (gettext_lazy("The studio"), ("name", "currency", "language", "locale", "fluid_system", "paper")),
    (gettext_lazy("Labour and tax"), ("wage_per_hour", "overhead_per_hour", "tax_rate")),
    (gettext_lazy("Pouring"), ("reserve", "varnish_after_days")),
)


class SettingsForm(EditForm):
    """All settings of the studio. A currency in which something has been recorded is shown, and cannot be typed."""

    name = forms.CharField(
        label=gettext_lazy("Name"), max_length=120, help_text=gettext_lazy("As shown on every document.")
    )
    currency = forms.CharField(
        label=gettext_lazy("Currency"),
        max_length=3,
        widget=CurrencyInput,
        help_text=gettext_lazy(
            "Three-letter code, such as GBP, EUR or USD. It cannot be changed once anything has been recorded."
        ),
    )
    language = forms.ChoiceField(
        label=gettext_lazy("Language"),
        choices=settings.LANGUAGES,
        help_text=gettext_lazy(
            "For pages, papers and emails. Each person can choose another language for their own pages."
        ),
    )
    locale = forms.ChoiceField(
        label=gettext_lazy("Numbers and dates"),
        help_text=gettext_lazy("How amounts and dates are written on every page and document."),
    )
    fluid_system = forms.ChoiceField(
        label=gettext_lazy("Fluid ounces"),
        choices=Studio.FluidSystem.choices,
        help_text=gettext_lazy("What fluid ounce, pint and gallon mean in this studio."),
    )
    paper = forms.ChoiceField(label=gettext_lazy("Paper size"), choices=Studio.Paper.choices)
    wage_per_hour = MoneyField(
        label=gettext_lazy("Hourly rate"),
        help_text=gettext_lazy("What an hour of your own labour costs, for cost sheets."),
    )
    overhead_per_hour = MoneyField(
        label=gettext_lazy("Overhead per hour"),
        help_text=gettext_lazy("Rent, light, insurance and so on, per hour worked."),
    )
    tax_rate = PercentField(
        label=gettext_lazy("Tax included in your prices"),
        help_text=gettext_lazy("Such as 20%. Enter 0% if you are not registered."),
    )
    reserve = PercentField(
        label=gettext_lazy("Extra paint"),
        help_text=gettext_lazy("Planned on top of what is needed, such as 10%."),
    )
    varnish_after_days = forms.IntegerField(
        label=gettext_lazy("Days before varnish"),
        min_value=0,
        max_value=32_767,
        help_text=gettext_lazy("How long a pour dries first. At least a week is a general rule of thumb."),
    )

    def __init__(self, *args: Any, studio: Studio, seen: int, **kwargs: Any) -> None:
        known = {field.name: getattr(studio, field.name) for field in fields(StudioFacts)}
        super().__init__(*args, studio=studio, initial={"seen": seen} | known, **kwargs)
        locale = self.fields["locale"]
        if isinstance(locale, forms.ChoiceField):
            locale.choices = ways_of_writing(studio.locale, studio.currency)
        if is_currency_fixed():
            self.fields["currency"].disabled = True
            self.fields["currency"].help_text = _("It cannot be changed once anything has been recorded.")

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).strip().upper()

    def facts(self) -> StudioFacts:
        """The settings for the action. Raises InputError naming the field."""
        return StudioFacts(**{field.name: self.cleaned_data[field.name] for field in fields(StudioFacts)})

    @property
    def sections(self) -> list[tuple[Any, list[forms.BoundField]]]:
        return [(label, [self[name] for name in names]) for label, names in SECTIONS]
