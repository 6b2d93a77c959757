"""The form that puts a sale right: it opens with what is recorded."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.db.models import Q
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from costing.pricing.models import SalesChannel
from costing.selling.actions.corrections import SaleCorrection, recorded_figures, recorded_prices
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.forms.sales import SaleForm, SoldPieceForm
from costing.selling.models import Sale, SaleLine
from studio.pages.formsets import Rows, rows_of
from studio.preferences.models import Studio

CORRECTED = ("channel", "on", "postage", "postage_paid", "buyer")


class CorrectSaleForm(SaleForm):
    """What is said of a sale as a whole, as it should have been recorded; without fees for who sees no money.

    `seen` names what the preview showed, so that nothing else can be recorded unseen.
    """

    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=200,
        help_text=gettext_lazy("For the books: a wrong price, another sales channel, the wrong day."),
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    field_order = (*CORRECTED, "reason")

    def __init__(
        self, *args: Any, sale: Sale, lines: Sequence[SaleLine], sees_money: bool, **kwargs: Any
    ) -> None:
        recorded = recorded_figures(sale, lines)
        # Postage of nothing opens as a blank field, as it was left when the sale was recorded.
        initial = recorded | {name: recorded[name] or None for name in ("postage", "postage_paid")}
        super().__init__(*args, initial=initial, **kwargs)
        self.fields.pop("commission", None)
        del self.fields["note"]
        if not sees_money:
            del self.fields["postage_paid"]
        channel = self.fields["channel"]
        if isinstance(channel, forms.ModelChoiceField):
            channel.queryset = SalesChannel.objects.filter(Q(is_active=True) | Q(pk=sale.channel_id))

    def facts(self, rows: Rows) -> SaleCorrection:
        """What a valid form and its rows say; postage that was left blank is none."""
        data = self.cleaned_data
        given = {name: data[name] for name in CORRECTED if name in self.fields}
        given |= {name: given[name] or 0 for name in ("postage", "postage_paid") if name in given}
        return SaleCorrection(given, {row.line.pk: row.prices for row in rows.forms}, data["reason"])


class CorrectedPieceForm(SoldPieceForm):
    """The price of one piece, as it should have been recorded."""

    def __init__(self, *args: Any, lines: Mapping[str, SaleLine], **kwargs: Any) -> None:
        super().__init__(*args, pieces={number: line.piece for number, line in lines.items()}, **kwargs)
        self.lines = lines

    @property
    def line(self) -> SaleLine:
        return self.lines[str(self.cleaned_data["piece"])]

    @property
    def prices(self) -> dict[str, int]:
        return {"price": self.cleaned_data["price"], "discount": self.cleaned_data["discount"] or 0}


CorrectedPieces = rows_of(CorrectedPieceForm, at_most=MOST_TOGETHER, can_delete=False)


def corrected_pieces(data: QueryDict | None, *, studio: Studio, lines: Sequence[SaleLine]) -> Rows:
    """A row for each piece of a sale, with what was recorded to begin with."""
    prices = recorded_prices(lines)
    return CorrectedPieces(
        data,
        prefix="lines",
        initial=[
            {
                "piece": line.piece_id,
                "price": line.full_price,
                "discount": prices[line.pk]["discount"] or None,
            }
            for line in lines
        ],
        form_kwargs={
            "studio": studio,
            "lines": {str(line.piece_id): line for line in lines},
            "empty_permitted": False,
            "use_required_attribute": False,
        },
    )
