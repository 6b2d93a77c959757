"""A year of overhead and its lines, as the owner types them."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from costing.overhead.models import MOST_HOURS, OverheadLine, OverheadYear
from studio.pages.forms import DayInput, MoneyField, RowForm


class YearForm(RowForm):
    """The days, the hours that are expected, and what was paid in total, if that is all that is known."""

    starts_on = forms.DateField(label=gettext_lazy("First day"), widget=DayInput)
    ends_on = forms.DateField(
        label=gettext_lazy("Last day"),
        widget=DayInput,
        help_text=gettext_lazy("At most a year after the first. A month or a quarter will do too."),
    )
    hours = forms.IntegerField(
        label=gettext_lazy("Hours you expect to work"),
        min_value=1,
        max_value=MOST_HOURS,
        help_text=gettext_lazy(
            "All hours that you log: sessions, finishing, packing. Ten a week are 520 a year."
        ),
    )
    paid_in_total = MoneyField(
        label=gettext_lazy("Overhead paid in total ({currency})"),
        required=False,
        help_text=gettext_lazy("At the end of the time. Leave blank to enter what was paid line by line."),
    )

    class Meta:
        model = OverheadYear
        fields = ("starts_on", "ends_on", "hours", "paid_in_total")


class LineForm(RowForm):
    """One kind of overhead in a year. Its year stays."""

    year = forms.ModelChoiceField(
        OverheadYear.objects.all(), label=gettext_lazy("Year"), empty_label=gettext_lazy("Choose…")
    )
    estimated = MoneyField(
        label=gettext_lazy("Estimated ({currency})"),
        help_text=gettext_lazy("What you expect to pay in this time. Enter 0 for what you did not expect."),
    )
    paid = MoneyField(
        label=gettext_lazy("Paid ({currency})"),
        required=False,
        help_text=gettext_lazy("Once it is known. Leave blank until then."),
    )

    class Meta:
        model = OverheadLine
        fields = ("year", "name", "estimated", "paid")
        labels = {"name": gettext_lazy("Name")}
        help_texts = {"name": gettext_lazy("Such as rent, insurance, electricity, phone.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["year"].disabled = self.instance.pk is not None
