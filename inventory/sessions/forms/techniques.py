"""A technique, as it is typed."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.sessions.actions.techniques import TechniqueFacts
from inventory.sessions.models import Technique
from studio.pages.forms import EditForm, RatioField

TECHNIQUE = ("name", "coverage", "source")


class TechniqueForm(EditForm):
    """Its name, its paint per area, and where that figure comes from."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=60)
    coverage = RatioField(
        label=gettext_lazy("Paint per area"),
        unit="mL/cm²",
        places=3,
        help_text=gettext_lazy("Paint poured per surface area, run-off included: 0.22 mL/cm²."),
    )
    source = forms.CharField(
        label=gettext_lazy("Source"),
        max_length=120,
        help_text=gettext_lazy("Where the figure comes from, such as a rule of thumb or a pour you weighed."),
    )

    def __init__(self, *args: Any, technique: Technique | None = None, seen: int = 0, **kwargs: Any) -> None:
        known = {name: getattr(technique, name) for name in TECHNIQUE} if technique else {}
        kwargs.setdefault("initial", {"seen": seen} | known)
        super().__init__(*args, **kwargs)

    def facts(self) -> TechniqueFacts:
        """Raises InputError."""
        return TechniqueFacts(**{name: self.cleaned_data[name] for name in TECHNIQUE})
