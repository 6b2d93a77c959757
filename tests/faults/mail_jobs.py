"""Jobs that raise alerts and mail them through a server of the test's own."""

from datetime import timedelta
from io import StringIO
from unittest.mock import patch

from django.conf import settings
from django.core.management import CommandError, call_command
from django.db.models import F
from django.utils import timezone

from inventory.alerts.models import Alert, Digest
from tests.faults.jobs import Meet, Say
from tests.making import make_material, make_owner, units

PATIENCE = 0.4  # seconds that the command waits for a mail server here; a studio's waits longer


def run_low(*, first: int, count: int, say: Say, meet: Meet) -> None:
    """Add materials of which nothing is left, each of its own name."""
    owner = make_owner()
    owner.email = "nell@wrackline.example"
    owner.save()
    for number in range(first, first + count):
        make_material(name=name_of(number), reorder_level=units(100))


def name_of(number: int) -> str:
    return f"Mussel blue no. {number} of many"


def send_alerts(*, port: int, day: int = 0, say: Say, meet: Meet) -> tuple[int, str]:
    """Run the command, so many days from now. Returns its exit status and what it wrote."""
    assert 0 < settings.EMAIL_TIMEOUT <= 60, "a hung mail server must not hold the command for ever"
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, PATIENCE
    told, then = StringIO(), timezone.now() + timedelta(days=day)
    meet()
    try:
        with patch.object(timezone, "now", lambda: then):
            call_command("send_alerts", stdout=told)
    except CommandError as problem:
        return problem.returncode, str(problem)
    return 0, told.getvalue()


def let_time_pass(*, say: Say, meet: Meet) -> None:
    """As if the claims of runs that died were long ago."""
    unsent = Digest.objects.filter(sent_at__isnull=True, claimed_at__isnull=False)
    unsent.update(claimed_at=F("claimed_at") - timedelta(days=1000))


def untold_alerts(*, say: Say, meet: Meet) -> int:
    """How many alerts stand in no email that was sent."""
    return Alert.objects.exclude(digests__sent_at__isnull=False).count()
