"""The techniques, and the pages that change them."""

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.sessions.forms.techniques import TechniqueForm
from inventory.sessions.models import Technique
from inventory.sessions.queries.paint_per_area import learned_by_technique
from inventory.sessions.tables import TechniqueRow, TechniqueTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.reference import DeleteView, EditView
from studio.pages.tables import list_page


@require_safe
@role_required(*EVERYONE)
def techniques(request: HttpRequest) -> HttpResponse:
    all_techniques = list(Technique.objects.order_by("name", "pk"))
    learned = learned_by_technique(all_techniques)
    rows = [TechniqueRow(row, learned[row.pk]) for row in all_techniques]
    return list_page(request, "techniques/list.html", TechniqueTable(rows, request), {})


class TechniqueEdit(EditView):
    model, form_class = Technique, TechniqueForm
    edit_name, list_name = "inventory:technique", "inventory:techniques"
    list_label, add_title = gettext_lazy("Techniques"), gettext_lazy("Add a technique")


class TechniqueDelete(DeleteView):
    model = Technique
    edit_name, list_name = "inventory:technique", "inventory:techniques"
    note = gettext_lazy("Only a technique that nothing was poured with can be deleted.")
