"""Several pieces at once, for programs."""

from typing import Any

from rest_framework import serializers

from costing.pieces.actions.pieces import WorkFacts
from costing.pieces.actions.together import UP_TO, PieceAmong, TogetherFacts
from costing.pieces.calculations import State
from costing.pieces.forms.pieces import MOST_MINUTES, MOST_ROWS
from costing.pieces.forms.together import MOST_PIECES
from costing.pieces.models import HIGHEST_NUMBER, Piece
from inventory.recipes.api.mixes import IngredientRequest
from inventory.sessions.models import Pour, SessionPhoto
from studio.api.fields import MoneyField, RowField
from studio.api.serializers import ListOf, RequestSerializer
from studio.translation import _


class PieceAmongRequest(RequestSerializer):
    """One of several: a pour that becomes a piece, or a piece. What is left out stays as it is."""

    pour = RowField(Pour.objects.all(), required=False)
    piece = RowField(Piece.objects.all(), required=False)
    title = serializers.CharField(required=False, max_length=160, allow_blank=True, default="")
    series_number = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=HIGHEST_NUMBER
    )
    price = MoneyField(required=False, allow_null=True, default=None)
    photo = RowField(
        SessionPhoto.objects.all(), required=False, help_text="Of the session: it becomes the piece's own."
    )

    def validate(self, attrs: dict[str, Any]) -> PieceAmong:
        if ("pour" in attrs) == ("piece" in attrs):
            raise serializers.ValidationError(_("Give either a pour or a piece."))
        return PieceAmong(**attrs)


class WorkOnAllRequest(RequestSerializer):
    """Materials and minutes for all the pieces together."""

    materials = ListOf(child=IngredientRequest(), required=False, default=list, max_length=MOST_ROWS)
    minutes = serializers.IntegerField(required=False, default=0, min_value=0, max_value=MOST_MINUTES)

    def validate(self, attrs: dict[str, Any]) -> WorkFacts:
        return WorkFacts(attrs["materials"], minutes=attrs["minutes"])


class TogetherRequest(RequestSerializer):
    """What is done with several pieces, on one day. `anyway` finishes them before their drying time is over."""

    on = serializers.DateField()
    pieces = ListOf(child=PieceAmongRequest(), allow_empty=False, max_length=MOST_PIECES)
    series = serializers.CharField(required=False, max_length=80, allow_blank=True, default="")
    up_to = serializers.ChoiceField(
        choices=[state.value for state in UP_TO], required=False, allow_null=True, default=None
    )
    finishing = WorkOnAllRequest(required=False)
    packing = WorkOnAllRequest(required=False)
    anyway = serializers.BooleanField(default=False)
    confirm_gain = serializers.BooleanField(
        default=False, help_text="There was more in the bottles than recorded: the difference is added first."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        work = {name: attrs[name] for name in ("finishing", "packing") if name in attrs}
        up_to = State(attrs["up_to"]) if attrs["up_to"] else None
        facts = TogetherFacts(attrs["pieces"], series=attrs["series"], up_to=up_to, **work)
        return {"facts": facts, **{name: attrs[name] for name in ("on", "anyway", "confirm_gain")}}
