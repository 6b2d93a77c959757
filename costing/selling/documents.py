"""Receipts, invoices and credit notes as documents: written from the books, or as they were issued."""

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext_lazy

from costing.selling.models import Refund, Sale
from costing.selling.queries import SaleFigures, sale_figures, with_lines
from costing.selling.receipts import credit_note_of, credit_note_title, receipt_of, receipt_title
from studio.issued.kinds import IssuedKind
from studio.papers.lines import Document
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio


def receipt_document(studio: Studio, pk: int, *, with_buyer: bool = True) -> Document:
    """The receipt or invoice of a sale. Only people who may see contacts see who bought."""
    figures = _figures(studio, pk)
    sale = figures.sale
    written = receipt_of(figures, studio, buyer=sale.buyer if with_buyer else None)
    return Document(f"receipt-{sale.number or f'sale-{pk}'}", frame_for(studio, receipt_title(sale)), written)


def credit_note_document(studio: Studio, pk: int, *, with_buyer: bool = True) -> Document:
    refund = get_object_or_404(Refund.objects.select_related("line"), pk=pk)
    figures = _figures(studio, refund.line.sale_id)
    sold = next(each for each in figures.lines if each.line.pk == refund.line_id)
    written = credit_note_of(sold, refund, studio, buyer=figures.sale.buyer if with_buyer else None)
    name = f"credit-note-{refund.number or f'refund-{pk}'}"
    return Document(name, frame_for(studio, credit_note_title(refund)), written)


def _figures(studio: Studio, pk: int) -> SaleFigures:
    found = sale_figures(with_lines(Sale.objects.filter(pk=pk).select_related("buyer")), studio.currency)
    if not found:
        raise Http404
    return found[0]


def _page_of_sale(pk: int) -> str:
    return reverse("costing:sale", args=[pk])


def _page_of_refund(pk: int) -> str:
    return _page_of_sale(get_object_or_404(Refund.objects.select_related("line"), pk=pk).line.sale_id)


RECEIPT = IssuedKind("receipt", gettext_lazy("Receipt"), receipt_document, _page_of_sale, is_final=True)
CREDIT_NOTE = IssuedKind(
    "credit-note", gettext_lazy("Credit note"), credit_note_document, _page_of_refund, is_final=True
)
