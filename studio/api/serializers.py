"""Bases of every request and response: names that are not known are refused, money is shown by role."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from rest_framework import serializers
from rest_framework.fields import empty
from rest_framework.settings import api_settings

from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.quantities import Quantity, in_measure
from studio.values.units import Measure

LONGEST_NAME_REPEATED = 60
ListOf = serializers.ListSerializer[Any]


def refuse_unknown(given: Iterable[Any], known: Iterable[str]) -> None:
    """Raise ValidationError for names that are not known, so that a slip cannot pass unnoticed."""
    known = list(known)
    unknown = sorted(str(name)[:LONGEST_NAME_REPEATED] for name in given if name not in known)
    if unknown:
        message = _("Unknown name. Choose one of: {names}.", names=", ".join(known) or "–")
        raise serializers.ValidationError({name: [message] for name in unknown})


def errors_of(refusal: InputError) -> dict[str, Any]:
    """A refusal by field, nested as a serializer's own errors are: a list of rows holds one dict a row."""
    errors: dict[str, Any] = {}
    for item in refusal.problems:
        place = errors
        if item.line is not None:
            rows = errors.setdefault(item.rows, [])
            rows.extend({} for _row in range(item.line - len(rows)))
            place = rows[item.line - 1]
        place.setdefault(item.field or api_settings.NON_FIELD_ERRORS_KEY, []).append(str(item))
    return errors


class RequestSerializer(serializers.Serializer[Any]):
    """What an endpoint takes. What facts refuse while they are made in `validate` becomes an error of its field."""

    def run_validation(self, data: Any = empty) -> Any:
        try:
            return super().run_validation(data)
        except InputError as refusal:
            raise serializers.ValidationError(errors_of(refusal)) from None

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            refuse_unknown(data, self.fields)
            _refuse_foreign_digits(data, self.fields)
            _refuse_other_types(data, self.fields)
        return super().to_internal_value(data)

    @property
    def confirmations(self) -> frozenset[str]:
        """The questions that were answered with yes; most requests are asked none."""
        return frozenset()

    @property
    def formatter(self) -> Formatter:
        formatter: Formatter = self.context["formatter"]
        return formatter

    def amount_of(
        self, field: str, quantity: str | Quantity, material: Any, *, allow_zero: bool = False
    ) -> int:
        """Thousandths of a material's base unit, by its density where it came as the other of mass and volume."""
        return self.amount_in(
            field, quantity, material.measure, density=material.density, allow_zero=allow_zero
        )

    def is_mass(self, quantity: str | Quantity) -> bool:
        """Whether an amount came as a mass; one that cannot be read did not."""
        if isinstance(quantity, Quantity):
            return quantity.measure is Measure.MASS
        try:
            return self.formatter.read(quantity, allow_zero=True).unit.measure is Measure.MASS
        except InputError:
            return False

    def amount_in(
        self,
        field: str,
        quantity: str | Quantity,
        measure: str,
        *,
        density: int | None = None,
        allow_zero: bool = False,
    ) -> int:
        """Thousandths of a measure's base unit. Raises InputError naming the field for what cannot be read."""
        try:
            if isinstance(quantity, str):
                reading = self.formatter.read(quantity, measure, density=density, allow_zero=allow_zero)
                return reading.quantity.amount
            amount = in_measure(quantity, Measure(measure), density=density).amount
        except InputError as problem:
            raise InputError(str(problem), field=field) from None
        if not amount and not allow_zero:
            raise InputError(_("The amount must be above zero."), field=field)
        return amount


class AskingRequest(RequestSerializer):
    """A request about which something may be asked before it is carried out: see NeedsConfirmation."""

    confirmed = serializers.ListField(
        child=serializers.CharField(max_length=40),
        default=list,
        max_length=500,
        help_text="Tokens of the questions of an earlier answer “needs-confirmation” that are hereby confirmed.",
    )

    def to_internal_value(self, data: Any) -> Any:
        values = super().to_internal_value(data)
        self._confirmations = frozenset(values.pop("confirmed"))
        return values

    @property
    def confirmations(self) -> frozenset[str]:
        return self._confirmations


def _refuse_foreign_digits(data: Mapping[str, Any], fields: Mapping[str, Any]) -> None:
    """The framework would read the digits of any script; ours are read by one rule everywhere."""
    for name, value in data.items():
        is_number = isinstance(fields.get(name), serializers.IntegerField)
        if is_number and isinstance(value, str) and not value.isascii():
            raise serializers.ValidationError({name: [_("Use the digits 0 to 9.")]})


def _refuse_other_types(data: Mapping[str, Any], fields: Mapping[str, Any]) -> None:
    """The framework would take a number for a text, and a text for a switch; a slip should not pass unnoticed."""
    for name, value in data.items():
        field = fields.get(name)
        if type(field) is serializers.CharField and isinstance(value, int | Decimal):
            raise serializers.ValidationError({name: [field.error_messages["invalid"]]})
        if isinstance(field, serializers.BooleanField) and value is not None and not isinstance(value, bool):
            raise serializers.ValidationError({name: [_("Send true or false.")]})


class ResponseSerializer(serializers.Serializer[Any]):
    """What an endpoint answers: all of it, or the names that were asked for.

    Money is left out, name and all, for those who may not see it.
    """

    only: frozenset[str] | None = None  # the names of a sparse answer

    @property
    def _readable_fields(self) -> list[Any]:
        fields = list(super()._readable_fields)
        if self.only is not None:
            fields = [field for field in fields if field.field_name in self.only]
        if self.context.get("sees_money", False):
            return fields
        return [field for field in fields if not getattr(field, "is_money", False)]


class NamedResponse(ResponseSerializer):
    """A row that other rows point to."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
