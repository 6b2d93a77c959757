"""Sessions that are kept as sets."""

from django.db.models import QuerySet

from inventory.sessions.models import Session


def kept_sets() -> QuerySet[Session]:
    """Sets by name, without those whose session was reversed."""
    return Session.objects.standing().exclude(set_name="").order_by("set_name")
