"""The studio's own settings, as the owner types them."""

from typing import Any

from django import forms
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy

from studio.pages.forms import DayInput, Fieldset, MoneyField, PercentField, QuantityField, RowForm
from studio.preferences.locale_choices import CurrencyInput, ways_of_writing
from studio.preferences.models import Rates, Studio
from studio.setup.actions import is_currency_fixed
from studio.translation import _
from studio.values.units import Measure


class WeekdaysField(forms.MultipleChoiceField):
    """Days of the week, kept as their ISO numbers in one text: "67" is Saturday and Sunday."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **kwargs: Any) -> None:
        days = [(str(day + 1), WEEKDAYS[day]) for day in range(7)]  # Django's Monday is 0
        super().__init__(choices=days, **kwargs)

    def clean(self, value: Any) -> str:
        return "".join(sorted(super().clean(value)))

    def prepare_value(self, value: Any) -> Any:
        return list(value) if isinstance(value, str) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class SettingsForm(RowForm):
    """All settings of the studio. A currency in which something has been recorded is shown, and cannot be typed."""

    fieldsets = (
        Fieldset(
            gettext_lazy("The studio"),
            (
                "name",
                "currency",
                "language",
                "locale",
                "fluid_system",
                "paper",
                "contact",
                "delivery_address",
                "numbers_receipts",
            ),
        ),
        Fieldset(gettext_lazy("Pouring"), ("reserve", "measuring_tolerance", "varnish_after_days")),
        Fieldset(
            gettext_lazy("Measuring out"),
            ("measures_by", "scale_step", "measuring_step", "drop_size", "splash_size"),
        ),
        Fieldset(gettext_lazy("Timers in the bench view"), ("stir_seconds", "rest_seconds")),
        Fieldset(gettext_lazy("Water"), ("water_limit", "water_reason")),
        Fieldset(gettext_lazy("Reordering"), ("service_level", "vital_service_level", "days_between_orders")),
        Fieldset(gettext_lazy("Alerts"), ("near_date_days", "price_jump", "stocktake_months", "quiet_days")),
    )
    locale = forms.ChoiceField(
        label=gettext_lazy("Numbers and dates"),
        help_text=gettext_lazy("How amounts and dates are written on every page and document."),
    )
    reserve = PercentField(
        label=gettext_lazy("Extra paint"),
        help_text=gettext_lazy("Planned on top of what is needed, such as 10%."),
    )

    measuring_tolerance = PercentField(
        label=gettext_lazy("Measuring tolerance"),
        help_text=gettext_lazy(
            "How far measuring may be off, such as 5%. You are asked about a mix that measures more than its parts "
            "can give."
        ),
    )

    scale_step = QuantityField(
        label=gettext_lazy("Scale precision"),
        measure=Measure.MASS,
        example=100,
        help_text=gettext_lazy(
            "The smallest step that your scale shows. What goes into a cup is rounded to it."
        ),
    )
    measuring_step = QuantityField(
        label=gettext_lazy("Measuring cup precision"),
        measure=Measure.VOLUME,
        example=1_000,
        help_text=gettext_lazy("The finest marks on your measuring cup or syringe."),
    )
    drop_size = QuantityField(
        label=gettext_lazy("A drop"),
        measure=Measure.VOLUME,
        example=50,
        help_text=gettext_lazy(
            "So much is read when you type “3 drops”. 20 drops to the mL is common practice."
        ),
    )
    splash_size = QuantityField(
        label=gettext_lazy("A splash"),
        measure=Measure.VOLUME,
        example=5_000,
        help_text=gettext_lazy("So much is read when you type “a splash”. 5 mL is common practice."),
    )
    water_limit = PercentField(
        label=gettext_lazy("Most water in a mix"),
        help_text=gettext_lazy("A mix with more added water than this is pointed out."),
    )
    service_level = PercentField(
        label=gettext_lazy("Service level"),
        help_text=gettext_lazy(
            "How many deliveries in a hundred should arrive before you run out: 95 is 19 in 20. More takes more stock."
        ),
    )
    vital_service_level = PercentField(
        label=gettext_lazy("Service level of vital materials"),
        help_text=gettext_lazy("For materials marked as vital, such as 98%."),
    )

    price_jump = PercentField(
        label=gettext_lazy("Price jump"),
        help_text=gettext_lazy(
            "You are alerted when a delivery costs this much more per unit than usual, such as 20%. Usual is the "
            "middle price of up to five deliveries before it."
        ),
    )
    quiet_days = WeekdaysField(
        label=gettext_lazy("Days without email"),
        required=False,
        help_text=gettext_lazy("The daily email waits on these days. What is new goes into the next one."),
    )

    class Meta:
        model = Studio
        fields = "__all__"
        labels = {
            "paper": gettext_lazy("Paper size"),
            "contact": gettext_lazy("Contact lines"),
            "delivery_address": gettext_lazy("Delivery address"),
            "numbers_receipts": gettext_lazy("Number receipts without gaps"),
            "measures_by": gettext_lazy("You measure"),
            "stir_seconds": gettext_lazy("Stir a mix for (seconds)"),
            "rest_seconds": gettext_lazy("Let it rest for (seconds)"),
            "water_reason": gettext_lazy("Your reason"),
            "days_between_orders": gettext_lazy("Days between orders"),
            "near_date_days": gettext_lazy("Days before a date is near"),
            "stocktake_months": gettext_lazy("Months between stocktakes"),
        }
        help_texts = {
            "water_reason": gettext_lazy(
                "Shown with the warning. Leave blank for “The film may craze or flake.”"
            ),
            "stir_seconds": gettext_lazy("120 is two minutes. It can be changed on each phone at the bench."),
            "rest_seconds": gettext_lazy("300 is five minutes, so that bubbles can rise."),
            "name": gettext_lazy("As shown on every document."),
            "delivery_address": gettext_lazy(
                "Where suppliers should deliver to, line by line. Each order can be changed."
            ),
            "days_between_orders": gettext_lazy(
                "How often you look at what to order: 1 for every day, 7 for once a week."
            ),
            "near_date_days": gettext_lazy(
                "So many days before its date a lot or a mix is pointed out. 14 leaves two weeks to use it up."
            ),
            "stocktake_months": gettext_lazy(
                "You are reminded when the last stocktake is so long ago. 6 is twice a year; 0 never reminds you."
            ),
            "currency": gettext_lazy(
                "Three-letter code, such as GBP, EUR or USD. It cannot be changed once anything has been recorded."
            ),
        }
        widgets = {
            "currency": CurrencyInput,
            "contact": forms.Textarea(attrs={"rows": 3}),
            "delivery_address": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        locale = self.fields["locale"]
        if isinstance(locale, forms.ChoiceField):
            locale.choices = ways_of_writing(self.studio.locale, self.studio.currency)
        if is_currency_fixed():
            self.fields["currency"].disabled = True
            self.fields["currency"].help_text = _("It cannot be changed once anything has been recorded.")

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).strip().upper()


class RatesForm(RowForm):
    """What an hour costs, and the tax inside prices, from a day on. What is left blank stays as it was before."""

    holds_from = forms.DateField(
        label=gettext_lazy("From"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("The first day. Leave blank for rates that have held from the beginning."),
    )
    wage_per_hour = MoneyField(
        label=gettext_lazy("Hourly rate"),
        required=False,
        example=12_000_000,
        help_text=gettext_lazy(
            "What an hour of your own labour costs, for cost sheets. Leave blank if unchanged."
        ),
    )
    overhead_per_hour = MoneyField(
        label=gettext_lazy("Overhead per hour"),
        required=False,
        help_text=gettext_lazy(
            "Rent, light, insurance and so on, per hour worked. Leave blank if unchanged."
        ),
    )
    tax_rate = PercentField(
        label=gettext_lazy("Tax included in your prices"),
        required=False,
        help_text=gettext_lazy(
            "Such as 20%. Enter 0% from the day you are no longer registered. Leave blank if unchanged."
        ),
    )

    class Meta:
        model = Rates
        fields = ("holds_from", "wage_per_hour", "overhead_per_hour", "tax_rate")
