"""A line of an order or a delivery: a material and its pack size, or the barcode that says both."""

from typing import Any

from rest_framework import serializers

from inventory.materials.models import Material
from inventory.materials.packs import LONGEST_CODE
from inventory.materials.queries import pack_with_barcode
from studio.api.fields import QuantityInput, RowField
from studio.api.serializers import RequestSerializer
from studio.errors import InputError
from studio.translation import _


class PackedLineRequest(RequestSerializer):
    """So many packs of one material: `material` and `pack`, or the `barcode` of a pack in a supplier's list."""

    material = RowField(Material.objects.all(), required=False)
    pack = QuantityInput(required=False, help_text="Pack size.")
    barcode = serializers.CharField(
        required=False,
        max_length=LONGEST_CODE,
        help_text="A GTIN of 8, 12, 13 or 14 digits, in place of `material` and `pack`.",
    )
    packs = serializers.IntegerField(min_value=1, max_value=100_000, default=1)

    def take_pack(self, attrs: dict[str, Any]) -> tuple[Material, int, str]:
        """Take the material, the pack size and that size as typed out of what was sent. Raises InputError."""
        code, material, pack = attrs.pop("barcode", ""), attrs.pop("material", None), attrs.pop("pack", None)
        if code:
            supply = pack_with_barcode(code)
            if supply is None:
                advice = _(
                    "No pack has this barcode. Add it to a pack, or send the material and the pack size."
                )
                raise InputError(advice, field="barcode")
            if material is not None and material != supply.material:
                advice = _("This is the barcode of {material}.", material=supply.material)
                raise InputError(advice, field="barcode")
            material = supply.material
            if pack is None:
                return material, supply.pack_size, self.formatter.quantity(supply.pack_size, material.measure)
        if material is None or pack is None:
            field = "material" if material is None else "pack"
            raise InputError(_("Send the material and its pack size, or a barcode."), field=field)
        amount = self.amount_of("pack", pack, material)
        return (
            material,
            amount,
            pack if isinstance(pack, str) else self.formatter.quantity(amount, material.measure),
        )
