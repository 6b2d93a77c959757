"""The one form of an import: a file or pasted cells, what the headings mean, and values for all rows."""

import base64
import binascii
import hashlib
import json
from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from studio.errors import InputError
from studio.imports.checking import OpenTable, open_table
from studio.imports.kinds import ImportKind
from studio.imports.models import RememberedHeadings
from studio.imports.reading import MOST_BYTES, MOST_COLUMNS, read_file
from studio.pages.forms import StudioForm
from studio.translation import _

COLUMN, FIXED = "column-", "fixed-"
LONGEST_FIXED = 200


class ImportForm(StudioForm):
    """What is sent on every step. After the first, the table's own bytes travel in a hidden field."""

    file = forms.FileField(
        label=gettext_lazy("File"),
        required=False,
        help_text=gettext_lazy("CSV or XLSX, at most 3 MB."),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )
    text = forms.CharField(
        label=gettext_lazy("Or paste cells from a spreadsheet"),
        required=False,
        strip=False,
        max_length=MOST_BYTES,
        help_text=gettext_lazy("Copy them with their headings."),
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    carried = forms.CharField(required=False, widget=forms.HiddenInput, max_length=2 * MOST_BYTES)
    seen = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)
    start = forms.IntegerField(required=False, min_value=0, max_value=100_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, kind: ImportKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        self.raw = b""
        self.is_fresh = False  # another table than the one that was shown before
        self.table: OpenTable | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        upload, text = cleaned.get("file"), cleaned.get("text") or ""
        self.is_fresh = upload is not None or bool(text.strip())
        if upload is not None and upload.size > MOST_BYTES:
            self.add_error(
                "file", _("The file is larger than {size} MB. Split it.", size=MOST_BYTES // 1_000_000)
            )
            return cleaned
        if upload is not None:
            self.raw = upload.read()
        elif text.strip():
            self.raw = text.encode()
        else:
            self.raw = _carried(cleaned.get("carried") or "")
        if not self.raw:
            self.add_error("file", _("Choose a file, or paste the cells."))
            return cleaned
        try:
            self.table = self._opened()
        except InputError as problem:
            self.add_error(None, str(problem))
        return cleaned

    def _opened(self) -> OpenTable:
        return open_table(
            self.kind,
            read_file(self.raw, decimal_comma=self.formatter.decimal_comma),
            studio=self.studio,
            today=timezone.localdate(),
            remembered=RememberedHeadings.of(self.kind.code),
            chosen={} if self.is_fresh else self._chosen,
            fixed=self._fixed,
        )

    @property
    def _chosen(self) -> Mapping[int, str]:
        places = {place: f"{COLUMN}{place}" for place in range(MOST_COLUMNS)}
        return {place: str(self.data[name]) for place, name in places.items() if name in self.data}

    @property
    def _fixed(self) -> Mapping[str, str]:
        names = {column.key: f"{FIXED}{column.key}" for column in self.kind.columns}
        return {key: str(self.data.get(name, ""))[:LONGEST_FIXED] for key, name in names.items()}

    @property
    def what_was_seen(self) -> str:
        """Names what a page shows: the table, what its columns mean and what stands for all rows."""
        if self.table is None:
            return ""
        shown = json.dumps([self.table.headings.keys, sorted(self.table.fixed.items())]).encode()
        return hashlib.sha256(self.raw + shown).hexdigest()

    @property
    def to_carry(self) -> str:
        """The table's bytes, for the hidden field."""
        return base64.b64encode(self.raw).decode() if self.table else ""


def _carried(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
