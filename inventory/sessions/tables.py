"""The list of techniques."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.sessions.models import Technique
from studio.pages.columns import Column
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter
from studio.values.numbers import NO_BREAK_SPACE, format_scaled


@dataclass(frozen=True, kw_only=True)
class RateColumn(Column[Technique]):
    """Paint per area, in µL/cm²."""

    css: str = "number"

    def text(self, value: Any, formatter: Formatter) -> str:
        return f"{format_scaled(value, 3, decimal_comma=formatter.decimal_comma)}{NO_BREAK_SPACE}mL/cm²"


class TechniqueTable(Table[Technique]):
    caption = gettext_lazy("Techniques")
    columns = (
        Column[Technique](key="name", label=gettext_lazy("Technique"), value=lambda row: row.name),
        RateColumn(key="coverage", label=gettext_lazy("Paint per area"), value=lambda row: row.coverage),
        Column[Technique](key="source", label=gettext_lazy("Source"), value=lambda row: row.source),
        Column[Technique](
            key="edit",
            label=gettext_lazy("Change"),
            value=lambda row: gettext_lazy("Edit"),
            link=lambda row: reverse("inventory:technique-edit", args=[row.pk]),
            hidden_words=lambda row: row.name,
        ),
    )
