"""The techniques, and the pages that change them."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.sessions.forms.techniques import TechniqueForm
from inventory.sessions.models import Technique
from inventory.sessions.tables import TechniqueTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.reference import DeleteView, EditView


@require_safe
@role_required(*EVERYONE)
def techniques(request: HttpRequest) -> HttpResponse:
    may_edit = current_user(request).is_owner
    rows = list(Technique.objects.order_by("name", "pk"))
    table = TechniqueTable(rows, request, without=[] if may_edit else ["edit"])
    return render(request, "techniques/list.html", {"table": table, "may_edit": may_edit})


class TechniqueEdit(EditView):
    model, form_class = Technique, TechniqueForm
    edit_name, list_name = "inventory:technique", "inventory:techniques"
    list_label, add_title = gettext_lazy("Techniques"), gettext_lazy("Add a technique")


class TechniqueDelete(DeleteView):
    model = Technique
    edit_name, list_name = "inventory:technique", "inventory:techniques"
    note = gettext_lazy("Only a technique that nothing was poured with can be deleted.")
