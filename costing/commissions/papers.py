"""What was agreed for a commission, on paper: for the buyer and the studio to sign."""

from costing.commissions.queries import CommissionFigures
from studio.papers.lines import Document, Line, LinesPaper
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio
from studio.translation import _, pgettext

SHARE = 0.22  # of the width, for the price


def agreement_of(figures: CommissionFigures, studio: Studio, *, with_buyer: bool) -> Document:
    """Only people who may see contacts see who ordered."""
    row, formatter = figures.commission, Formatter.of(studio)
    buyer = row.contact if with_buyer else None
    to = [(pgettext("addressee", "To"), [buyer.name, *buyer.reach.splitlines()])] if buyer else []
    after = [(_("Paid so far"), formatter.money(figures.paid))]
    if row.is_open:
        after.append((_("Still to pay"), formatter.money(figures.left)))
    state = [] if row.is_open else [(_("Status"), row.get_state_display())]
    heading, _line_end, rest = row.wanted.strip().partition("\n")
    paper = LinesPaper(
        addresses=[(_("From"), [studio.name, *studio.delivery_address.splitlines()]), *to],
        facts=[
            (_("Number"), str(row.pk)),
            (_("Agreed on"), formatter.day(row.agreed_on)),
            (_("Wanted by"), formatter.day(row.wanted_by) if row.wanted_by else _("no day agreed")),
            *state,
        ],
        name_head=_("What is to be made"),
        heads=[_("Agreed price")],
        shares=[SHARE],
        lines=[Line(heading or str(row), "", [formatter.money(row.price)])],
        total=formatter.money(row.price),
        after=after,
        notes=rest.strip(),
        notes_head=_("Details"),
        signatures=[_("For the studio, date"), _("Ordered by, date")],
    )
    footer = _("A summary of what was agreed. Not tax or legal advice.")
    frame = frame_for(
        studio, _("Commission {number}", number=row.pk), formatter.day(row.agreed_on), footer=footer
    )
    return Document(f"commission-{row.pk}", frame, paper)
