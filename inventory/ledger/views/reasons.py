"""The reasons why material or work leaves other than by a sale, and the pages that add and rename them."""

from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.ledger.forms import ReasonForm
from inventory.ledger.models import Reason
from inventory.ledger.reasons import save_reason
from inventory.ledger.tables import ReasonTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.reference import EditView
from studio.pages.tables import list_page


@require_safe
@role_required(*EVERYONE)
def reasons(request: HttpRequest) -> HttpResponse:
    listed = Reason.objects.annotate(money=Sum("entries__money")).order_by("name", "pk")
    table = ReasonTable(listed, request)
    return list_page(request, "reasons/list.html", table, {})


class ReasonEdit(EditView):
    model, form_class = Reason, ReasonForm
    edit_name, list_name, can_delete = "inventory:reason", "inventory:reasons", False
    action = staticmethod(save_reason)
    list_label, add_title = gettext_lazy("Reasons"), gettext_lazy("Add a reason")
