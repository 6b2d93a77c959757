"""Prices of many pieces at once, and the figures of the studio's ways to a price."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from costing.pieces.models import Piece
from costing.pricing.models import METHODS, PriceRules, SalesChannel
from costing.pricing.price_sheet import PricedPiece
from studio.pages.forms import EditForm, Fieldset, MoneyField, PercentField, RatioField, RowForm, StudioForm
from studio.pages.formsets import Rows, rows_of
from studio.preferences.models import Studio
from studio.translation import _

MOST_PIECES = 50
FOR_SALE, UNSOLD = "for_sale", "unsold"


class PriceRulesForm(RowForm):
    """The figures of the studio's ways to a price."""

    fieldsets = (
        Fieldset(gettext_lazy("Usually"), ("method", "ending")),
        Fieldset(gettext_lazy("By what it cost"), ("markup", "margin", "wage", "retail_factor")),
        Fieldset(gettext_lazy("By its size"), ("per_area", "per_side")),
        Fieldset(gettext_lazy("Failed pours"), ("failures", "failure_share")),
    )
    markup = PercentField(
        label=gettext_lazy("Markup on cost"), help_text=gettext_lazy("Added to what it cost, such as 30%.")
    )
    margin = PercentField(
        label=gettext_lazy("Target margin"),
        help_text=gettext_lazy("The share of the net proceeds that is profit: 50% is a markup of 100%."),
    )
    wage = MoneyField(
        label=gettext_lazy("Wage ({currency} an hour)"),
        help_text=gettext_lazy(
            "For the way that adds hours to materials; it may differ from the rate in your costs."
        ),
    )
    per_area = MoneyField(
        label=gettext_lazy("Price per 100 cm² ({currency})"),
        help_text=gettext_lazy("Of everything that is painted: the painted sides of a canvas count as well."),
    )
    per_side = MoneyField(
        label=gettext_lazy("Price per cm of height + width ({currency})"),
        help_text=gettext_lazy("A 30 × 40 cm piece has 70 of them."),
    )
    retail_factor = RatioField(
        label=gettext_lazy("Retail price, times trade price"),
        help_text=gettext_lazy("Trade is cost plus markup; 2 doubles it for retail."),
    )

    failure_share = PercentField(
        label=gettext_lazy("Rate that you set"),
        required=False,
        example="5%",
        help_text=gettext_lazy("Only for the allowance with a rate that you set. Leave blank otherwise."),
    )

    class Meta:
        model = PriceRules
        fields = (
            "method", "ending", "markup", "margin", "wage", "retail_factor", "per_area", "per_side",
            "failures", "failure_share",
        )  # fmt: skip
        labels = {
            "method": gettext_lazy("Way to a price"),
            "ending": gettext_lazy("Price endings"),
            "failures": gettext_lazy("Allowance for failed pours"),
        }
        help_texts = {
            "ending": gettext_lazy("Rounded up, and never below what covers the cost."),
            "failures": gettext_lazy(
                "Added to the cost that prices by cost start from. The lowest price stays as it is."
            ),
        }

    def clean_failure_share(self) -> int:
        return self.cleaned_data["failure_share"] or 0


class WhichForm(StudioForm):
    """Which pieces, on which channel, and what is suggested."""

    pieces = forms.ChoiceField(
        label=gettext_lazy("Pieces"),
        required=False,
        choices=[
            (UNSOLD, gettext_lazy("Finished, for sale or reserved")),
            (FOR_SALE, gettext_lazy("For sale")),
        ],
    )
    series = forms.ChoiceField(label=gettext_lazy("Series"), required=False)
    channel = forms.ModelChoiceField(
        SalesChannel.objects.none(), label=gettext_lazy("Sales channel"), required=False
    )
    way = forms.ChoiceField(label=gettext_lazy("Suggest"), required=False)
    change = PercentField(label=gettext_lazy("Change by"), required=False, example="5%, −10%")
    page = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput)

    def __init__(self, *args: Any, channels: Sequence[SalesChannel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        series = (
            Piece.objects.exclude(series="").order_by("series").values_list("series", flat=True).distinct()
        )
        choices: dict[str, list[tuple[str, Any]]] = {
            "series": [("", _("All")), *((name, name) for name in series)],
            "way": [("", _("Nothing")), *((method.value, label) for method, label in METHODS.items())],
        }
        for name, values in choices.items():
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = values
        channel = self.fields["channel"]
        if isinstance(channel, forms.ModelChoiceField):
            channel.queryset = SalesChannel.objects.filter(pk__in=[each.pk for each in channels])
            channel.empty_label = None


class NewPriceForm(EditForm):
    """The price of one piece."""

    piece = forms.IntegerField(widget=forms.HiddenInput)
    price = MoneyField(label=gettext_lazy("New price ({currency})"), required=False)

    def __init__(self, *args: Any, rows: Mapping[str, PricedPiece], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.row = rows.get(str(self["piece"].value()))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.row is None:
            self.add_error(None, _("This piece is no longer on the list. Reload the page."))
        return cleaned


NewPrices = rows_of(NewPriceForm, at_most=MOST_PIECES, can_delete=False)


def new_prices(
    data: QueryDict | None,
    *,
    studio: Studio,
    rows: Sequence[PricedPiece],
    prices: Mapping[int, int | None],
    seen: int,
) -> Rows:
    """A row for each piece, with a price to begin with."""
    return NewPrices(
        data,
        prefix="prices",
        initial=[
            {"piece": row.piece.pk, "price": prices.get(row.piece.pk, row.piece.price), "seen": seen}
            for row in rows
        ],
        form_kwargs={
            "studio": studio,
            "rows": {str(row.piece.pk): row for row in rows},
            "empty_permitted": False,
            "use_required_attribute": False,
        },
    )
