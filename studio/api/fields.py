"""Fields of the API: exact numbers as text or whole numbers, never floats; quantities typed as people type them."""

import re
from collections.abc import Mapping
from typing import Any

from django.db.models import Model, QuerySet
from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.fields import get_attribute

from studio.accounts.security_log import printable
from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import LONGEST_TEXT, format_scaled
from studio.values.quantities import LARGEST_AMOUNT, input_text
from studio.values.units import Measure

LARGEST_NUMBER = 2**63 - 1  # of a row, in either database
MOST_OF_NAME_SHOWN = 60
MEASURES = [measure.value for measure in Measure]
_DECIMAL = re.compile(r"(?P<whole>[0-9]{1,10})(?:\.(?P<decimals>[0-9]{1,6}))?", re.ASCII)


class ResponseSerializer(serializers.Serializer[Any]):
    """What an address answers. Money is left out, name and all, for those who may not see it."""

    is_money = False

    def to_representation(self, instance: Any) -> dict[str, Any]:
        sees_money = self.context.get("sees_money", False)
        return {
            name: _shown(field, instance)
            for name, field in self.fields.items()
            if sees_money or not is_money(field)
        }


class MoneyResponse(ResponseSerializer):
    """A whole part of an answer that is about money."""

    is_money = True


def is_money(field: Any) -> bool:
    """Whether a field, or what a list holds, is about money."""
    return bool(getattr(getattr(field, "child", field), "is_money", False))


def _shown(field: Any, instance: Any) -> Any:
    value = field.get_attribute(instance)
    return None if value is None else field.to_representation(value)


class RequestSerializer(serializers.Serializer[Any]):
    """What an address takes. A name that it does not know is refused, so that a slip cannot pass unnoticed."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            unknown = sorted(
                printable(str(name))[:MOST_OF_NAME_SHOWN] for name in data if name not in self.fields
            )
            if unknown:
                known = ", ".join(self.fields)
                said = (
                    _("Unknown value. Choose one of: {names}.", names=known)
                    if known
                    else _("Unknown value. There is nothing to choose from.")
                )
                raise serializers.ValidationError({name: [said] for name in unknown})
        return super().to_internal_value(data)

    @property
    def formatter(self) -> Formatter:
        found: Formatter = self.context["formatter"]
        return found


@extend_schema_field({"type": "integer"})
class WholeNumber(serializers.Field[int, Any, int, int]):
    """A whole number between bounds: in a body a JSON integer, in an address the digits 0 to 9."""

    default_error_messages = {
        "invalid": gettext_lazy("Enter a whole number."),
        "range": gettext_lazy("Enter a whole number from {least} to {most}."),
    }

    def __init__(self, *, least: int = 0, most: int = LARGEST_NUMBER, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.least, self.most = least, most

    def to_internal_value(self, data: Any) -> int:
        if (
            isinstance(data, str)
            and data.isascii()
            and data.isdigit()
            and len(data) <= len(str(LARGEST_NUMBER))
        ):
            data = int(data)
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        if not self.least <= data <= self.most:
            self.fail("range", least=self.least, most=self.most)
        return data

    def to_representation(self, value: int) -> int:
        return value


@extend_schema_field({"type": "string", "pattern": r"^-?[0-9]{1,10}\.[0-9]{6}$", "example": "12.500000"})
class DecimalText(serializers.Field[int, Any, str, int]):
    """Millionths as decimal text with six places; up to six are read, and a JSON number is refused."""

    default_error_messages = {
        "invalid": gettext_lazy(
            'Enter a decimal number as text, such as "12.50", with a point and at most six decimals.'
        ),
        "range": gettext_lazy("That number is too large."),
    }

    def to_internal_value(self, data: Any) -> int:
        match = _DECIMAL.fullmatch(data) if isinstance(data, str) else None
        if match is None:
            self.fail("invalid")
        amount = int(match["whole"]) * 10**6 + int((match["decimals"] or "0").ljust(6, "0"))
        if amount > LARGEST_AMOUNT:
            self.fail("range")
        return amount

    def to_representation(self, value: int) -> str:
        return format_scaled(value, 6, at_least=6)


class Money(DecimalText):
    """Money in millionths of a currency unit, as decimal text."""

    is_money = True


class MoneyAmount(Money):
    """Money in an answer: left out for those who may not see it, and so never promised."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)


@extend_schema_field({"type": "integer", "minimum": 1})
class RowNumber(serializers.Field[Model, Any, int, Model]):
    """A row of a table by its number; reading gives the row itself."""

    default_error_messages = {
        "invalid": gettext_lazy("Enter its number, a whole number."),
        # Translators: {noun} names one row of a table, such as a lot.
        "missing": gettext_lazy("There is no {noun} {number}."),
    }

    def __init__(self, rows: QuerySet[Any], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.rows = rows

    def to_internal_value(self, data: Any) -> Model:
        number = WholeNumber(least=1).run_validation(data)
        found: Model | None = self.rows.all().filter(pk=number).first()
        if found is None:
            self.fail("missing", noun=self.rows.model._meta.verbose_name, number=number)
        return found

    def to_representation(self, value: Model) -> int:
        return int(value.pk)


class QuantityResponse(serializers.Serializer[Any]):
    """So many whole thousandths of the measure's base unit (mL, g, each, cm², cm), and how the studio writes it."""

    amount = serializers.IntegerField()
    measure = serializers.ChoiceField(choices=MEASURES)
    formatter = serializers.CharField()


@extend_schema_field(QuantityResponse)
class Amount(serializers.Field[Any, Any, dict[str, Any] | None, Any]):
    """A quantity read off an object: where its amount stands, and its measure or where that stands."""

    def __init__(self, amount: str, measure: str | Measure, **kwargs: Any) -> None:
        super().__init__(source="*", read_only=True, **kwargs)
        self.amount = amount.split(".")
        self.measure = measure if isinstance(measure, Measure) else measure.split(".")

    def to_representation(self, value: Any) -> dict[str, Any] | None:
        amount = get_attribute(value, self.amount)
        if amount is None:
            return None
        measure = self.measure if isinstance(self.measure, Measure) else get_attribute(value, self.measure)
        formatter: Formatter = self.context["formatter"]
        return {"amount": amount, "measure": str(measure), "formatter": formatter.quantity(amount, measure)}


_TYPED = {
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


@extend_schema_field(_TYPED)
class QuantityText(serializers.Field[str, Any, str, str]):
    """A quantity as a person types it ("250 ml", "8 fl oz"), or exactly as thousandths and measure; gives the text."""

    default_error_messages = {
        "invalid": gettext_lazy(
            'Enter a quantity as text, such as "250 ml", or as {{"amount": 250000, "measure": "volume"}}.'
        )
    }

    def to_internal_value(self, data: Any) -> str:
        if isinstance(data, str) and data.strip() and len(data) <= LONGEST_TEXT:
            return data
        if isinstance(data, dict) and {"amount", "measure"} <= data.keys() <= {
            "amount",
            "measure",
            "formatter",
        }:
            amount, measure = data["amount"], data["measure"]
            if type(amount) is int and 0 <= amount <= LARGEST_AMOUNT and measure in list(Measure):
                formatter: Formatter = self.context["formatter"]
                return input_text(amount, Measure(measure), decimal_comma=formatter.decimal_comma)
        return self.fail("invalid")

    def to_representation(self, value: str) -> str:
        return value


class QuantityRequest(RequestSerializer):
    """For what takes quantities: reads a field once its measure is known; a problem lands on the field."""

    def amount_of(self, field: str, text: str, material: Any, *, allow_zero: bool = False) -> int:
        """Thousandths of a material's base unit, by its density where it was said the other way."""
        return self.amount_in(field, text, material.measure, density=material.density, allow_zero=allow_zero)

    def amount_in(
        self, field: str, text: str, measure: str, *, density: int | None = None, allow_zero: bool = False
    ) -> int:
        """Thousandths of a measure's base unit."""
        try:
            reading = self.formatter.read(text, measure, density=density, allow_zero=allow_zero)
        except InputError as problem:
            raise serializers.ValidationError({field: [str(problem)]}) from None
        return reading.quantity.amount
