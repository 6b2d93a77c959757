"""The change log: who changed what, when, from what to what."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from studio.accounts.models import Role
from studio.accounts.roles import role_required
from studio.auditing.filters import ChangeFilter
from studio.auditing.queries import entries, field_changes
from studio.auditing.tables import ChangeTable
from studio.auditing.wording import all_in_words
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PAGE = 25


@require_safe
@role_required(Role.OWNER, Role.BOOKKEEPER, money=True)
def changes(request: HttpRequest) -> HttpResponse:
    """Who changed which field of the reference data, when, from what, to what."""
    filters = ChangeFilter(request.GET, entries().reverse(), request=request)
    page_obj = page_of(request, filters.qs, PAGE)
    rows = all_in_words(field_changes(page_obj), Formatter.of(current_studio(request)))
    context = {"title": _("Change log"), "page_obj": page_obj, "filters": filters}
    return list_page(request, "change_log/list.html", ChangeTable(rows, request, filters), context)
