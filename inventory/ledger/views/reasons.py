"""The reasons why material or work leaves other than by a sale, and the pages that add and rename them."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.ledger.forms import ReasonForm
from inventory.ledger.models import Reason
from inventory.ledger.reasons import save_reason
from inventory.ledger.tables import ReasonTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.reference import EditView
from studio.pages.submissions import submission_from


@require_safe
@role_required(*EVERYONE)
def reasons(request: HttpRequest) -> HttpResponse:
    may_edit = current_user(request).is_owner
    table = ReasonTable(Reason.objects.order_by("name", "pk"), request, without=[] if may_edit else ["edit"])
    return render(request, "reasons/list.html", {"table": table, "may_edit": may_edit})


class ReasonEdit(EditView):
    model, form_class = Reason, ReasonForm
    edit_name, list_name, can_delete = "inventory:reason", "inventory:reasons", False
    list_label, add_title = gettext_lazy("Reasons"), gettext_lazy("Add a reason")

    def get_form_kwargs(self) -> dict[str, Any]:
        kwargs = super().get_form_kwargs() | {"reason": self.object, "seen": self.seen}
        return {name: value for name, value in kwargs.items() if name not in ("instance", "initial")}

    def written(self, form: Any) -> Reason:
        return save_reason(
            form.facts(),
            submission=submission_from(self.request),
            reason=self.object,
            seen=form.cleaned_data["seen"],
        )
