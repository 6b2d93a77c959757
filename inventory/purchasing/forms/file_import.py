"""The form that takes a delivery's lines from a file: its head, the file, and its bytes on the way to being posted."""

import base64
import binascii
import hashlib
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.purchasing.forms.deliveries import DeliveryForm
from studio.translation import _

MOST_BYTES = 1_000_000


class DeliveryFileForm(DeliveryForm):
    """The head of a delivery whose lines stand in a file.

    After the preview the file's own bytes travel in a hidden field, so that nobody has to choose the file again; `seen`
    names what was shown, so that nothing else can be posted unseen.
    """

    file = forms.FileField(
        label=gettext_lazy("CSV file"),
        help_text=gettext_lazy("Comma-separated text (.csv) saved as UTF-8, at most 1 MB."),
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv"}),
        error_messages={"required": gettext_lazy("Choose the file with the delivery lines.")},
    )
    create_materials = forms.BooleanField(
        label=gettext_lazy("Add new materials"),
        required=False,
        # Translators: files say “kind” and these kinds in English.
        help_text=gettext_lazy("The file then needs a column “kind” for them: paint, medium, sundry …"),
    )
    carried = forms.CharField(required=False, widget=forms.HiddenInput, max_length=2 * MOST_BYTES)
    seen = forms.CharField(required=False, widget=forms.HiddenInput, max_length=100)

    def __init__(self, *args: Any, may_create: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.raw = b""
        self.fields["file"].required = not self.data.get("carried")
        del self.fields["rate_on"]
        if not may_create:
            del self.fields["create_materials"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        upload = cleaned.get("file")
        if upload is not None and upload.size > MOST_BYTES:
            self.add_error(
                "file", _("The file is larger than 1 MB. Split it, and import each part as a delivery.")
            )
        elif upload is not None:
            self.raw = upload.read()
        else:
            self.raw = self._carried(cleaned.get("carried") or "")
        if not self.raw and not self.has_error("file"):
            self.add_error("file", _("Choose the file with the delivery lines."))
        return cleaned

    def _carried(self, text: str) -> bytes:
        try:
            return base64.b64decode(text, validate=True)[:MOST_BYTES]
        except (binascii.Error, ValueError):
            return b""

    @property
    def to_carry(self) -> str:
        """The file's bytes, for the hidden field."""
        return base64.b64encode(self.raw).decode()

    @property
    def may_create(self) -> bool:
        """Whether materials that are not known yet shall be added."""
        return bool(self.cleaned_data.get("create_materials"))

    @property
    def what_was_seen(self) -> str:
        """Names what a preview shows: the file, read in this currency, with new materials or without."""
        digest = hashlib.sha256(self.raw).hexdigest()
        return f"{digest}-{self.invoice_currency}-{self.may_create}"
