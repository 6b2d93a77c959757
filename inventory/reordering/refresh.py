"""What follows whenever a page has changed the stock."""

import logging

from django.db import DatabaseError
from django.http import HttpRequest
from django.utils import timezone

from inventory.reordering.actions import refresh_alerts
from studio.operations import outages as out_of_reach

log = logging.getLogger("meniscus.alerts")


def stock_changed(request: HttpRequest) -> None:
    """Raise and clear alerts by the stock as it stands after a page's writer.

    The posting is safe by now. If the disk is full only since, the page must not say that nothing was saved: the
    alerts wait for the next posting, or for the daily run.
    """
    try:
        refresh_alerts(on=timezone.localdate(), at=timezone.now())
    except DatabaseError as problem:
        if out_of_reach.reason(problem) is None:
            raise
        log.warning("alerts not brought up to date: %s", problem)
