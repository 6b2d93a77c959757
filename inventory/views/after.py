"""What follows whenever a page has changed the stock."""

from django.http import HttpRequest
from django.utils import timezone

from inventory.alerts import refresh_alerts


def stock_changed(request: HttpRequest) -> None:
    """Raise and clear alerts by the stock as it stands after a page's writer."""
    refresh_alerts(on=timezone.localdate(), at=timezone.now())
