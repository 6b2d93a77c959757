"""What a person reads in a page's tables: one dictionary for each row, by the columns' labels."""

import csv
import re
from collections.abc import Iterator
from decimal import Decimal
from html import unescape
from io import StringIO
from typing import Any

CELL = re.compile(r"<t[hd](?P<attributes>[^>]*)>(?P<content>.*?)</t[hd]>", re.DOTALL)
LABEL = re.compile(r'data-label="([^"]*)"')
ROW = re.compile(r"<tr[^>]*>(.*?)</tr>", re.DOTALL)
AMOUNT = re.compile(r"[−-]?£[\d,]+\.\d\d")


def table_rows(response: Any, caption: str = "") -> list[dict[str, str]]:
    """The rows of the first table, or of the one with a caption; the row's heading stands under ""."""
    for table in re.findall(r"<table.*?</table>", response.content.decode(), re.DOTALL):
        if not caption or caption in table:
            body = re.search(r"<tbody>(.*?)</tbody>", table, re.DOTALL)
            assert body, "a table without a body"
            return [_cells(row) for row in ROW.findall(body[1])]
    raise AssertionError("no such table")


def headings(response: Any) -> dict[str, str]:
    """The first table's column headings with how each says it is sorted ("" where it is not)."""
    head = re.search(r"<thead>(.*?)</thead>", response.content.decode(), re.DOTALL)
    assert head, "no table"
    sorts = {}
    for attributes, content in CELL.findall(head[1]):
        sort = re.search(r'aria-sort="(\w+)"', attributes)
        sorts[_words(content)] = sort[1] if sort else ""
    return sorts


def _cells(row: str) -> dict[str, str]:
    cells = {}
    for attributes, content in CELL.findall(row):
        label = LABEL.search(attributes)
        if label or "scope" in attributes:
            cells[unescape(label[1]) if label else ""] = _words(content)
    return cells


def _words(content: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", content)).split())


def pence(text: str) -> Decimal | None:
    """The amount of money in a cell, if there is one."""
    found = AMOUNT.search(text)
    return Decimal(found[0].replace("£", "").replace(",", "").replace("−", "-")) if found else None


def columns_with_totals(response: Any) -> Iterator[tuple[str, list[Decimal], Decimal]]:
    """Of each table with a total: the column's label, its lines as printed, and its total as printed."""
    for table in re.findall(r"<table.*?</table>", response.content.decode(), re.DOTALL):
        if "<tfoot>" not in table:
            continue
        head, rest = table.split("<tbody>")
        labels = re.findall(r'<th scope="col"[^>]*>(.*?)</th>', head, re.DOTALL)
        rows = [
            [
                re.sub(r"<[^>]+>", " ", unescape(cell))
                for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)
            ]
            for row in re.findall(r"<tr[^>]*>(.*?)</tr>", rest, re.DOTALL)
        ]
        *lines, totals = rows
        for place, cell in enumerate(totals):
            total = pence(cell)
            if total is not None:
                printed = [pence(line[place]) for line in lines]
                label = re.sub(r"<[^>]+>", " ", labels[place]).strip()
                yield label, [amount for amount in printed if amount is not None], total


def file_of(response: Any) -> list[dict[str, str]]:
    """The rows of a list that was downloaded as CSV."""
    assert response["Content-Type"].startswith("text/csv")
    return list(csv.DictReader(StringIO(response.content.decode("utf-8-sig"), newline="")))
