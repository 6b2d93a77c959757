"""A list declared once: from its columns come the table, its cards on a phone, its print and its CSV and XLSX files.

A room's `tables.py` holds one `Table` for each of its lists; a view makes rows, and `list_page` answers with the
page or the file. Rows may be anything: a column's `value` takes its fact out of one.

How money is rounded in a table with a total, so that what is printed adds up:

- a total is rounded by itself, from its exact amount, and so is whatever has a name and a page of its own (a lot, a
  pour, an account): it reads the same wherever it is printed. What rounding leaves over has a line, "Rounding";
- lines that do no more than break one amount down (`is_breakdown`) are rounded so that they add up to it.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from typing import Any, ClassVar, Generic

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from studio.accounts.roles import current_user
from studio.pages.columns import FILE, PAGE, Column, Label, MoneyColumn, Row
from studio.pages.escaping import as_html
from studio.pages.exports import CSV, XLSX, Cell, file_answer
from studio.pages.filters import ListFilterSet
from studio.pages.own_pages import way_of
from studio.pages.swatches import swatch
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter

DOWNLOAD = "export"  # the parameter of an address that asks for the file instead of the page
NO_CELL = mark_safe("<td></td>")


@dataclass
class Table(Generic[Row]):
    """Rows in the columns that the reader may see. `totals` gives the last line its values, by column key."""

    caption: ClassVar[Label] = ""
    columns: ClassVar[Sequence[Column[Any]]] = ()
    file_name: ClassVar[str] = ""  # without one there is nothing to download
    css: ClassVar[str] = "is-dense"  # how a card on a phone is written
    is_breakdown: ClassVar[bool] = False  # its lines say what its total is made of, and nothing else

    rows: Iterable[Row]
    request: HttpRequest
    filters: ListFilterSet | None = None  # what it can be sorted by, and is
    totals: Mapping[str, Any] = field(default_factory=dict)
    without: Collection[str] = ()  # keys of columns that these rows do not need
    _badges: dict[tuple[str, str], SafeString] = field(default_factory=dict, init=False)

    def row_css(self, row: Row) -> str:
        """A class for the row: "is-low" wants attention."""
        return ""

    def money_css(self, row: Row) -> str:
        """The same, from what only somebody who sees money may know, such as a loss."""
        return ""

    @cached_property
    def formatter(self) -> Formatter:
        return Formatter.of(current_studio(self.request))

    @property
    def sort(self) -> str:
        """The order in force: a column's key, with a minus for descending."""
        return self.filters.order if self.filters else ""

    @cached_property
    def visible(self) -> list[Column[Row]]:
        user = current_user(self.request)
        return [
            column
            for column in self.columns
            if (user.sees_money or not column.needs_money)
            and (user.is_owner or not column.owner_only)
            and column.key not in self.without
        ]

    @cached_property
    def on_page(self) -> list[Column[Row]]:
        return [column for column in self.visible if column.only_on != FILE]

    def headings(self) -> list[tuple[Column[Row], bool]]:
        """The columns, and whether one can be sorted by each."""
        names = self.filters.sort_names if self.filters else set()
        return [(column, column.key in names) for column in self.on_page]

    def body(self) -> SafeString:
        """The rows as HTML: a long list has too many cells for a template of their own."""
        tags = [("th", "td")[position > 0] for position in range(len(self.on_page))]
        openings = [
            format_html(
                "<{}{}{}>",
                tag,
                format_html(' class="{}"', column.css) if column.css else "",
                mark_safe(' scope="row"') if tag == "th" else format_html(' data-label="{}"', column.label),
            )
            for tag, column in zip(tags, self.on_page, strict=True)
        ]
        closings = [format_html("</{}>", tag) for tag in tags]
        frames = list(zip(self.on_page, openings, closings, strict=True))
        pieces: list[str] = []
        sees_money = current_user(self.request).sees_money
        for row, values in self._with_values(self.on_page):
            css = self.row_css(row) or (sees_money and self.money_css(row))
            pieces.append(f'<tr class="{escape(css)}">' if css else "<tr>")
            for (column, opening, closing), value in zip(frames, values, strict=True):
                content = self._content(column, row, value)
                pieces += (opening, content, closing) if content else (NO_CELL,)
            pieces.append("</tr>")
        return mark_safe("".join(pieces))  # openings are escaped above, contents in _content

    def _with_values(self, columns: Sequence[Column[Row]]) -> Iterator[tuple[Row, list[Any]]]:
        """Each row with its value in each column; a breakdown's money as it is printed."""
        shared = {
            column.key: iter(column.adding_up([column.value(row) for row in self.rows], self.formatter))
            for column in (self._money_with_totals if self.is_breakdown else ())
        }
        for row in self.rows:
            yield (
                row,
                [
                    next(shared[column.key]) if column.key in shared else column.value(row)
                    for column in columns
                ],
            )

    @property
    def _money_with_totals(self) -> list[MoneyColumn[Row]]:
        return [
            column
            for column in self.visible
            if isinstance(column, MoneyColumn) and self.totals.get(column.key) is not None
        ]

    def _content(self, column: Column[Row], row: Row, value: Any) -> str:
        """What stands in one cell, as HTML; an empty one stays so to the last blank, and cards leave it out."""
        text = "" if value is None or value == "" else column.text(value, self.formatter)
        if column.template and text:
            user = current_user(self.request)
            context = {"row": row, "text": text, "formatter": self.formatter, "user": user}
            return render_to_string(column.template, context)
        if column.drawn and text:
            return column.drawn(row, text)
        words = as_html(text)
        if text and column.link and (address := column.link(row)):
            words = self._link(address, words, column.hidden_words(row) if column.hidden_words else "")
        if column.colour and words:
            words = f"{swatch(column.colour(row))}{words}"
        if column.badge and (badge := column.badge(row)):
            words = f"{words} {self._badge(*badge)}"
        if column.note and (note := column.note(row)):
            words = f'{words} <span class="quiet">{as_html(note)}</span>'
        return words

    def _badge(self, kind: str, word: Label) -> SafeString:
        badge = (kind, str(word))  # a lazy text looks itself up at every comparison
        if badge not in self._badges:
            self._badges[badge] = render_to_string("parts/badge.html", {"kind": kind, "word": word})
        return self._badges[badge]

    @staticmethod
    def _link(address: str, words: str, hidden_words: Any) -> str:
        if hidden_words:
            words = f'{words}<span class="visually-hidden">, {as_html(hidden_words)}</span>'
        return f'<a href="{escape(address)}">{words}</a>'

    def total_cells(self) -> list[tuple[Column[Row], str]]:
        """The last line's cells after its heading. None where the reader may see none of its figures."""
        cells = self._cells_below(self.totals)
        return cells if any(text for _column, text in cells) else []

    def rounding_cells(self) -> list[tuple[Column[Row], str]]:
        """The cells of the line before the last: what rounding leaves over. None where nothing is left over.

        A page that is one of several adds up to no total, so nothing on it is left over by rounding.
        """
        if self.is_breakdown or (isinstance(self.rows, Page) and self.rows.has_other_pages()):
            return []
        left_over = {
            column.key: column.rounding(map(column.value, self.rows), self.totals[column.key], self.formatter)
            for column in self._money_with_totals
        }
        left_over = {key: money for key, money in left_over.items() if money}
        return self._cells_below(left_over) if left_over else []

    def _cells_below(self, amounts: Mapping[str, Any]) -> list[tuple[Column[Row], str]]:
        return [
            (
                column,
                "" if amounts.get(column.key) is None else column.text(amounts[column.key], self.formatter),
            )
            for column in self.on_page[1:]
        ]

    def download(self) -> HttpResponse:
        """The rows as the file that the address asks for."""
        columns = [column for column in self.visible if column.only_on != PAGE]
        labels = [label for column in columns for label in column.file_labels(self.formatter)]
        rows = (
            [
                cell
                for column, value in zip(columns, values, strict=True)
                for cell in self._file_cells(column, row, value)
            ]
            for row, values in self._with_values(columns)
        )
        return file_answer(self.request.GET[DOWNLOAD], self.file_name, labels, rows)

    def _file_cells(self, column: Column[Row], row: Row, value: Any) -> list[Cell]:
        if value == "" and column.badge and (badge := column.badge(row)):
            return [str(badge[1])]
        return column.file_cells(value, self.formatter)


def wants_file(request: HttpRequest) -> bool:
    return request.GET.get(DOWNLOAD) in (CSV, XLSX)


def page_of(request: HttpRequest, rows: Any, per_page: int) -> Page[Any]:
    """The page asked for; everything on one page when the file is."""
    if wants_file(request):
        return Paginator(rows, max(len(rows), 1)).page(1)
    return Paginator(rows, per_page).get_page(request.GET.get("page"))


def list_page(
    request: HttpRequest, template: str, table: Table[Any], context: Mapping[str, Any]
) -> HttpResponse:
    """A list as a page, named after its table; or as a file, where the address asks for one.

    Its reader's own filters are kept: without any in its address, a list opens with those chosen last.
    """
    filters = context.get("filters")
    if isinstance(filters, ListFilterSet) and (elsewhere := way_of(request, filters)):
        return elsewhere
    if wants_file(request) and table.file_name:
        return table.download()
    return render(request, template, {"title": table.caption, **context, "table": table})
