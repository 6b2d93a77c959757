"""The list of deliveries: filtered, sorted, page by page."""

from dataclasses import dataclass

from django.core.paginator import Paginator
from django.db.models import Count, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.materials.models import Supplier
from inventory.purchasing.models import Delivery, DeliveryLine
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.query_values import whole_number, year_of

PER_PAGE = 50
SORTS = {
    "day": ("received_on", "pk"),
    "supplier": ("supplier__name", "received_on", "pk"),
    "reference": ("reference", "pk"),
    "cost": ("landed", "pk"),
}


@dataclass(frozen=True, slots=True)
class DeliveryFilter:
    """What the list was asked to show; anything unreadable is left out."""

    supplier: int | None
    year: int | None
    words: str
    sort: str

    @classmethod
    def of(cls, query: QueryDict, *, sees_money: bool) -> "DeliveryFilter":
        sort = query.get("sort", "-day")
        known = sort.removeprefix("-") in SORTS and (sees_money or sort.removeprefix("-") != "cost")
        return cls(
            whole_number(query.get("supplier", "")),
            year_of(query.get("year", "")),
            query.get("words", "").strip()[:100],
            sort if known else "-day",
        )

    def chosen(self) -> QuerySet[Delivery]:
        """The deliveries that fit, in the order asked for."""
        found = Delivery.objects.all()
        if self.supplier:
            found = found.filter(supplier=self.supplier)
        if self.year:
            found = found.filter(received_on__year=self.year)
        if self.words:
            lines = DeliveryLine.objects.filter(
                Q(lot__material__name__icontains=self.words) | Q(lot__supplier_batch__icontains=self.words)
            )
            found = found.filter(
                Q(reference__icontains=self.words)
                | Q(supplier__name__icontains=self.words)
                | Q(pk__in=lines.values("delivery"))
            )
        sign = "-" if self.sort.startswith("-") else ""
        return (
            found.annotate(line_count=Count("lines"), landed=Sum("lines__landed"))
            .select_related("supplier", "posting", "posting__reversed_by")
            .order_by(*(sign + column for column in SORTS[self.sort.removeprefix("-")]))
        )


@require_safe
@role_required(*EVERYONE)
def deliveries(request: HttpRequest) -> HttpResponse:
    user = current_user(request)
    asked = DeliveryFilter.of(request.GET, sees_money=user.sees_money)
    chosen = asked.chosen()
    standing = Delivery.objects.filter(
        pk__in=chosen.order_by().values("pk"), posting__reversed_by__isnull=True
    )
    context = {
        "page_obj": Paginator(chosen, PER_PAGE).get_page(request.GET.get("page")),
        "asked": asked,
        "sort": asked.sort,
        "suppliers": Supplier.objects.filter(deliveries__isnull=False).distinct(),
        "years": [day.year for day in Delivery.objects.dates("received_on", "year", order="DESC")],
        "standing": standing.aggregate(count=Count("pk", distinct=True), landed=Sum("lines__landed")),
        "is_filtered": bool(asked.supplier or asked.year or asked.words),
        "may_log": user.may_write and user.sees_money,
    }
    return render(request, "deliveries/list.html", context)
