"""The cost sheet of a piece on paper: line by line, group by group, as its page has it."""

from costing.cost_sheets.lines import TimeLine
from costing.cost_sheets.printed_sheet import PrintedLine, PrintedSheet, printed_sheet
from costing.cost_sheets.queries import cost_sheet
from costing.papers.queries import sizes_in_cm
from costing.pieces.models import Piece
from studio.papers.lines import Document, Line, LinesPaper
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio
from studio.translation import _

SHARES = (0.2, 0.2)  # of the width: how much of it, and its cost


def cost_sheet_document(studio: Studio, piece: Piece) -> Document:
    """The piece has its pours read."""
    formatter = Formatter.of(studio)
    printed = printed_sheet(cost_sheet(piece), formatter)
    size = sizes_in_cm(piece.pours, decimal_comma=formatter.decimal_comma)
    paper = LinesPaper(
        addresses=(),
        facts=[
            (_("Number"), piece.label),
            (_("Size, height × width"), size),
            (_("Painted area"), printed.area),
            (_("Cost per area"), printed.per_cm2),
        ],
        name_head=_("Line"),
        heads=[_("Amount used"), _("Cost")],
        shares=SHARES,
        lines=_lines(printed),
        total=printed.whole,
        is_compact=True,
    )
    footer = _("A guide calculated from your own figures. It is not tax or legal advice.")
    frame = frame_for(studio, _("Cost sheet: {piece}", piece=piece.title), footer=footer)
    return Document(f"cost-sheet-{piece.number}", frame, paper)


def _lines(printed: PrintedSheet) -> list[Line]:
    lines: list[Line] = []
    for group in printed.groups:
        lines.append(Line(group.label, "", ("", ""), "heading"))
        lines += [_line(line) for line in group.lines]
        lines.append(Line(group.label, "", ("", group.text), "sum"))
    return lines


def _line(printed: PrintedLine) -> Line:
    line = printed.line
    if isinstance(line, TimeLine):
        detail = _("{rate} an hour", rate=printed.per_hour) if printed.per_hour else ""
        amount = "" if line.is_stated else _("{minutes} min", minutes=printed.amount)
        return Line(line.work, detail, (amount, printed.money))
    detail = ", ".join(filter(None, [line.label, *line.lots]))
    return Line(line.material.name, detail, (printed.amount, printed.money))
