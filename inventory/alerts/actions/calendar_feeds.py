"""A person's calendar address: made, renewed, switched off."""

from datetime import datetime
from secrets import token_urlsafe
from uuid import uuid4

from django.db import transaction

from inventory.alerts.models import CalendarFeed
from studio.accounts.models import User
from studio.auditing.writing import set_all

SEED_BYTES = 24


@transaction.atomic
def renew_calendar(*, person: User, at: datetime) -> CalendarFeed:
    """Give a person a new calendar address, the first or another one. The address before it stops working."""
    User.objects.select_for_update(no_key=True).get(pk=person.pk)  # a double click makes one
    seed = token_urlsafe(SEED_BYTES)
    feed, _is_new = CalendarFeed.objects.update_or_create(
        person=person,
        defaults={"seed": seed, "is_on": True, "renewed_at": at},
        create_defaults={"name": uuid4().hex, "seed": seed, "renewed_at": at},
    )
    return feed


@transaction.atomic
def switch_calendar_off(*, person: User) -> None:
    """Make a person's calendar address stop working. What its events are called is kept for a later one."""
    set_all(CalendarFeed.objects.filter(person=person), is_on=False)
