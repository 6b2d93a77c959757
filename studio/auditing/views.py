"""The change log: who changed what, when, from what to what."""

from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from studio.accounts.models import Role, User
from studio.accounts.roles import role_required
from studio.auditing.changes import entries, field_changes
from studio.auditing.recording import recorded_models
from studio.auditing.wording import all_in_words, noun
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.values.numbers import read_small_whole

PAGE = 50


@require_safe
@role_required(Role.OWNER, Role.BOOKKEEPER, money=True)
def changes(request: HttpRequest) -> HttpResponse:
    """Who changed which field of the reference data, when, from what, to what."""
    page_obj = Paginator(_filtered(entries().reverse(), request), PAGE).get_page(request.GET.get("page"))
    formatter = Formatter.of(current_studio(request))
    context = {
        "page_obj": page_obj,
        "rows": all_in_words(field_changes(page_obj), formatter),
        "kinds": [(model._meta.label_lower, noun(model)) for model in recorded_models()],
        "people": User.objects.order_by("username"),
        "said": request.GET,
    }
    return render(request, "change_log/list.html", context)


def _filtered(listed: "QuerySet[Any]", request: HttpRequest) -> "QuerySet[Any]":
    sent = request.GET
    if sent.get("kind"):
        app_label, _dot, model = sent["kind"].replace("\0", "").partition(".")
        listed = listed.filter(content_type__app_label=app_label, content_type__model=model)
    if (by := read_small_whole(sent.get("by", ""))) is not None:
        listed = listed.filter(actor_id=by)
    if sent.get("search"):
        name = sent["search"].replace("\0", "")
        listed = listed.filter(Q(object_repr__icontains=name) | Q(additional_data__name__icontains=name))
    for key, lookup in (("from", "timestamp__date__gte"), ("to", "timestamp__date__lte")):
        day = _day(sent.get(key, ""))
        if day:
            listed = listed.filter(**{lookup: day})
    return listed


def _day(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None
