"""The cost sheet of a piece for programs, line by line. All of it is money."""

from rest_framework import serializers

from costing.cost_sheets.lines import CostSheet
from costing.pieces.models import Piece
from costing.selling.queries import cost_sheet_with_sale
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyResponseField, QuantityField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import DetailViewSet
from studio.values.units import Measure


class MaterialLineResponse(ResponseSerializer):
    """One material that one posting charged to one pour."""

    pour = serializers.CharField()
    why = serializers.CharField(source="label")
    material = serializers.CharField()
    quantity = QuantityField("quantity", "measure")
    money = MoneyResponseField()
    posting = serializers.IntegerField()
    posted_on = serializers.DateField()
    lots = serializers.ListField(child=serializers.CharField(), help_text="Their labels.")
    is_correction = serializers.BooleanField()


class TimeLineResponse(ResponseSerializer):
    """One piece of work and what it came to, at so much an hour."""

    work = serializers.CharField()
    on = serializers.DateField()
    pour = serializers.CharField()
    seconds = serializers.IntegerField()
    per_hour = MoneyResponseField()
    money = MoneyResponseField()
    is_rework = serializers.BooleanField()


class SoldForResponse(ResponseSerializer):
    """What a sale brought: net proceeds are the price less tax and fees, profit is net proceeds less cost."""

    sale = serializers.IntegerField(source="sale_id")
    channel = serializers.CharField()
    on = serializers.DateField()
    price = MoneyResponseField()
    tax = MoneyResponseField()
    commission = MoneyResponseField()
    card_fee = MoneyResponseField()
    fixed_fee = MoneyResponseField()
    net_proceeds = MoneyResponseField()
    profit = MoneyResponseField()


class WayOutResponse(ResponseSerializer):
    """How a piece left other than by a sale."""

    reason = serializers.CharField()
    on = serializers.DateField()
    posting = serializers.IntegerField()
    cost = MoneyResponseField()
    market_value = MoneyResponseField(allow_null=True)


class CostSheetResponse(ResponseSerializer):
    """What a piece cost: every line to its lot, pour and minute, exact to a millionth. Not tax or legal advice."""

    area = QuantityField("area", Measure.AREA)
    lines = MaterialLineResponse(many=True)
    rework = MaterialLineResponse(many=True, help_text="What the failed pours beneath took.")
    labour = TimeLineResponse(many=True)
    overhead = TimeLineResponse(many=True)
    materials_cost = MoneyResponseField(source="summary.materials")
    labour_cost = MoneyResponseField(source="summary.labour")
    overhead_cost = MoneyResponseField(source="summary.overhead")
    whole = MoneyResponseField(source="summary.whole")
    per_cm2 = MoneyResponseField(source="summary.per_cm2")
    way_out = WayOutResponse(allow_null=True)
    sale = SoldForResponse(allow_null=True)


class CostSheetViewSet(DetailViewSet):
    """The cost sheet of a piece, by the piece's number."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.all()
    serializer_class = CostSheetResponse

    def details_of(self, row: Piece) -> CostSheet:
        return cost_sheet_with_sale(row)


VIEWSETS = {"cost-sheets": CostSheetViewSet}
