"""The list of sales channels."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.pricing.models import SalesChannel
from studio.pages.columns import Column, MoneyColumn
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter

ACTIVE, DEACTIVATED = ("good", gettext_lazy("Active")), ("stop", gettext_lazy("Deactivated"))


@dataclass(frozen=True, kw_only=True)
class RateColumn(Column[SalesChannel]):
    """Shares in millionths: "35 %"."""

    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.percent(value)


class ChannelTable(Table[SalesChannel]):
    caption = gettext_lazy("Sales channels")
    columns = (
        Column[SalesChannel](
            key="name",
            label=gettext_lazy("Name"),
            value=lambda row: row.name,
            link=lambda row: reverse("costing:channel-edit", args=[row.pk]),
        ),
        RateColumn(key="commission", label=gettext_lazy("Commission"), value=lambda row: row.commission),
        RateColumn(key="card_rate", label=gettext_lazy("Card rate"), value=lambda row: row.card_rate),
        MoneyColumn[SalesChannel](
            key="fixed_fee", label=gettext_lazy("Fixed fee"), value=lambda row: row.fixed_fee
        ),
        Column[SalesChannel](
            key="status",
            label=gettext_lazy("Status"),
            value=lambda row: None,
            badge=lambda row: ACTIVE if row.is_active else DEACTIVATED,
        ),
    )
