"""One order: what has come of it, changing it, sending it, asking where it is, closing it and opening it again."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.choices import sorted_by_kind, stocked_materials
from inventory.purchasing.actions.orders import (
    change_order,
    chase_order,
    close_order,
    mark_sent,
    reopen_order,
)
from inventory.purchasing.forms.orders import HEAD, ChaseForm, OrderEditForm, lines_of_order
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order, SentBy
from inventory.purchasing.order_documents import ORDER, order_document
from inventory.purchasing.order_texts import texts_of
from inventory.purchasing.tables import ChaseTable, OrderLineTable, order_badge
from inventory.purchasing.views.orders import SECTION, line_forms
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.edit_conflicts import read_change_number
from studio.auditing.queries import last_change_number
from studio.issued.queries import issued_state
from studio.pages.papers import PaperForm, asked_paper, pdf_answer
from studio.pages.saving import acted, form_page, form_status, saved, submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter, decimal_comma
from studio.translation import _


def _order(pk: int) -> Order:
    return get_object_or_404(Order.objects.select_related("supplier"), pk=pk)


def _back(row: Order) -> dict[str, Any]:
    return {"back_url": reverse("inventory:order", args=[row.pk]), "back_label": str(row), "section": SECTION}


@require_safe
@role_required(*EVERYONE)
def order(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Order, pk)
    row, user = _order(pk), current_user(request)
    state, today = progress_of([row])[0], timezone.localdate()
    total = sum(each.line.price for each in state.lines), row.currency
    context = {
        "order": row,
        "seen": seen,
        "state": state,
        "badge": order_badge(state),
        "days_late": state.days_late(today),
        "deliveries": row.deliveries.select_related("posting__reversed_by").order_by("received_on", "pk"),
        "chases": ChaseTable(row.chases.select_related("recorded_by"), request),
        "texts": texts_of(row, current_studio(request), with_prices=user.sees_money),
        "ways": SentBy.choices,
        "paper_form": PaperForm.offered(
            current_studio(request), row.notes, *(each.line.material.name for each in state.lines)
        ),
        "issued": issued_state(ORDER.code, pk, user),
        "title": str(row),
        "lead": _("From {supplier}", supplier=row.supplier),
        "back_url": reverse(SECTION),
        "back_label": _("Orders"),
        "section": SECTION,
        **_actions(request, state),
    }
    table = OrderLineTable(state.lines, request, totals={"price": total} if user.sees_money else {})
    return list_page(request, "orders/detail.html", table, context)


def _actions(request: HttpRequest, state: OrderState) -> dict[str, Any]:
    """The buttons at the top of the page, as far as this person may use them."""
    user, pk = current_user(request), state.order.pk
    if not user.may_write or state.order.is_closed:
        return {}
    actions = {"second_url": reverse("inventory:order-edit", args=[pk]), "second_label": _("Edit")}
    if user.sees_money:
        actions |= {
            "action_url": f"{reverse('inventory:delivery-new')}?order={pk}",
            "action_label": _("Receive this order"),
            "action_icon": "delivery",
        }
    return actions


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an open order; a closed one says that it must be opened first."""
    seen, row = last_change_number(Order, pk), _order(pk)
    studio = current_studio(request)
    data = request.POST if request.method == "POST" else None
    first = {"seen": seen, **{name: getattr(row, name) for name in HEAD if name != "supplier"}}
    form = OrderEditForm(data, studio=studio, order=row, initial=first | {"supplier": row.supplier_id})
    of_order = {line.pk: line for line in row.lines.select_related("material", "order").order_by("pk")}
    # What is on the order can stay there, though it may be archived by now.
    materials = stocked_materials() | {line.material_id: line.material for line in of_order.values()}
    rows = lines_of_order(row, decimal_comma=decimal_comma(studio.locale)) if data is None else []
    lines = line_forms(
        request, sorted_by_kind(materials.values()), rows, currency=row.currency, order_lines=of_order
    )
    changed = saved(
        form,
        lambda: change_order(
            order=row,
            facts=form.facts(lines),
            submission=submission_from(request),
            seen=form.cleaned_data["seen"],
        ),
        lines=lines,
    )
    if changed is not None:
        messages.success(request, _("{order} has been saved.", order=changed))
        return redirect("inventory:order", pk=pk)
    context = {
        "form": form,
        "formset": lines,
        "is_closed": row.is_closed,
        "send": _("Save order"),
        "title": _("Edit order {number}", number=row.number),
        "lead": _("To remove a line, tick Remove. What has been received stays on the order."),
        **_back(row),
    }
    return render(request, "orders/new.html", context, status=form_status(form))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def chase(request: HttpRequest, pk: int) -> HttpResponse:
    """Record that the supplier was asked where the order is."""
    row, studio = _order(pk), current_studio(request)
    data = request.POST if request.method == "POST" else None
    form = ChaseForm(data, studio=studio, initial={"asked_on": timezone.localdate()})
    chased = saved(
        form,
        lambda: chase_order(
            order=row, facts=form.facts(), submission=submission_from(request, key=form.cleaned_data["key"])
        ),
    )
    if chased is not None:
        messages.success(request, _("Recorded. The expected day follows what was promised."))
        return redirect("inventory:order", pk=pk)
    context = {
        "title": _("Ask about order {number}", number=row.number),
        "lead": _(
            "{supplier}, expected on {day}. Every answer is kept, so that lead times learn from it.",
            supplier=row.supplier,
            day=Formatter.of(studio).day(row.expected_on),
        ),
        **_back(row),
    }
    return form_page(request, form, **context)


def _seen(request: HttpRequest) -> int:
    return read_change_number(request.POST.get("seen", ""))


@require_POST
@role_required(*WORKERS)
def sent(request: HttpRequest, pk: int) -> HttpResponse:
    row, way = _order(pk), request.POST.get("sent_by", "")
    acted(
        request,
        lambda: mark_sent(order=row, sent_by=way, submission=submission_from(request), seen=_seen(request)),
        _("Marked as sent today."),
    )
    return redirect("inventory:order", pk=pk)


@require_POST
@role_required(*WORKERS)
def close(request: HttpRequest, pk: int) -> HttpResponse:
    row = _order(pk)
    acted(
        request,
        lambda: close_order(order=row, submission=submission_from(request), seen=_seen(request)),
        _("Order closed. What has not come no longer counts as on order."),
    )
    return redirect("inventory:order", pk=pk)


@require_POST
@role_required(*WORKERS)
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    row = _order(pk)
    acted(
        request,
        lambda: reopen_order(order=row, submission=submission_from(request), seen=_seen(request)),
        _("Order open again. What has not come counts as on order."),
    )
    return redirect("inventory:order", pk=pk)


@require_safe
@role_required(*EVERYONE)
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The order as PDF, on the paper that was chosen; without prices for whoever may not see them."""
    written = order_document(current_studio(request), pk, with_prices=current_user(request).sees_money)
    asked = asked_paper(request)
    return (
        redirect("inventory:order", pk=pk) if asked is None else pdf_answer(written.draw(asked), written.name)
    )
