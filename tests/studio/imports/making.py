"""Tables for tests: workbooks, hostile archives, and an import by its own functions."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from typing import Any

from openpyxl import Workbook

from studio.imports.actions import Saved, save_all
from studio.imports.checking import CheckedRow, OpenTable, check, open_table
from studio.imports.kinds import ImportKind, kind_named
from studio.imports.models import RememberedHeadings
from studio.imports.reading import read_file
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.making import make_owner, make_submission


def book(*sheets: Sequence[Sequence[Any]]) -> bytes:
    """A workbook with these sheets of rows."""
    made = Workbook()
    made.remove(made.worksheets[0])
    for number, rows in enumerate(sheets, start=1):
        sheet = made.create_sheet(f"Sheet {number}")
        for row in rows:
            sheet.append(list(row))
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def with_part(raw: bytes, name: str, content: bytes) -> bytes:
    """The same archive with one part more, or replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, content)
    return out.getvalue()


def opened(code: str, raw: str | bytes, *, fixed: Mapping[str, str] | None = None) -> OpenTable[ImportKind]:
    """A table of a kind, its headings matched as remembered or by name."""
    kind = kind_named(code)
    studio = Studio.current()
    comma = studio.locale.startswith("de")
    sheet = read_file(raw if isinstance(raw, bytes) else raw.encode(), decimal_comma=comma)
    return open_table(
        kind, sheet, studio=studio, today=TODAY, remembered=RememberedHeadings.of(code), fixed=fixed
    )


def checked(code: str, raw: str | bytes, *, fixed: Mapping[str, str] | None = None) -> list[CheckedRow]:
    return check(opened(code, raw, fixed=fixed))


def imported(
    code: str, raw: str | bytes, *, fixed: Mapping[str, str] | None = None, good_only: bool = False
) -> Saved:
    return save_all(
        opened(code, raw, fixed=fixed), submission=make_submission(by=make_owner()), good_only=good_only
    )


def problems_of(row: CheckedRow) -> list[tuple[str | None, str]]:
    return [(each.field, str(each)) for each in row.problems]


def bodies_of_imports() -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    return {
        "imports/": {
            "kind": "materials",
            "text": "Material,Kind,Wot\nEbb Blue,paint,volume\n",
            "columns": {"Wot": "measure"},
            "fixed": {"maker": "Sail Loft"},
            "rows_to_save": "good",
        }
    }
