"""The year end on paper: the period, the lines part by part, and the seal of the ledger that it was read from."""

from collections.abc import Sequence

from costing.reports.queries import YearEnd
from costing.reports.statement import StatementLine, StatementPart
from studio.papers.frame import PageFrame, Paper
from studio.papers.lines import Line, LinesPaper, draw_lines
from studio.preferences.formatting import Formatter
from studio.translation import _, pgettext

HALF = 32  # of the seal: whole, it is too wide for a small paper
SHARE = 0.22  # of the width, for the amounts


def draw_year_end(
    found: YearEnd,
    parts: Sequence[StatementPart],
    formatter: Formatter,
    *,
    frame: PageFrame,
    paper: str | Paper,
) -> bytes:
    """Return the statement as a PDF on the paper named. Raises InputError when the paper is not known."""
    period = found.period
    between = _("{first} to {last}", first=formatter.day(period.first), last=formatter.day(period.last))
    lines: list[Line] = []
    for part in parts:
        lines.append(Line(part.title, "", ("",), "heading"))
        lines += [_line(line, formatter) for line in part.lines]
    sheet = LinesPaper(
        addresses=(),
        facts=[
            (_("Period"), between),
            (_("Covers everything up to ledger no."), str(found.head)),
            (_("Check figure"), found.hash[:HALF]),
            ("", found.hash[HALF:]),
        ],
        name_head=_("Line"),
        heads=[pgettext("money", "Amount")],
        shares=[SHARE],
        lines=lines,
        notes=_(
            "Keep this paper: by the check figure your accountant can tell that nothing up to there was changed later."
        ),
        is_compact=True,
    )
    return draw_lines(sheet, frame, paper=paper)


def _line(line: StatementLine, formatter: Formatter) -> Line:
    amount = "–" if line.money is None else formatter.money(line.money)
    return Line(line.label, line.note, (amount,), "line" if line.kind == "line" else "sum")
