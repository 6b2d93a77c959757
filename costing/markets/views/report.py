"""What a market day came to, as PDF."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from costing.markets.queries import last_count, market_days, packed_rows, result_of
from costing.markets.report import report_of
from inventory.comparisons.papers import draw_sections
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.papers import PaperForm, pdf_answer
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.preferences.frames import frame_for
from studio.translation import _


@require_safe
@role_required(*EVERYONE, money=True)
def report(request: HttpRequest, pk: int) -> HttpResponse:
    market, studio = get_object_or_404(market_days(), pk=pk), current_studio(request)
    form = PaperForm(request.GET, studio=studio)
    if not form.is_valid():
        messages.error(request, _("Choose one of the papers in the list."))
        return redirect("costing:market", pk=pk)
    row, formatter = result_of(market), Formatter.of(studio)
    sections = report_of(row, packed_rows(market, row.lines), last_count(market), formatter)
    when = ", ".join(filter(None, [formatter.day(market.held_on), market.place]))
    advice = _("A guide calculated from your own figures. It is not tax or legal advice.")
    frame = frame_for(studio, market.name, when, footer=advice)
    return pdf_answer(
        draw_sections(sections, frame, paper=form.chosen), f"market-{market.held_on.isoformat()}"
    )
