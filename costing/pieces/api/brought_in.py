"""What programs say of finished pieces from before the books. The endpoint stands among those of pieces."""

from typing import Any

from rest_framework import serializers

from costing.brought_in.actions import MOST_PIECES, BroughtInPiece
from costing.locations.models import Location
from costing.pieces.api.descriptions import DescriptionRequest
from inventory.materials.models import Kind, Material
from inventory.sessions.models import Technique
from studio.api.fields import MoneyField, RowField
from studio.api.serializers import ListOf, RequestSerializer


class BroughtInPieceRequest(DescriptionRequest):
    """A finished piece at a stated cost: that of its materials, and of labour and overhead where they count."""

    surface = RowField(Material.objects.filter(kind=Kind.SURFACE))
    technique = RowField(Technique.objects.all())
    cost = MoneyField(help_text="Of its materials: surface, paint and varnish.")
    labour = MoneyField(default=0)
    overhead = MoneyField(default=0)
    price = MoneyField(required=False, allow_null=True, default=None, help_text="Asking price, tax included.")
    is_for_sale = serializers.BooleanField(default=False)
    location = RowField(
        Location.objects.all(),
        required=False,
        allow_null=True,
        default=None,
        help_text="Null is the studio. A gallery gets its pieces with a consignment note.",
    )

    def validate(self, attrs: dict[str, Any]) -> BroughtInPiece:
        return BroughtInPiece(**attrs)


class BroughtInRequest(RequestSerializer):
    """Finished pieces that stood there on a day before the books had any: opening stock of that day."""

    on = serializers.DateField()
    pieces = ListOf(child=BroughtInPieceRequest(), allow_empty=False, max_length=MOST_PIECES)
