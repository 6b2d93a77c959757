"""Ways round Python into what happened to alerts and the emails that told of them; the database refuses each."""

from inventory.alerts.actions.outbox import note_sent, write_digests
from inventory.alerts.digests import Recipient
from inventory.alerts.models import AlertEvent, Digest
from tests.days import AT, TODAY
from tests.inventory.alerts.looking import look, low_material
from tests.inventory.forging import POSTGRESQL, SQLITE, Attempt, run
from tests.inventory.side_doors import truncate


def told() -> Digest:
    """An alert, and the email that tells of it, not sent yet."""
    low_material()
    look()
    [digest] = write_digests(on=TODAY, at=AT, recipients=[Recipient("bench@wrackline.example", "en")])
    return digest


def rewrite_an_event() -> None:
    told()
    AlertEvent.objects.update(what="acknowledged")


def delete_events() -> None:
    told()
    AlertEvent.objects.all().delete()


def replace_an_event() -> None:
    told()
    run("REPLACE INTO inventory_alertevent SELECT * FROM inventory_alertevent")


def rewrite_an_email() -> None:
    Digest.objects.filter(pk=told().pk).update(text="nothing happened")


def send_again() -> None:
    digest = told()
    note_sent(digest, at=AT)
    Digest.objects.filter(pk=digest.pk).update(sent_at=None)


def delete_emails() -> None:
    told()
    Digest.objects.all()._raw_delete("default")


def empty_events() -> None:
    told()
    truncate("inventory_alertevent")


def empty_emails() -> None:
    told()
    truncate("inventory_digest, inventory_digest_alerts")


ATTEMPTS = {
    "alertevent_update": [Attempt("update()", lambda s: rewrite_an_event(), "is never changed")],
    "alertevent_delete": [
        Attempt("delete()", lambda s: delete_events(), "is never deleted"),
        Attempt("REPLACE", lambda s: replace_an_event(), "no row replaces another", only=SQLITE),
    ],
    "alertevent_no_truncate": [
        Attempt("TRUNCATE", lambda s: empty_events(), "is never deleted", only=POSTGRESQL)
    ],
    "digest_update": [Attempt("update()", lambda s: rewrite_an_email(), "keeps its name and its text")],
    "digest_sent": [Attempt("update()", lambda s: send_again(), "is never changed")],
    "digest_delete": [Attempt("delete()", lambda s: delete_emails(), "is never deleted")],
    "digest_no_truncate": [
        Attempt("TRUNCATE", lambda s: empty_emails(), "is never deleted", only=POSTGRESQL)
    ],
}
