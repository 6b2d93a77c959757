"""The change log: who changed what, when, from what to what."""

from datetime import date

from django.conf import settings
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from studio.accounts.models import Role, User
from studio.accounts.roles import role_required
from studio.auditing.models import Change
from studio.auditing.wording import all_in_words, noun
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.values.numbers import read_small_whole

PAGE = 50


@require_safe
@role_required(Role.OWNER, Role.BOOKKEEPER, money=True)
def changes(request: HttpRequest) -> HttpResponse:
    """Who changed which field of the reference data, when, from what, to what."""
    found = _filtered(Change.objects.select_related("by"), request)
    page_obj = Paginator(found, PAGE).get_page(request.GET.get("page"))
    formatter = Formatter.of(current_studio(request))
    context = {
        "page_obj": page_obj,
        "rows": all_in_words(page_obj, formatter),
        "kinds": [(label.lower(), noun(label)) for label in settings.RECORDED],
        "people": User.objects.order_by("username"),
        "said": request.GET,
    }
    return render(request, "change_log/list.html", context)


def _filtered(found: QuerySet[Change], request: HttpRequest) -> QuerySet[Change]:
    said = request.GET
    if said.get("kind"):
        found = found.filter(kind=said["kind"])
    if (by := read_small_whole(said.get("by", ""))) is not None:
        found = found.filter(by_id=by)
    if said.get("search"):
        found = found.filter(name__icontains=said["search"].replace("\0", ""))
    for key, lookup in (("from", "at__date__gte"), ("to", "at__date__lte")):
        day = _day(said.get(key, ""))
        if day:
            found = found.filter(**{lookup: day})
    return found


def _day(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None
