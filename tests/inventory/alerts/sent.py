"""What a program sends about an alert."""

from datetime import timedelta
from typing import Any

from django.utils import timezone

from inventory.alerts.models import Alert


def bodies_of_alerts() -> dict[str, dict[str, Any]]:
    """For each answer to an alert a body that it takes."""
    alert = f"alerts/{Alert.objects.standing().order_by('pk')[0].pk}"
    until = timezone.localdate() + timedelta(days=7)
    return {
        f"{alert}/acknowledge/": {},
        f"{alert}/snooze/": {"until": until.isoformat()},
        f"{alert}/show-again/": {},
    }
