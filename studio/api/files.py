"""Files in requests and answers: base64 inside JSON, so that every endpoint takes and gives the same type."""

import base64
import binascii
from typing import Any

from django.db.models.fields.files import FieldFile
from rest_framework import serializers

from studio.photos import LARGEST_FILE
from studio.translation import _


class PhotoUploadField(serializers.CharField):
    """The bytes of a JPEG, PNG or WebP picture."""

    def __init__(self, **kwargs: Any) -> None:
        help_text = "A JPEG, PNG or WebP picture of at most 10 MB, in base64."
        super().__init__(max_length=LARGEST_FILE * 4 // 3 + 4, help_text=help_text, **kwargs)

    def to_internal_value(self, data: Any) -> bytes:  # type: ignore[override]
        try:
            return base64.b64decode(super().to_internal_value(data), validate=True)
        except (binascii.Error, ValueError):
            raise serializers.ValidationError(_("This is no base64.")) from None

    def run_validators(self, value: Any) -> None:
        """Of the text alone, whose length the parser has limited; the picture is looked at when it is kept."""


def in_base64(file: FieldFile) -> str | None:
    """A stored file as it is answered; None where there is none, or where it is missing."""
    if not file:
        return None
    try:
        with file.open("rb") as opened:
            return base64.b64encode(opened.read()).decode()
    except OSError:
        return None
