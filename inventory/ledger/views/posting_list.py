"""The list of postings: filtered, newest first, page by page."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from inventory.ledger.filters import PostingFilter
from inventory.ledger.models import Posting
from inventory.ledger.tables import PostingTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.tables import list_page, page_of

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE)
def postings(request: HttpRequest) -> HttpResponse:
    listed = Posting.objects.select_related("recorded_by", "reverses", "reversed_by")
    filters = PostingFilter(request.GET, listed, request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {"page_obj": page_obj, "filters": filters}
    return list_page(request, "ledger/list.html", PostingTable(page_obj, request, filters), context)
