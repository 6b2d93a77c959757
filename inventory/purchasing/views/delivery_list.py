"""The list of deliveries: filtered, sorted, page by page."""

from django.db.models import Count, Sum
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from inventory.purchasing.filters import DeliveryFilter
from inventory.purchasing.models import Delivery
from inventory.purchasing.tables import DeliveryTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.tables import list_page, page_of

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE)
def deliveries(request: HttpRequest) -> HttpResponse:
    user = current_user(request)
    filters = DeliveryFilter(request.GET, Delivery.objects.all(), request=request)
    standing = Delivery.objects.filter(
        pk__in=filters.qs.order_by().values("pk"), posting__reversed_by__isnull=True
    )
    chosen = filters.qs.annotate(line_count=Count("lines")).select_related("supplier", "posting__reversed_by")
    page_obj = page_of(request, chosen, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "standing": standing.aggregate(count=Count("pk", distinct=True), landed=Sum("lines__landed")),
        "may_log": user.may_write and user.sees_money,
    }
    return list_page(request, "deliveries/list.html", DeliveryTable(page_obj, request, filters), context)
