"""Pieces made to order: what was agreed, what was paid before the sale, and how each ended."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from costing.commissions.actions import (
    CancelFacts,
    PaymentFacts,
    cancel_commission,
    receive_payment,
    reopen_commission,
    reverse_payment,
)
from costing.commissions.filters import CommissionFilter
from costing.commissions.forms import CancelForm, CommissionForm, PaymentForm, ReopenForm, ReversalForm
from costing.commissions.models import Commission, CommissionPayment
from costing.commissions.papers import agreement_of
from costing.commissions.queries import commissions, customer_deposits, figures_of
from costing.commissions.tables import CommissionTable, PaymentTable, state_badge
from costing.selling.models import Sale
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.languages import for_customers
from studio.pages.papers import PaperForm, asked_paper, pdf_answer
from studio.pages.reference import EditView
from studio.pages.saving import form_page, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 50
LIST = "costing:commissions"


@require_safe
@role_required(*EVERYONE)
def commission_list(request: HttpRequest) -> HttpResponse:
    filters = CommissionFilter(request.GET, commissions(), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    without = () if current_user(request).may_write else ("contact",)
    table = CommissionTable(figures_of(page_obj), request, filters, without=without)
    context = {"page_obj": page_obj, "filters": filters, "deposits": customer_deposits()}
    return list_page(request, "commissions/list.html", table, context)


@require_safe
@role_required(*EVERYONE)
def commission(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(commissions(), pk=pk)
    [figures] = figures_of([row])
    payments = list(row.payments.select_related("channel", "reverses", "reversed_by", "commission"))
    may_write = current_user(request).may_write
    context = {
        "title": row.title,
        "commission": row,
        "figures": figures,
        "badge": state_badge(figures),
        "sale": Sale.objects.filter(commission=row).first(),
        "paper_form": PaperForm.offered(current_studio(request), row.wanted, str(row.contact or "")),
        "back_url": reverse(LIST),
        "back_label": _("Commissions"),
        "section": LIST,
    }
    table = PaymentTable(payments, request, without=() if may_write and row.is_open else ("change",))
    return list_page(request, "commissions/page.html", table, context)


@require_safe
@role_required(*WORKERS)
@for_customers
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """What was agreed, as PDF."""
    [figures] = figures_of([_row(pk)])
    asked = asked_paper(request)
    if asked is None:
        return redirect("costing:commission", pk=pk)
    written = agreement_of(figures, current_studio(request), with_buyer=current_user(request).may_write)
    return pdf_answer(written.draw(asked), written.name)


class CommissionEdit(EditView):
    model, form_class = Commission, CommissionForm
    roles = WORKERS
    edit_name, page_name, list_name = "costing:commission", "costing:commission", LIST
    list_label, add_title = gettext_lazy("Commissions"), gettext_lazy("New commission")
    can_delete = False  # it is cancelled

    def named(self, row: Commission) -> str:
        return row.title


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def pay(request: HttpRequest, pk: int) -> HttpResponse:
    """A deposit or a further part."""
    row, studio = _row(pk), current_studio(request)
    form = PaymentForm(request.POST or None, studio=studio)

    def act() -> Any:
        sent = form.cleaned_data
        facts = PaymentFacts(sent["amount"], sent["channel"], sent["reason"])
        return receive_payment(commission=row, facts=facts, submission=_submission(request, form))

    if saved(form, act):
        messages.success(request, _("The payment is recorded. It is held as a deposit until the sale."))
        return redirect("costing:commission", pk=pk)
    [figures] = figures_of([row])
    left = Formatter.of(studio).money(figures.left)
    lead = _(
        "{left} of the agreed price is still to be paid. In some countries tax is due when a deposit is received.",
        left=left,
    )
    return _page(request, form, row, title=_("Record a payment"), lead=lead)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """What is held is paid back, or kept with a reason."""
    row, studio = _row(pk), current_studio(request)
    [figures] = figures_of([row])
    form = CancelForm(request.POST or None, studio=studio, initial={"returned": figures.held})

    def act() -> Any:
        sent = form.cleaned_data
        facts = CancelFacts(sent["returned"], sent["channel"], sent["reason"])
        return cancel_commission(commission=row, facts=facts, submission=_submission(request, form))

    if saved(form, act):
        messages.success(request, _("“{name}” is cancelled.", name=row.title))
        return redirect("costing:commission", pk=pk)
    held = Formatter.of(studio).money(figures.held)
    lead = _("{held} is held. Pay the buyer back separately; Meniscus does not handle payments.", held=held)
    return _page(request, form, row, title=_("Cancel the commission"), lead=lead)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    """A cancelled one goes on: what was kept is held again."""
    row = _row(pk)
    form = ReopenForm(request.POST or None, studio=current_studio(request))
    if saved(form, lambda: reopen_commission(commission=row, submission=_submission(request, form))):
        messages.success(request, _("“{name}” is open again.", name=row.title))
        return redirect("costing:commission", pk=pk)
    lead = _(
        "What you kept is held as a deposit again. What you paid back stays paid back: record a payment when the buyer "
        "pays it again, or reverse the repayment if it was never made."
    )
    return _page(request, form, row, title=_("Reopen the commission"), lead=lead)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def reverse_one(request: HttpRequest, pk: int) -> HttpResponse:
    """A payment that was a mistake gets its opposite."""
    payment = get_object_or_404(CommissionPayment.objects.select_related("commission"), pk=pk)
    form = ReversalForm(request.POST or None, studio=current_studio(request), initial={"on": payment.on})

    def act() -> Any:
        return reverse_payment(
            payment=payment, reason=form.cleaned_data["reason"], submission=_submission(request, form)
        )

    if saved(form, act):
        messages.success(request, _("The payment is reversed. Both stay in the list."))
        return redirect("costing:commission", pk=payment.commission.pk)
    amount = Formatter.of(current_studio(request)).money(payment.amount)
    lead = _("For a payment of {amount} that was entered by mistake.", amount=amount)
    return _page(request, form, payment.commission, title=_("Reverse a payment"), lead=lead)


def _row(pk: int) -> Commission:
    return get_object_or_404(commissions(), pk=pk)


def _submission(request: HttpRequest, form: Any) -> Any:
    return submission_from(request, on=form.cleaned_data["on"], key=form.cleaned_data["key"])


def _page(request: HttpRequest, form: Any, row: Commission, *, title: str, lead: str) -> HttpResponse:
    return form_page(
        request,
        form,
        title=title,
        lead=lead,
        back_url=reverse("costing:commission", args=[row.pk]),
        back_label=row.title,
        section=LIST,
    )
