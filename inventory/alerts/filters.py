"""Filters of the list of alerts."""

from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.alerts.kinds import choices
from inventory.alerts.models import Alert, AlertState, in_state
from inventory.materials.models import Material
from studio.pages.filters import ListFilterSet


class AlertStateFilter(django_filters.ChoiceFilter):
    """Alerts in one state today; the open ones where nothing was asked for."""

    default = AlertState.OPEN.value

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=AlertState.choices, empty_label=None, **kwargs)

    def filter(self, qs: QuerySet[Alert], value: str | None) -> QuerySet[Alert]:
        return qs.filter(in_state(value or self.default, timezone.localdate()))


class AlertFilter(ListFilterSet):
    """Alerts; the open ones unless asked otherwise."""

    state = AlertStateFilter(label=gettext_lazy("State"))
    kind = django_filters.ChoiceFilter(label=gettext_lazy("Kind"), choices=choices)
    material = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Material"), queryset=Material.objects.all(), widget=forms.HiddenInput
    )

    class Meta:
        model = Alert
        fields: list[str] = []
