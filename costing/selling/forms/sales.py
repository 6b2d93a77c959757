"""Selling one piece; what comes back, and what is refunded."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy

from costing.commissions.forms import CommissionChoice
from costing.contacts.forms import ContactChoice
from costing.errors import PieceError
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import PieceSold, RefundFacts, ReturnFacts, SaleFacts
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.forms.disposals import DatedForm
from costing.selling.forms.new_channel import NewChannelFields
from costing.selling.models import Condition
from inventory.ledger.models import Reason
from studio.errors import InputError
from studio.pages.forms import AskingForm, KeyedForm, MoneyField, StudioForm
from studio.pages.formsets import Rows, rows_of
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.money import minor_unit


class SaleForm(NewChannelFields, DatedForm, AskingForm):
    """A sale of one piece or several: where, and what is said of the whole."""

    channel = forms.ModelChoiceField(
        label=gettext_lazy("Where it was sold"),
        queryset=SalesChannel.objects.filter(is_active=True),
        empty_label=gettext_lazy("Choose…"),
    )
    postage = MoneyField(
        label=gettext_lazy("Postage charged ({currency})"),
        required=False,
        help_text=gettext_lazy("What the buyer paid for sending it, tax included."),
    )
    postage_paid = MoneyField(
        label=gettext_lazy("Postage paid ({currency})"),
        required=False,
        help_text=gettext_lazy("What sending it cost you."),
    )
    buyer = ContactChoice(
        label=gettext_lazy("Buyer"),
        empty_label=gettext_lazy("Not recorded"),
        help_text=gettext_lazy("Only if you have reason to keep it, such as a parcel or a commission."),
    )

    commission = CommissionChoice()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["commission"]
        if isinstance(choice, CommissionChoice):
            choice.name_with_payments(self.studio)
            if not choice.held:
                del self.fields["commission"]

    @property
    def paid_before(self) -> str:
        """What was paid for each commission that can be chosen, in minor units, as JSON."""
        choice = self.fields.get("commission")
        held = choice.held if isinstance(choice, CommissionChoice) else {}
        coin = minor_unit(self.studio.currency)
        return json.dumps({pk: amount // coin for pk, amount in held.items()})

    def sale_facts(self, **facts: Any) -> SaleFacts:
        """What a valid form says of the sale as a whole."""
        data = self.cleaned_data
        return SaleFacts(
            postage=data["postage"] or 0,
            postage_paid=data["postage_paid"] or 0,
            buyer=data["buyer"],
            note=data["note"],
            commission=data.get("commission"),
            **facts,
        )


class SellForm(SaleForm):
    """A sale of one piece. The price is what the buyer paid, tax included."""

    price = MoneyField(label=gettext_lazy("Price paid ({currency}), tax included"), example=45_000_000)
    field_order = ("channel", "price", "on", "postage", "postage_paid", "buyer", "commission", "note")

    def lines(self, piece: Any) -> list[PieceSold]:
        return [PieceSold(piece, self.cleaned_data["price"])]


class DiscountField(MoneyField):
    """Money off a price. A percentage is refused with the reason: it would not say what it is taken from."""

    def read(self, text: str) -> int:
        if "%" in text:
            raise InputError(_("Enter the discount as an amount of money, not as a percentage."))
        return super().read(text)


class SeveralForm(SaleForm):
    """A sale of several pieces, whose rows say which. Cash received is for the change alone; it is not kept."""

    discount = DiscountField(
        label=gettext_lazy("Discount on the whole ({currency})"),
        required=False,
        help_text=gettext_lazy("Shared out over the pieces by price."),
    )
    cash = MoneyField(
        label=gettext_lazy("Cash received ({currency})"),
        required=False,
        help_text=gettext_lazy("To work out the change. It is not recorded."),
    )
    field_order = (
        "channel",
        "discount",
        "cash",
        "on",
        "postage",
        "postage_paid",
        "buyer",
        "commission",
        "note",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cleaned.pop("cash", None)
        return cleaned


class SoldPieceForm(StudioForm):
    """One piece of several that are sold together."""

    piece = forms.IntegerField(widget=forms.HiddenInput)
    price = MoneyField(label=gettext_lazy("Price ({currency})"))
    discount = DiscountField(label=gettext_lazy("Discount ({currency})"), required=False)

    def __init__(self, *args: Any, pieces: Mapping[str, Piece], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.row = pieces.get(str(self["piece"].value()))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.row is None:
            self.add_error(None, _("Choose the pieces again."))
        return cleaned

    @property
    def sold(self) -> PieceSold:
        """What a valid row says."""
        if self.row is None:
            raise PieceError(_("Choose the pieces again."))
        return PieceSold(self.row, self.cleaned_data["price"], self.cleaned_data["discount"] or 0)


SoldPieces = rows_of(SoldPieceForm, at_most=MOST_TOGETHER, can_delete=False)


def sold_pieces(data: QueryDict | None, *, studio: Studio, pieces: Sequence[Piece]) -> Rows:
    """A row for each chosen piece, with its asking price to begin with."""
    return SoldPieces(
        data,
        prefix="lines",
        initial=[{"piece": piece.pk, "price": piece.price} for piece in pieces],
        form_kwargs={
            "studio": studio,
            "pieces": {str(piece.pk): piece for piece in pieces},
            "empty_permitted": False,
            "use_required_attribute": False,
        },
    )


class RefundForm(DatedForm):
    """A part of what was paid for a piece is given back; the buyer keeps it."""

    amount = MoneyField(label=gettext_lazy("Refunded to the buyer ({currency})"))
    fees = MoneyField(
        label=gettext_lazy("Fees given back ({currency})"),
        required=False,
        help_text=gettext_lazy("What the sales channel gives back of its commission and fees."),
    )
    field_order: tuple[str, ...] = ("amount", "fees", "on", "note")
    facts_class: type[RefundFacts] = RefundFacts

    def __init__(self, *args: Any, sees_money: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not sees_money:
            del self.fields["fees"]

    @property
    def facts(self) -> RefundFacts:
        """What a valid form asks for."""
        given = {name: value for name, value in self.cleaned_data.items() if name not in ("on", "key")}
        return self.facts_class(**given)


class ReturnForm(RefundForm):
    """A sold piece comes back."""

    condition = forms.ChoiceField(label=gettext_lazy("Condition of the piece"), choices=Condition.choices)
    reason = forms.ModelChoiceField(
        label=gettext_lazy("What happened, if you write it off"),
        queryset=Reason.objects.filter(kind=Reason.Kind.LOSS),
        required=False,
        empty_label=gettext_lazy("Choose…"),
    )
    note = forms.CharField(label=gettext_lazy("Reason for the return"), max_length=200, required=False)
    field_order = ("condition", "reason", "amount", "fees", "on", "note")
    facts_class = ReturnFacts


class UndoReturnForm(KeyedForm):
    """A return was recorded by mistake."""

    note = forms.CharField(label=gettext_lazy("What happened"), max_length=200, required=False)
