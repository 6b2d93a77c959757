"""The cost sheet of a piece, line by line. All of it is money."""

from rest_framework import serializers

from costing.cost_sheets.lines import MaterialLine
from studio.api.fields import Amount, MoneyAmount, MoneyResponse
from studio.values.units import Measure


class MaterialLineResponse(MoneyResponse):
    """One material that one posting charged to one pour."""

    pour = serializers.CharField()
    why = serializers.CharField(source="label")
    material = serializers.CharField()
    quantity = Amount("quantity", "measure")
    money = MoneyAmount()
    posting = serializers.IntegerField()
    posted_on = serializers.DateField()
    lots = serializers.SerializerMethodField()
    is_correction = serializers.BooleanField()

    def get_lots(self, line: MaterialLine) -> list[str]:
        return list(line.lots)


class TimeLineResponse(MoneyResponse):
    """One piece of work and what it came to, at so much an hour."""

    work = serializers.CharField()
    on = serializers.DateField()
    pour = serializers.CharField()
    seconds = serializers.IntegerField()
    per_hour = MoneyAmount()
    money = MoneyAmount()
    is_rework = serializers.BooleanField()


class SoldForResponse(MoneyResponse):
    """What a sale brought. Net proceeds are the price less tax and fees; profit is net proceeds less cost."""

    sale = serializers.IntegerField(source="sale_id")
    channel = serializers.CharField()
    on = serializers.DateField()
    price = MoneyAmount()
    tax = MoneyAmount()
    commission = MoneyAmount()
    card_fee = MoneyAmount()
    fixed_fee = MoneyAmount()
    net_proceeds = MoneyAmount()
    profit = MoneyAmount()


class WayOutResponse(MoneyResponse):
    """How a piece left other than by a sale."""

    reason = serializers.CharField()
    on = serializers.DateField()
    posting = serializers.IntegerField()
    cost = MoneyAmount()
    market_value = MoneyAmount(allow_null=True)


class CostSheetResponse(MoneyResponse):
    """What a piece cost: every line to its lot, pour and minute, exact to a millionth. Not tax or legal advice."""

    area = Amount("area", Measure.AREA)
    lines = MaterialLineResponse(many=True)
    rework = MaterialLineResponse(many=True, help_text="What the failed pours beneath took.")
    labour = TimeLineResponse(many=True)
    overhead = TimeLineResponse(many=True)
    materials_cost = MoneyAmount(source="summary.materials")
    labour_cost = MoneyAmount(source="summary.labour")
    overhead_cost = MoneyAmount(source="summary.overhead")
    whole = MoneyAmount(source="summary.whole")
    per_cm2 = MoneyAmount(source="summary.per_cm2")
    way_out = WayOutResponse(allow_null=True)
    sale = SoldForResponse(allow_null=True)
