"""Pages that add, change and delete rows of reference data: Django's generic views, for owners unless
it says otherwise.

A save that has not seen the row's last change is refused: the number of that is read before the row itself.
"""

from collections.abc import Sequence
from copy import copy
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.generic import UpdateView

from studio.accounts.models import Role
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.auditing.queries import last_change_number
from studio.auditing.reference_rows import delete_row, is_in_use, save_row
from studio.errors import MeniscusError
from studio.pages.forms import EditForm
from studio.pages.saving import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    GenericView = UpdateView[Any, Any]
else:
    GenericView = UpdateView


class RowView(GenericView):
    """A form about one row, which is sent to an action.

    Addresses are named after it: an `edit_name` of "inventory:supplier" stands for "inventory:supplier-edit" and
    "inventory:supplier-delete". From the form one goes to `page_name`, or without a page to the list.
    """

    http_method_names = ["get", "head", "post"]
    roles: Sequence[Role] = OWNER_ONLY
    edit_name = ""
    page_name = ""
    list_name = ""
    section = ""

    @classmethod
    def as_view(cls, **initkwargs: Any) -> Any:
        return role_required(*cls.roles)(super().as_view(**initkwargs))

    def get_object(self, queryset: Any = None) -> Any:
        pk = self.kwargs.get("pk")
        self.seen = last_change_number(self.model, pk)
        return None if pk is None else super().get_object(queryset)

    def get_initial(self) -> dict[str, Any]:
        return {"seen": self.seen}

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"studio": current_studio(self.request)}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return {"section": self.section or self.list_name, **super().get_context_data(**kwargs)}

    def page_row(self, row: Any) -> Any:
        """Whose page one goes to from a row; the list's where this is None."""
        return row if self.page_name else None

    def address_after(self, row: Any) -> str:
        page_row = self.page_row(row)
        return reverse(self.page_name, args=[page_row.pk]) if page_row else reverse(self.list_name)

    def write(self, form: Any) -> tuple[str, str]:
        """Call the action; return what to say, and where to go then."""
        raise NotImplementedError

    def form_valid(self, form: Any) -> HttpResponse:
        try:
            message, address = self.write(form)
        except MeniscusError as problem:
            form.refuse(problem)
            return self.form_invalid(form)
        messages.success(self.request, message)
        return redirect(address)

    def form_invalid(self, form: Any) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


class EditView(RowView):
    """Changes a row; without a key in the address, adds one."""

    template_name = "form_page.html"
    list_label: "_StrOrPromise" = ""
    add_title: "_StrOrPromise" = ""
    can_delete = True
    action: Any = staticmethod(save_row)

    def get_form_kwargs(self) -> dict[str, Any]:
        # The form fills in its own instance, so that a refused entry does not change what the page says of the row.
        return super().get_form_kwargs() | {"instance": copy(self.object)}

    def write(self, form: Any) -> tuple[str, str]:
        row = self.written(form)
        return self.message(row), self.address_after(row)

    def written(self, form: Any) -> Any:
        submission = submission_from(self.request)
        return self.action(form.instance, submission=submission, seen=form.cleaned_data["seen"])

    def named(self, row: Any) -> str:
        """What a page calls a row, which may be more than the change log keeps of it."""
        return str(row)

    def message(self, row: Any) -> str:
        return _("“{name}” has been saved.", name=self.named(row))

    def title_of(self, row: Any) -> str:
        return _("Edit {name}", name=self.named(row))

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        row = self.object
        page_row = self.page_row(row)
        return {
            "title": self.title_of(row) if row else self.add_title,
            "back_url": self.address_after(row),
            "back_label": self.named(page_row) if page_row else self.list_label,
            "delete_url": (
                reverse(f"{self.edit_name}-delete", args=[row.pk])
                if row and self.can_delete and not is_in_use(row)
                else ""
            ),
            **super().get_context_data(**kwargs),
        }


class DeleteForm(EditForm):
    """Asks whether to delete a row; it carries only what the page has seen of it."""

    advice = gettext_lazy("Look at the changes, then delete it only if you still want to.")


class DeleteView(RowView):
    """Asks before a row is deleted. `note` says which ones can be."""

    template_name = "delete_page.html"
    form_class = DeleteForm
    note: "_StrOrPromise" = ""

    def get_form_kwargs(self) -> dict[str, Any]:
        kwargs = super().get_form_kwargs()
        del kwargs["instance"]
        return kwargs

    def words_for(self, row: Any) -> str:
        return str(row)

    def write(self, form: Any) -> tuple[str, str]:
        name, address = self.words_for(self.object), self.address_after(self.object)
        submission = submission_from(self.request)
        delete_row(self.object, submission=submission, seen=form.cleaned_data["seen"], refusal=str(self.note))
        return _("“{name}” has been deleted.", name=name), address

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return {
            "title": _("Delete “{name}”?", name=self.words_for(self.object)),
            "back_url": reverse(f"{self.edit_name}-edit", args=[self.object.pk]),
            "back_label": _("Cancel"),
            "note": self.note,
            **super().get_context_data(**kwargs),
        }
