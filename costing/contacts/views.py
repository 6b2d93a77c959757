"""Buyers and galleries: kept small, given out to them, and erased when they ask for it."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from costing.contacts.actions import erase_contact
from costing.contacts.filters import ContactFilter
from costing.contacts.forms import ContactForm
from costing.contacts.models import Contact
from costing.contacts.queries import dealings_with, everything_about
from costing.contacts.tables import ContactTable, DealingTable
from studio.accounts.roles import WORKERS, owner_required, role_required
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 50
CONTACTS = "costing:contacts"


@require_safe
@role_required(*WORKERS)
def contacts(request: HttpRequest) -> HttpResponse:
    filters = ContactFilter(request.GET, Contact.objects.all(), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {"page_obj": page_obj, "filters": filters}
    return list_page(request, "contacts/list.html", ContactTable(list(page_obj), request, filters), context)


@require_safe
@role_required(*WORKERS)
def contact(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Contact, pk=pk)
    context = {
        "title": row.name,
        "contact": row,
        "back_url": reverse(CONTACTS),
        "back_label": _("Contacts"),
        "section": CONTACTS,
    }
    return list_page(request, "contacts/page.html", DealingTable(dealings_with(row), request), context)


@require_safe
@owner_required
def contact_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that is kept of a contact, as JSON, for the contact to have."""
    row = get_object_or_404(Contact, pk=pk)
    known = everything_about(row, Formatter.of(current_studio(request)).money)
    answer = JsonResponse(known, json_dumps_params={"indent": 2, "ensure_ascii": False})
    answer["Content-Disposition"] = 'attachment; filename="contact.json"'
    return answer


class ContactEdit(EditView):
    model, form_class = Contact, ContactForm
    roles = WORKERS
    edit_name, page_name, list_name = "costing:contact", "costing:contact", CONTACTS
    list_label, add_title = gettext_lazy("Contacts"), gettext_lazy("Add a contact")
    can_delete = False  # it is erased, on a page of its own

    def named(self, row: Contact) -> str:
        return row.name


class ContactErase(DeleteView):
    model, template_name = Contact, "contacts/erase.html"
    edit_name, page_name, list_name = "costing:contact", "costing:contact", CONTACTS

    def words_for(self, row: Contact) -> str:
        return row.name

    def write(self, form: Any) -> tuple[str, str]:
        erase_contact(
            contact=self.object, submission=submission_from(self.request), seen=form.cleaned_data["seen"]
        )
        return _("The contact has been erased."), reverse(CONTACTS)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        return context | {
            "title": _("Erase “{name}”?", name=self.object.name),
            "back_url": reverse("costing:contact", args=[self.object.pk]),
        }
