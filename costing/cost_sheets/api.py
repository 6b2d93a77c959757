"""The cost sheet of a piece, line by line. All of it is money."""

from rest_framework import serializers

from costing.cost_sheets.lines import MaterialLine
from studio.api.fields import Amount, MoneyShape, MoneyShown
from studio.values.units import Measure


class MaterialLineShape(MoneyShape):
    """One material that one posting charged to one pour."""

    pour = serializers.CharField()
    why = serializers.CharField(source="label")
    material = serializers.CharField()
    quantity = Amount("quantity", "measure")
    money = MoneyShown()
    posting = serializers.IntegerField()
    posted_on = serializers.DateField()
    lots = serializers.SerializerMethodField()
    is_correction = serializers.BooleanField()

    def get_lots(self, line: MaterialLine) -> list[str]:
        return list(line.lots)


class TimeLineShape(MoneyShape):
    """One piece of work and what it came to, at so much an hour."""

    work = serializers.CharField()
    on = serializers.DateField()
    pour = serializers.CharField()
    seconds = serializers.IntegerField()
    per_hour = MoneyShown()
    money = MoneyShown()
    is_rework = serializers.BooleanField()


class SoldForShape(MoneyShape):
    """What a sale brought. Takings are the price less tax and fees, profit is takings less cost."""

    sale = serializers.IntegerField(source="sale_id")
    route = serializers.CharField()
    on = serializers.DateField()
    price = MoneyShown()
    tax = MoneyShown()
    commission = MoneyShown()
    card_fee = MoneyShown()
    fixed_fee = MoneyShown()
    takings = MoneyShown()
    profit = MoneyShown()


class WayOutShape(MoneyShape):
    """How a piece left other than by a sale."""

    cause = serializers.CharField()
    on = serializers.DateField()
    posting = serializers.IntegerField()
    cost = MoneyShown()
    market_value = MoneyShown(allow_null=True)


class CostSheetShape(MoneyShape):
    """What a piece cost: every line to its lot, pour and minute, exact to a millionth. Not tax or legal advice."""

    area = Amount("area", Measure.AREA)
    lines = MaterialLineShape(many=True)
    rework = MaterialLineShape(many=True, help_text="What the failed pours beneath took.")
    labour = TimeLineShape(many=True)
    overhead = TimeLineShape(many=True)
    materials_cost = MoneyShown(source="summary.materials")
    labour_cost = MoneyShown(source="summary.labour")
    overhead_cost = MoneyShown(source="summary.overhead")
    whole = MoneyShown(source="summary.whole")
    per_cm2 = MoneyShown(source="summary.per_cm2")
    way_out = WayOutShape(allow_null=True)
    sale = SoldForShape(allow_null=True)
