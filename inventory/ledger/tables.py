"""The list of reasons."""

from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Reason, ReasonKind
from studio.pages.columns import Column
from studio.pages.tables import Table


class ReasonTable(Table[Reason]):
    caption = gettext_lazy("Reasons")
    columns = (
        Column[Reason](key="name", label=gettext_lazy("Reason"), value=lambda row: row.name),
        Column[Reason](key="kind", label=gettext_lazy("Kind"), value=lambda row: ReasonKind(row.kind).label),
        Column[Reason](
            key="edit",
            label=gettext_lazy("Change"),
            value=lambda row: gettext_lazy("Rename"),
            link=lambda row: reverse("inventory:reason-edit", args=[row.pk]),
            hidden_words=lambda row: row.name,
        ),
    )
