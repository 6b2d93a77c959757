"""Fields of the API: amounts of the books are exact, and never floats."""

import re
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.fields import get_attribute

from studio.api.serializers import RequestSerializer
from studio.preferences.formatting import Formatter
from studio.values.money import MOST_RATE_PLACES, rate_text
from studio.values.numbers import LONGEST_TEXT, format_scaled
from studio.values.quantities import LARGEST_AMOUNT, Quantity
from studio.values.units import Measure

_DECIMAL = re.compile(r"[0-9]+(\.[0-9]+)?", re.ASCII)
MEASURES = [measure.value for measure in Measure]
LONGEST_NOTES = 5_000
LARGEST_NUMBER = 2**63 - 1  # of a row, in either database


class MillionthsField(serializers.DecimalField):
    """Whole millionths in Python; in JSON a decimal number as text, with six places when it is answered."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=16, decimal_places=6, **kwargs)

    def to_internal_value(self, data: Any) -> int:  # type: ignore[override]
        if isinstance(data, str) and not _DECIMAL.fullmatch(data):
            self.fail("invalid")
        amount = int(super().to_internal_value(data).scaleb(6))
        if not 0 <= amount <= LARGEST_AMOUNT:
            raise serializers.ValidationError(gettext_lazy("That number is too large."), code="range")
        return amount

    def to_representation(self, value: int) -> str:  # type: ignore[override]
        return format_scaled(value, 6, at_least=6)


class MoneyField(MillionthsField):
    """Money in millionths of a currency unit."""

    is_money = True


class MoneyResponseField(MoneyField):
    """Money in an answer: left out for those who may not see it, and so never promised."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)


class ExchangeRateField(serializers.DecimalField):
    """What one unit of a foreign currency costs at home: a Decimal; in JSON text or a number, to its last digit."""

    is_money = True

    def __init__(self, **kwargs: Any) -> None:
        digits = 2 * MOST_RATE_PLACES
        super().__init__(max_digits=digits, decimal_places=MOST_RATE_PLACES, **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, str) and not _DECIMAL.fullmatch(data):
            self.fail("invalid")
        return Decimal(super().to_internal_value(data))

    def quantize(self, value: Decimal) -> Decimal:
        return value

    def to_representation(self, value: Decimal) -> str:
        return rate_text(value)


class RowField(serializers.PrimaryKeyRelatedField[Any]):
    """A row of a table by its number; reading gives the row itself."""

    def __init__(self, queryset: QuerySet[Any], **kwargs: Any) -> None:
        number = serializers.IntegerField(min_value=1, max_value=LARGEST_NUMBER)
        super().__init__(queryset=queryset, pk_field=number, **kwargs)


class RowNumbersField(serializers.ManyRelatedField):
    """The numbers of rows, in an answer."""

    def __init__(self, **kwargs: Any) -> None:
        number = serializers.PrimaryKeyRelatedField[Any](read_only=True, pk_field=serializers.IntegerField())
        super().__init__(child_relation=number, read_only=True, **kwargs)


@extend_schema_field({"type": "boolean"})
class ReversedField(serializers.Field[Any, Any, bool, Any]):
    """Whether a posting was reversed."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(read_only=True, **kwargs)

    def to_representation(self, value: Any) -> bool:
        return hasattr(value, "reversed_by")


def quantity_in_full(amount: int, measure: str, formatter: Formatter) -> dict[str, Any]:
    """A quantity as it is answered."""
    return {"amount": amount, "measure": str(measure), "formatted": formatter.quantity(amount, measure)}


class QuantityResponse(serializers.Serializer[Any]):
    """So many whole thousandths of the measure's base unit (mL, g, each, cm², cm), and how the studio writes it."""

    amount = serializers.IntegerField()
    measure = serializers.ChoiceField(choices=MEASURES)
    formatted = serializers.CharField()


@extend_schema_field(QuantityResponse)
class QuantityField(serializers.Field[Any, Any, dict[str, Any] | None, Any]):
    """A quantity in an answer: the attribute that holds its thousandths, and its measure or the attribute with it."""

    def __init__(self, amount: str, measure: str | Measure, **kwargs: Any) -> None:
        super().__init__(source="*", read_only=True, **kwargs)
        self.amount = amount.split(".")
        self.measure = measure if isinstance(measure, Measure) else measure.split(".")

    def to_representation(self, value: Any) -> dict[str, Any] | None:
        amount = get_attribute(value, self.amount)
        if amount is None:
            return None
        measure = self.measure if isinstance(self.measure, Measure) else get_attribute(value, self.measure)
        return quantity_in_full(amount, measure, self.context["formatter"])


class _ExactQuantity(RequestSerializer):
    amount = serializers.IntegerField(min_value=0, max_value=LARGEST_AMOUNT)
    measure = serializers.ChoiceField(choices=MEASURES)
    formatted = serializers.CharField(required=False)


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "maxLength": LONGEST_TEXT, "example": "250 ml"},
            {
                "type": "object",
                "properties": {
                    "amount": {"type": "integer", "minimum": 0, "maximum": LARGEST_AMOUNT},
                    "measure": {"type": "string", "enum": MEASURES},
                },
                "required": ["amount", "measure"],
            },
        ],
        "description": "As a person types it, in the studio's number format; or exact, as in responses.",
    }
)
class QuantityInput(serializers.CharField):
    """A quantity as a person types it ("250 ml"), which stays text until its measure is known; or exactly."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=LONGEST_TEXT, **kwargs)

    def to_internal_value(self, data: Any) -> str | Quantity:  # type: ignore[override]
        if isinstance(data, str):
            return super().to_internal_value(data)
        if not isinstance(data, dict):
            self.fail("invalid")
        exact = _ExactQuantity(data=data)
        exact.is_valid(raise_exception=True)
        return Quantity(Measure(exact.validated_data["measure"]), exact.validated_data["amount"])

    def run_validators(self, value: str | Quantity) -> None:
        if isinstance(value, str):
            super().run_validators(value)
