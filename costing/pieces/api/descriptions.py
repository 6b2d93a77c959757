"""What programs say of a piece besides its making: the same for a new one, one that is changed, and one from before."""

from rest_framework import serializers

from costing.pieces.models import FIRST_YEAR, HIGHEST_NUMBER, LAST_YEAR
from studio.api.fields import LONGEST_NOTES
from studio.api.serializers import RequestSerializer


class DescriptionRequest(RequestSerializer):
    """What is said of a piece; what is left out becomes blank."""

    title = serializers.CharField(max_length=160)
    description = serializers.CharField(
        required=False, max_length=LONGEST_NOTES, allow_blank=True, default=""
    )
    size_note = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    series = serializers.CharField(required=False, max_length=80, allow_blank=True, default="")
    series_number = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=1, max_value=HIGHEST_NUMBER
    )
    edition = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    year = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=FIRST_YEAR, max_value=LAST_YEAR
    )
