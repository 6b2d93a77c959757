"""The cost sheet of a piece for programs, line by line. All of it is money."""

from typing import Any

from rest_framework import serializers

from costing.cost_sheets.queries import cost_sheet, layers_of
from costing.pieces.models import Piece
from costing.selling.queries import standing_sale
from inventory.sessions.api.pours import CostCorrectionResponse
from inventory.sessions.queries.pour_history import cost_corrections_of
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyResponseField, QuantityField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import DetailViewSet
from studio.values.units import Measure


class MaterialLineResponse(ResponseSerializer):
    """One material that one posting charged to one pour."""

    pour = serializers.CharField(source="pour.label")
    why = serializers.CharField(source="label")
    material = serializers.CharField(source="material.name")
    quantity = QuantityField("quantity", "material.measure")
    money = MoneyResponseField()
    posting = serializers.IntegerField(source="posting.pk")
    posted_on = serializers.DateField(source="posting.effective_on")
    lots = serializers.ListField(child=serializers.CharField(), help_text="Their labels.")
    is_correction = serializers.BooleanField()


class TimeLineResponse(ResponseSerializer):
    """One piece of work and what it came to, at so much an hour."""

    work = serializers.CharField()
    on = serializers.DateField()
    pour = serializers.CharField()
    seconds = serializers.IntegerField()
    per_hour = MoneyResponseField(
        source="rate.value", allow_null=True, default=None, help_text="The rate that held on that day."
    )
    since = serializers.DateField(
        source="rate.since",
        allow_null=True,
        default=None,
        help_text="Since when that rate holds; null from the beginning.",
    )
    money = MoneyResponseField()
    is_rework = serializers.BooleanField()
    is_stated = serializers.BooleanField(
        help_text="Brought in with a finished piece as an amount, without time or rate."
    )


class SoldForResponse(ResponseSerializer):
    """What a sale brought: net proceeds are price and postage less tax, fees and refunds, profit those less cost."""

    sale = serializers.IntegerField(source="line.sale_id")
    channel = serializers.CharField(source="sale.channel.name")
    on = serializers.DateField(source="sale.sold_on")
    price = MoneyResponseField(source="line.price")
    tax = MoneyResponseField(help_text="Less that in refunds.")
    commission = MoneyResponseField(source="line.commission")
    card_fee = MoneyResponseField(source="line.card_fee")
    fixed_fee = MoneyResponseField(source="line.fixed_fee")
    fees_given_back = MoneyResponseField(source="refunded.fees")
    postage = MoneyResponseField(help_text="Charged less paid.")
    refunded = MoneyResponseField(source="refunded.amount")
    net_proceeds = MoneyResponseField()
    profit = MoneyResponseField()


class DisposalResponse(ResponseSerializer):
    """How a piece left other than by a sale."""

    reason = serializers.CharField()
    on = serializers.DateField()
    posting = serializers.IntegerField()
    cost = MoneyResponseField()
    market_value = MoneyResponseField(allow_null=True)


class CostSheetResponse(ResponseSerializer):
    """What a piece cost: every line to its lot, pour and minute, exact to a millionth. Not tax or legal advice."""

    area = QuantityField("sheet.area", Measure.AREA)
    lines = MaterialLineResponse(source="sheet.lines", many=True)
    rework = MaterialLineResponse(
        source="sheet.rework", many=True, help_text="What the failed pours beneath took."
    )
    labour = TimeLineResponse(source="sheet.labour", many=True)
    overhead = TimeLineResponse(source="sheet.overhead", many=True)
    materials_cost = MoneyResponseField(source="sheet.summary.materials")
    labour_cost = MoneyResponseField(source="sheet.summary.labour")
    overhead_cost = MoneyResponseField(source="sheet.summary.overhead")
    whole = MoneyResponseField(source="sheet.summary.whole")
    per_cm2 = MoneyResponseField(source="sheet.summary.per_cm2")
    corrections = CostCorrectionResponse(many=True, help_text="What was corrected since, oldest first.")
    disposal = DisposalResponse(source="sheet.disposal", allow_null=True)
    sale = SoldForResponse(allow_null=True)


class CostSheetViewSet(DetailViewSet):
    """The cost sheet of a piece, by the piece's number."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.all()
    serializer_class = CostSheetResponse

    def details_of(self, row: Piece) -> dict[str, Any]:
        sheet = cost_sheet(row)
        return {
            "sheet": sheet,
            "corrections": cost_corrections_of(layers_of([row])[row.pk].all),
            "sale": standing_sale(row, sheet.summary.whole),
        }


VIEWSETS = {"cost-sheets": CostSheetViewSet}
