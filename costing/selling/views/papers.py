"""Receipts and credit notes as PDF, for whoever sells and for the books."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from costing.contacts.models import Contact
from costing.selling.models import Refund, Sale
from costing.selling.queries import SaleFigures, sale_figures, with_lines
from costing.selling.receipts import credit_note_of, credit_note_title, receipt_of, receipt_title
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.languages import for_customers
from studio.pages.papers import PaperForm, pdf_answer
from studio.papers.frame import PageFrame
from studio.papers.lines import LinesPaper, draw_lines
from studio.preferences.context import current_studio
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
@for_customers
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    figures = _sale_or_404(request, pk)
    written = receipt_of(figures, current_studio(request), buyer=_buyer(request, figures.sale))
    name = f"receipt-{figures.sale.number or f'sale-{pk}'}"
    return _pdf(request, figures.sale, written, title=receipt_title(figures.sale), name=name)


@require_safe
@role_required(*EVERYONE)
@for_customers
def credit_note(request: HttpRequest, pk: int) -> HttpResponse:
    refund = get_object_or_404(Refund.objects.select_related("line"), pk=pk)
    figures = _sale_or_404(request, refund.line.sale_id)
    sold = next(each for each in figures.lines if each.line.pk == refund.line_id)
    written = credit_note_of(sold, refund, current_studio(request), buyer=_buyer(request, figures.sale))
    name = f"credit-note-{refund.number or f'refund-{pk}'}"
    return _pdf(request, figures.sale, written, title=credit_note_title(refund), name=name)


def _sale_or_404(request: HttpRequest, pk: int) -> SaleFigures:
    found = sale_figures(
        with_lines(Sale.objects.filter(pk=pk).select_related("buyer")), current_studio(request).currency
    )
    if not found:
        raise Http404
    return found[0]


def _buyer(request: HttpRequest, sale: Sale) -> Contact | None:
    """Only people who may see contacts see who bought."""
    return sale.buyer if current_user(request).may_write else None


def _pdf(request: HttpRequest, sale: Sale, written: LinesPaper, *, title: str, name: str) -> HttpResponse:
    studio = current_studio(request)
    form = PaperForm(request.GET, studio=studio)
    if not form.is_valid():
        messages.error(request, _("Choose one of the papers in the list."))
        return redirect("costing:sale", pk=sale.pk)
    return pdf_answer(draw_lines(written, PageFrame(studio.name, title), paper=form.chosen), name)
