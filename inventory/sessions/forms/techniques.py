"""A technique, as it is typed."""

from django import forms
from django.utils.translation import gettext_lazy

from inventory.sessions.models import Technique
from studio.pages.forms import DayInput, RatioField, RowForm


class TechniqueForm(RowForm):
    """Its name, its paint per area, and where that figure comes from."""

    coverage = RatioField(
        label=gettext_lazy("Paint per area"),
        unit="mL/cm²",
        places=3,
        example=220,
        help_text=gettext_lazy(
            "Paint poured per surface area on about 30 × 30 cm, run-off included, such as {example}. "
            "Your own good pours then move it."
        ),
    )
    source = forms.CharField(
        label=gettext_lazy("Source"),
        max_length=120,
        help_text=gettext_lazy("Where the figure comes from, such as a rule of thumb or a pour you weighed."),
    )

    class Meta:
        model = Technique
        fields = ("name", "coverage", "source", "learn_from", "is_favourite")
        labels = {
            "learn_from": gettext_lazy("Learn from pours since"),
            "is_favourite": gettext_lazy("Favourite"),
        }
        help_texts = {
            "learn_from": gettext_lazy(
                "If you pour this way differently now, enter the day you changed: earlier pours no longer "
                "count. Leave blank to learn from all."
            ),
            "is_favourite": gettext_lazy("Offered first when you plan or log."),
        }
        widgets = {"learn_from": DayInput}
