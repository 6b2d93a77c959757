"""The form of a table: a file or pasted cells, what the headings mean, and values for all rows."""

import base64
import binascii
import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from studio.errors import InputError
from studio.imports.checking import OpenTable, open_table
from studio.imports.headings import LEFT_OUT
from studio.imports.kinds import ImportKind, TableKind
from studio.imports.models import RememberedHeadings
from studio.imports.reading import MOST_BYTES, MOST_COLUMNS, Sheet, read_file
from studio.pages.forms import StudioForm
from studio.translation import _

if TYPE_CHECKING:
    from django.http import QueryDict

COLUMN, FIXED = "column-", "fixed-"
SHEET, SHEET_SHOWN = "sheet", "sheet-shown"
LONGEST_FIXED = 200


class TableForm(StudioForm):
    """What is sent on every step. After the first, the table's own bytes travel in a hidden field.

    `seen` names what was shown, so that nothing else can be saved unseen.
    """

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
    seen = forms.CharField(required=False, widget=forms.HiddenInput, max_length=200)

    def __init__(self, *args: Any, kind: TableKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table_kind = kind
        self.raw = b""
        self.is_fresh = False  # another table than the one that was shown before
        self.table: OpenTable[Any] | None = None
        self.sheet = Sheet(())

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
            self.sheet = read_file(
                self.raw, decimal_comma=self.formatter.decimal_comma, sheet=self.wanted_sheet
            )
            self.table = self.opened(self.sheet)
        except InputError as problem:
            self.add_error(None, str(problem))
        else:  # pasted cells are carried on, so that what is chosen for their columns is not taken for another table's
            self.data = cast("QueryDict", self.data).copy()
            self.data["text"] = ""
        return cleaned

    def opened(self, sheet: Sheet) -> OpenTable[Any]:
        """The table with its columns matched. Raises InputError."""
        return open_table(
            self.table_kind,
            sheet,
            studio=self.studio,
            today=timezone.localdate(),
            remembered=RememberedHeadings.of(self.table_kind.code),
            chosen=self.chosen,
            fixed=self.fixed,
        )

    @property
    def wanted_sheet(self) -> str:
        """Which sheet of the workbook that was shown was chosen."""
        return "" if self.is_fresh else str(self.data.get(SHEET, ""))

    @property
    def is_seen_first(self) -> bool:
        """Whether this table was not shown before: another file, or another sheet of the same."""
        return self.is_fresh or self.wanted_sheet != self.data.get(SHEET_SHOWN, "")

    @property
    def chosen(self) -> Mapping[int, str]:
        """What was chosen for columns of the table that was shown, by their places."""
        places = {} if self.is_seen_first else {place: f"{COLUMN}{place}" for place in range(MOST_COLUMNS)}
        return {place: str(self.data[name]) for place, name in places.items() if name in self.data}

    @property
    def fixed(self) -> Mapping[str, str]:
        """Values for all rows, by the keys of columns."""
        names = {column.key: f"{FIXED}{column.key}" for column in self.table_kind.columns}
        return {key: str(self.data.get(name, ""))[:LONGEST_FIXED] for key, name in names.items()}

    @property
    def what_was_seen(self) -> str:
        """Names what a page shows: the table, what its columns mean and what stands for all rows."""
        if self.table is None:
            return ""
        table = self.table
        seen = [table.headings.keys, sorted(table.fixed.items()), table.add_new, self.sheet.name]
        shown = json.dumps(seen).encode()
        return hashlib.sha256(self.raw + shown).hexdigest()

    @property
    def to_carry(self) -> str:
        """The table's bytes, for the hidden field."""
        return base64.b64encode(self.raw).decode() if self.table else ""

    @property
    def matched(self) -> list[dict[str, Any]]:
        """Each column of the table with its heading, its first cell, and what it means."""
        if self.table is None:
            return []
        headings, first = self.table.headings, self.table.rows[0].cells
        return [
            {
                "name": f"{COLUMN}{place}",
                "heading": text or _("Column {place}", place=place + 1),
                "example": first[place] if place < len(first) else "",
                "key": key,
            }
            for place, (text, key) in enumerate(zip(headings.line.cells, headings.keys, strict=True))
        ]

    @property
    def left_out(self) -> list[str]:
        """The headings of columns that are not read."""
        return [each["heading"] for each in self.matched if each["key"] == LEFT_OUT]

    @property
    def lacking(self) -> list[dict[str, Any]]:
        """Columns that the table lacks, and the value that all rows shall have."""
        if self.table is None:
            return []
        return [
            {"name": f"{FIXED}{column.key}", "column": column, "value": self.table.fixed.get(column.key, "")}
            for column in self.table_kind.columns
            if column.key not in self.table.headings.keys and not column.key.endswith("_unit")
        ]


class ImportForm(TableForm):
    """The one form of an import that saves row by row."""

    add_new = forms.BooleanField(required=False)
    start = forms.IntegerField(required=False, min_value=0, max_value=100_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, kind: ImportKind, may_add: bool, **kwargs: Any) -> None:
        super().__init__(*args, kind=kind, **kwargs)
        self.may_add = may_add and kind.can_add
        self.table: OpenTable[ImportKind] | None = None

    def opened(self, sheet: Sheet) -> OpenTable[Any]:
        if (
            self.may_add and self.is_seen_first
        ):  # what is new is shown as what it would be, until that is declined
            self.data = cast("QueryDict", self.data).copy()
            self.data["add_new"] = "1"
        add_new = self.may_add and bool(self.data.get("add_new"))
        return replace(super().opened(sheet), may_add=self.may_add, add_new=add_new)


def _carried(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return b""
