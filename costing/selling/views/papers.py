"""Receipts, invoices and credit notes as PDF, for whoever sells and for the books."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from costing.selling.documents import CREDIT_NOTE, RECEIPT, credit_note_document, receipt_document
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.issued.kinds import IssuedKind
from studio.issued.queries import issued_or
from studio.pages.languages import for_customers
from studio.pages.papers import SmallPaperForm, asked_paper, pdf_answer
from studio.papers.lines import Document
from studio.preferences.context import current_studio


@require_safe
@role_required(*EVERYONE)
@for_customers
def receipt(request: HttpRequest, pk: int) -> HttpResponse:
    written = receipt_document(current_studio(request), pk, with_buyer=current_user(request).may_write)
    return _answer(request, RECEIPT, pk, written)


@require_safe
@role_required(*EVERYONE)
@for_customers
def credit_note(request: HttpRequest, pk: int) -> HttpResponse:
    written = credit_note_document(current_studio(request), pk, with_buyer=current_user(request).may_write)
    return _answer(request, CREDIT_NOTE, pk, written)


def _answer(request: HttpRequest, kind: IssuedKind, pk: int, written: Document) -> HttpResponse:
    """As it was issued, or as it would be issued now."""
    paper = asked_paper(request, SmallPaperForm)
    if paper is None:
        return redirect(kind.page(pk))
    document = issued_or(kind.code, pk, current_studio(request), current_user(request), written)
    return pdf_answer(document.draw(paper), document.name)
