"""Who can write into the database, and not through Meniscus, is found out: who signs in and how, alerts, messages.

Whatever column is edited, test_every_column_is_held.py finds; here rows are put in, taken out and exchanged.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.alerts.actions.answers import acknowledge
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert
from inventory.ledger.verification import check
from inventory.webhooks.actions import compose, note, renew_secret, write_messages
from inventory.webhooks.models import Webhook, WebhookMessage
from inventory.webhooks.sending import Outcome
from studio.accounts import two_factor
from studio.accounts.models import Token
from studio.accounts.tokens import add_token, note_use, revoke_tokens_of
from studio.submission import transaction as submitted
from tests.days import AT, DAY, TODAY
from tests.inventory.tampering import after, broken
from tests.making import make_bookkeeper, make_lot, make_material, make_owner, make_submission, units

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module", autouse=True)
def studio(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Somebody with a phone, recovery codes and tokens; alerts that came and went; messages told and waiting."""
    with django_db_blocker.unblock(), transaction.atomic():
        owner, bookkeeper = make_owner(), make_bookkeeper()
        owner.set_password("ebb-tide-at-seven")
        owner.save()
        sign_in_by_everything(owner)
        add_token(user=bookkeeper, name="Reports", scope="read", days=9, at=AT)
        tell_a_webhook(raise_alerts(owner))
        yield
        transaction.set_rollback(True)


def sign_in_by_everything(owner: Any) -> None:
    add_token(user=owner, name="Till", scope="write", days=9, at=AT)
    revoke_tokens_of(owner, at=AT + DAY)
    token, _text = add_token(user=owner, name="Stall", scope="write", days=9, at=AT)
    note_use(token, at=AT + DAY)
    phone = two_factor.begin(user=owner)
    with submitted(None):
        TOTPDevice.objects.get(pk=phone.pk).save()
    device = StaticDevice.objects.create(user=owner, name="codes")
    for code in ("abcd", "efgh"):
        device.token_set.create(token=code)
    assert device.verify_token("abcd")  # a recovery code is good once


def raise_alerts(owner: Any) -> Alert:
    for name in ("Teal", "Ochre"):
        paint = make_material(name=name, reorder_level=units(100))
        make_lot(material=paint, quantity=units(10))
    refresh_alerts(on=TODAY, at=AT)
    first, *_others = Alert.objects.order_by("pk")
    acknowledge(alert=first, submission=make_submission(by=owner))
    refresh_alerts(on=TODAY + DAY, at=AT + DAY)
    return first


def tell_a_webhook(alert: Alert) -> None:
    hook = Webhook.objects.create(address="https://example.org/told", events="alert.raised")
    renew_secret(hook)
    write_messages("alert.raised", [alert.pk], at=AT)
    write_messages("alert.raised", [alert.pk], at=AT)
    message = WebhookMessage.objects.get()
    assert compose(message)
    note(message, Outcome(500, "away"), at=AT)


EDITS = {
    "a token is given to somebody else": "UPDATE studio_token SET user_id = (SELECT MIN(user_id) FROM studio_token)",
    "a token that only read may write": "UPDATE studio_token SET scope = 'write' WHERE scope = 'read'",
    "a token never ends": "UPDATE studio_token SET expires_at = '2199-01-01 00:00:00+00:00'",
    "a token is no longer revoked": "UPDATE studio_token SET revoked_at = NULL WHERE revoked_at IS NOT NULL",
    "a token opens by another text": f"UPDATE studio_token SET digest = '{'a' * 64}' WHERE name = 'Stall'",
    "a token is put in": "INSERT INTO studio_token (user_id, name, prefix, digest, scope, made_at, expires_at) "
    "SELECT id, 'Tide', 'meniscus_x', 'b', 'write', '2026-01-01', '2199-01-01' FROM studio_user WHERE role = 'owner'",
    "a token is taken out": "DELETE FROM studio_token WHERE name = 'Till'",
    "a password is exchanged": "UPDATE studio_user SET password = 'pbkdf2_sha256$1$a$b' WHERE role = 'owner'",
    "a phone is taken out": "DELETE FROM otp_totp_totpdevice",
    "a phone has another secret": "UPDATE otp_totp_totpdevice SET key = 'abababababababababababababababababababab'",
    "a phone is confirmed": "UPDATE otp_totp_totpdevice SET confirmed = NOT confirmed",
    "a used recovery code is put back": "INSERT INTO otp_static_statictoken (device_id, token) "
    "SELECT id, 'abcd' FROM otp_static_staticdevice",
    "recovery codes are taken out": "DELETE FROM otp_static_statictoken",
    "recovery codes are given to somebody else": "UPDATE otp_static_staticdevice SET user_id = "
    "(SELECT id FROM studio_user WHERE role = 'bookkeeper')",
    "what happened to an alert is taken out": "DELETE FROM inventory_alertevent WHERE what = 'acknowledged'",
    "somebody else has seen an alert": "UPDATE inventory_alertevent SET by_id = "
    "(SELECT id FROM studio_user WHERE role = 'bookkeeper') WHERE by_id IS NOT NULL",
    "an alert is cleared": "UPDATE inventory_alert SET cleared_at = '2026-01-01 00:00:00+00:00'",
    "an alert has another reason": "UPDATE inventory_alert SET figures = '{}'",
    "a message tells of something else": "UPDATE inventory_webhookmessage SET subject = subject + 1",
    "a message says something else": "UPDATE inventory_webhookmessage SET body = '{}'",
    "a message is taken out": "DELETE FROM inventory_webhookmessage",
    "a webhook leads elsewhere": "UPDATE inventory_webhook SET address = 'https://example.net/told'",
}


def test_nothing_is_found_where_nothing_was_edited() -> None:
    assert [(found.where, found.what) for found in check().breaks] == []


@pytest.mark.parametrize("said", EDITS.values(), ids=EDITS)
def test_every_edit_is_found(said: str) -> None:
    assert "recorded" in broken(after((said,)))


def test_an_alert_that_is_taken_out_with_all_that_names_it_is_found() -> None:
    number = Alert.objects.latest("pk").pk
    gone = [("DELETE FROM inventory_alertevent WHERE alert_id = %s", number)]
    gone += [("DELETE FROM inventory_webhookmessage WHERE subject = %s", number)]
    report = after(*gone, ("DELETE FROM inventory_alert WHERE id = %s", number))
    assert f"alert {number}" in {found.where for found in report.breaks}


def test_a_webhook_that_is_taken_out_is_found() -> None:
    report = after(("DELETE FROM inventory_webhookmessage",), ("DELETE FROM inventory_webhook",))
    assert "webhook" in {found.where.partition(" ")[0] for found in report.breaks}


def test_last_uses_of_a_token_write_no_seal() -> None:
    before = Token.objects.latest("pk")
    note_use(before, at=AT + 3 * DAY)
    assert Token.objects.latest("pk").last_used_at == AT + 3 * DAY
    assert check().is_clean
