"""The README of an archive: its format, table by table and column by column, written from the models themselves.

In plain English whatever the studio's language, for whoever opens the archive years from now.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from inspect import cleandoc

from django.db.models import Model
from django.utils.encoding import force_str
from django.utils.translation import override

from studio.archive.columns import Column
from studio.archive.contents import (
    archived_models,
    columns_left_out,
    columns_of,
    explanations,
    models_left_out,
    table_name,
    unit_in_archive,
)
from studio.archive.reading import FORMAT

HEAD = """# Archive of a studio

Made {made} by Meniscus, a program for small fluid-art studios. Format {format}.

Everything that the studio recorded is here as plain text, to be read by any program, or to fill an empty studio again
with `manage.py archive_import FILE`. It holds people's names and words: guard it as carefully as the studio itself.

## The files

- `data/TABLE.jsonl`: a table, UTF-8, one row a line, each a JSON object (RFC 8259) of columns and values.
- `csv/TABLE.csv`: the same for a spreadsheet (RFC 4180). Text that a spreadsheet could take for a formula stands behind
  an apostrophe, so import reads the other files and not these.
- `photos/…`: the photos, under the names that rows give them. A photo whose file was lost is missing here too.
- `manifest.json`: format, day, migrations, the number of rows and the columns of each table, the totals of the books
  (how many postings, the SHA-256 that seals the last one, what each place holds), and size and SHA-256 of every file.
- `README.md`: this.

## How values are written

- Numbers are exact: whole numbers, never fractions. Each column below says what one of it is.
- Money is whole millionths of the currency unit: 12500000 is 12.50. The studio's currency is in `studio_studio`.
- Quantities are whole thousandths of the unit that the material is measured in: 250000 of mL is 250 mL.
- Shares are whole millionths of one: 200000 is 20%.
- Days are `2026-03-12`, times of day `18:30:00`, both by ISO 8601; moments are UTC, such as
  `2026-03-12T17:30:00.000000Z`.
- A column that refers to another row holds that row's key. `null` is a value that is not there.
"""

WHOLE = {
    "money": "millionths of the currency unit",
    "money of currency": "millionths of the unit of the currency that its row or document names",
    "quantity": "thousandths of the unit that the material is measured in (mL, g, each, cm², cm)",
    "share": "millionths of one: 200000 is 20%",
    "ratio": "millionths of one: 2000000 is twofold",
    "parts": "thousandths of a part",
    "length": "thousandths of a centimetre",
    "area": "thousandths of a square centimetre",
    "volume": "thousandths of a millilitre",
    "mass": "thousandths of a gram",
    "density": "micrograms per millilitre: 1000000 is 1 g/mL",
    "coverage": "thousandths of a millilitre per square centimetre",
    "rate": "digits of the rate, with its decimals beside it",
    "score": "thousandths of a point",
    "places": "decimals",
    "number": "a plain number",
    "unit of the row": "thousandths of a part or drop, or millionths of the cup: its row's `unit` says which",
}
KINDS = {
    "number": "whole number",
    "truth": "true or false",
    "text": "text",
    "moment": "moment, UTC",
    "day": "day",
    "time": "time of day",
    "json": "JSON",
    "photo": "name of a file under photos/",
    "model": "name of a table's model",
}


def readme(*, at: datetime) -> str:
    with override("en"):
        made = at.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC")
        parts = [HEAD.format(made=made, format=FORMAT), *explanations(), *_left_out(), "## The tables\n"]
        parts += ["\n".join(_table(model)) for model in archived_models()]
        return "\n".join(parts)


def _left_out() -> Iterator[str]:
    yield "## What is not here\n"
    for model, reason in models_left_out().items():
        yield f"- `{table_name(model)}`: {reason}"
    for model in archived_models():
        for column, reason in columns_left_out(model).items():
            yield f"- `{table_name(model)}.{column}`: {reason}"
    yield "- How people prove who they are: log-ins, codes and locks. After an import nobody has a password."
    yield "  Give the owner one with `manage.py changepassword NAME`; the owner gives one to everybody else.\n"


def _table(model: type[Model]) -> Iterator[str]:
    yield f"### {table_name(model)}\n"
    if "(" not in (doc := cleandoc(model.__doc__ or "")).partition("\n")[0].partition(" ")[0]:
        yield f"{doc}\n"
    yield "| column | is | of | means |\n| --- | --- | --- | --- |"
    for column in columns_of(model):
        cells = (f"`{column.name}`", _what(column), _unit(model, column), _meaning(column))
        yield "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"
    yield ""


def _what(column: Column) -> str:
    what = f"key of `{column.refers_to}`" if column.refers_to else KINDS[column.kind]
    if column.field.primary_key:
        what += ", the key of the row"
    return f"{what}, or null" if column.field.null else what


def _unit(model: type[Model], column: Column) -> str:
    return WHOLE.get(unit_in_archive(model, column.field.name), "") if column.kind == "number" else ""


def _meaning(column: Column) -> str:
    words = [force_str(column.field.verbose_name), force_str(column.field.help_text)]
    if column.field.choices:
        listed = ", ".join(
            f"{value} ({label})" for value, label in column.field.flatchoices if value not in ("", None)
        )
        words.append(f"One of: {listed}.")
    return ". ".join(word.rstrip(".") for word in words if word) + (
        "." if len(words) > 1 and words[1] else ""
    )
