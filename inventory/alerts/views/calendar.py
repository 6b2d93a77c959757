"""One's own calendar address, and the calendar that it opens without a login."""

import hashlib

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.cache import get_conditional_response
from django.utils.crypto import constant_time_compare
from django.utils.http import quote_etag
from django.views.decorators.http import require_POST, require_safe

from inventory.alerts.actions.calendar_feeds import renew_calendar, switch_calendar_off
from inventory.alerts.calendars import FETCH_EVERY, calendar_file, secret_of
from inventory.alerts.models import CalendarFeed
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.preferences.models import Studio
from studio.translation import _

SECTION = "inventory:calendar"


@require_safe
@role_required(*EVERYONE)
def calendar_page(request: HttpRequest) -> HttpResponse:
    feed = CalendarFeed.objects.filter(person=current_user(request), is_on=True).first()
    context = {
        "title": _("Calendar"),
        "lead": _(
            "Plans, deliveries, drying times and use-by dates in the calendar of your phone or computer."
        ),
        "address": request.build_absolute_uri(_path_of(feed)) if feed else "",
        "feed": feed,
        "section": SECTION,
    }
    return render(request, "alerts/calendar.html", context)


@require_POST
@role_required(*EVERYONE)
def calendar_renew(request: HttpRequest) -> HttpResponse:
    renew_calendar(person=current_user(request), at=timezone.now())
    messages.success(request, _("Here is your calendar address. Any address before it no longer works."))
    return redirect(SECTION)


@require_POST
@role_required(*EVERYONE)
def calendar_off(request: HttpRequest) -> HttpResponse:
    switch_calendar_off(person=current_user(request))
    messages.success(request, _("Your calendar address no longer works."))
    return redirect(SECTION)


@require_safe
@login_not_required
def calendar_feed(request: HttpRequest, name: str, secret: str) -> HttpResponseBase:
    """The calendar of whoever holds the address, in that person's language. Any other address is not found."""
    feed = CalendarFeed.objects.select_related("person").filter(name=name).first()
    expected = secret_of(feed) if feed else secret_of(CalendarFeed(name=name, seed=""))
    is_right = constant_time_compare(secret, expected)
    if feed is None or not (is_right and feed.is_on and feed.person.is_active):
        raise Http404
    studio, today = Studio.current(), timezone.localdate()
    stamp = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)  # the same file all day
    with translation.override(feed.person.language or studio.language):
        content = calendar_file(feed, name=studio.name, on=today, stamp=stamp)
    answer = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="meniscus.ics"'
    answer["Cache-Control"] = f"private, max-age={FETCH_EVERY.seconds}"
    answer["X-Robots-Tag"] = "noindex"
    etag = quote_etag(hashlib.sha256(content).hexdigest())
    answer["ETag"] = etag
    return get_conditional_response(request, etag=etag, response=answer) or answer


def _path_of(feed: CalendarFeed) -> str:
    return reverse("inventory:calendar-feed", args=[feed.name, secret_of(feed)])
