"""The daily email: what it says, to whom, and on which days."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.core.management import CommandError
from django.db import IntegrityError, transaction

from inventory.alerts.actions import outbox
from inventory.alerts.actions.answers import acknowledge, snooze
from inventory.alerts.digests import Recipient, compose, next_letter_on, recipients
from inventory.alerts.models import Alert, AlertCheck, DigestChoice
from inventory.ledger.models import Books
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts import mailing
from tests.inventory.alerts.looking import look, low_material, set_up
from tests.inventory.alerts.mailing import BENCH, LOFT, a_low_material, send, with_address
from tests.making import (
    make_bookkeeper,
    make_delivery,
    make_helper,
    make_lot,
    make_material,
    make_order,
    make_owner,
    make_submission,
    money,
    units,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_day")]


def letter(recipient: Recipient | None = None, on: date = TODAY) -> str:
    """What the email of a day would say; "" for none."""
    found = compose(recipient or Recipient(BENCH, "en"), on=on, studio=Studio.current())
    return found.text.replace("\xa0", " ") if found else ""


# What it says


def test_it_tells_what_is_new_by_kind_with_the_reason_and_seals_the_ledger(owners_address: str) -> None:
    a_low_material(name="Mussel blue")
    low_material(name="Gull White")
    told = send()
    assert "Open alerts: 2." in told
    assert "Out of stock: Mussel blue. 0 mL left; reorder level 100 mL. Your own level." in told
    assert "Emails sent: 1." in told
    [message] = mail.outbox
    assert (message.subject, message.to) == ("2 new alerts: Out of stock, To reorder", [owners_address])
    body = message.body.replace("\xa0", " ")
    assert "\nOut of stock\n- Mussel blue: 0 mL left; reorder level 100 mL. Your own level.\n" in body
    assert "\nTo reorder\n- Gull White: 100 mL left; reorder level 250 mL. Your own level.\n" in body
    assert Books.objects.get().last_hash in body
    assert isinstance(message, EmailMultiAlternatives)
    [(html, kind)] = message.alternatives
    assert kind == "text/html"
    assert "<strong>Mussel blue</strong>" in str(html)


def test_a_name_cannot_steer_the_terminal_or_begin_a_line(owners_address: str) -> None:
    a_low_material(name="Mussel\x1b]0;mine\x07\x1b[2J blue\n- Gull\u2028White\x9b31m")
    told = send()
    [message] = mail.outbox
    assert isinstance(message, EmailMultiAlternatives)
    for text in (told, message.body, str(message.alternatives[0][0])):
        assert "Mussel]0;mine[2J blue - Gull White31m" in text


def test_it_tells_how_many_are_still_open_from_before(
    owners_address: str, on_day: Callable[[date], None]
) -> None:
    a_low_material()
    send()
    on_day(TODAY + DAY)
    low_material(name="Gull White")
    send()
    assert mail.outbox[1].subject == "1 new alert: To reorder"
    assert "Still open from before: Out of stock (1)." in mail.outbox[1].body


def test_nothing_new_is_no_email(owners_address: str, on_day: Callable[[date], None]) -> None:
    assert "Nothing needs attention." in send()
    a_low_material()
    send()
    on_day(TODAY + DAY)
    assert "Emails sent: 0." in send()
    assert len(mail.outbox) == 1


def test_an_address_gets_one_email_a_day_and_what_came_since_on_the_next(
    owners_address: str, on_day: Callable[[date], None]
) -> None:
    a_low_material(name="Mussel blue")
    send()
    a_low_material(name="Kelp green")
    assert "Emails sent: 0." in send()
    on_day(TODAY + DAY)
    assert "Emails sent: 1." in send()
    assert ["Kelp green" in message.body for message in mail.outbox] == [False, True]


def test_what_was_acknowledged_ordered_or_snoozed_is_left_out() -> None:
    seen, ordered, later = low_material(), low_material(), low_material()
    look()
    acknowledge(alert=Alert.objects.get(material=seen), submission=make_submission())
    make_order((ordered, units(500)))
    look()
    snooze(alert=Alert.objects.get(material=later), until=TODAY + 3 * DAY, submission=make_submission())
    assert letter() == ""
    assert later.name in letter(on=TODAY + 3 * DAY)


def test_a_snoozed_alert_that_was_told_is_told_again_after_its_snooze(
    owners_address: str, on_day: Callable[[date], None]
) -> None:
    low_material()
    send()
    snooze(alert=Alert.objects.get(), until=TODAY + 2 * DAY, submission=make_submission())
    on_day(TODAY + DAY)
    send()
    assert len(mail.outbox) == 1
    on_day(TODAY + 2 * DAY)
    send()
    on_day(TODAY + 3 * DAY)
    send()
    assert len(mail.outbox) == 2


def test_it_speaks_its_readers_language_and_the_names_of_days_too() -> None:
    lot = make_lot(material=make_material(name="Gull White"), quantity=units(100))
    lot.best_before = date(2025, 6, 1)
    lot.save()
    look()
    english, german = letter(Recipient(BENCH, "en")), letter(Recipient(BENCH, "de"))
    assert "1 Jun 2025" in english
    assert "1 Juni 2025" in german


# Who gets it


def test_owners_get_it_unless_they_said_no_and_others_if_they_said_yes() -> None:
    owner = with_address(make_owner(), LOFT)
    helper = with_address(make_helper(), BENCH)
    make_bookkeeper()
    studio = Studio.current()
    assert [each.address for each in recipients(studio)] == [LOFT]
    for person, wants in ((owner, False), (helper, True)):
        outbox.choose_digest(
            person=person, wants_digest=wants, muted=["near_date"], submission=make_submission(by=person)
        )
    assert [(each.address, "near_date" in each.left_out) for each in recipients(studio)] == [(BENCH, True)]


def test_what_tells_about_money_is_left_out_for_who_may_not_see_it() -> None:
    owner, helper = with_address(make_owner(), LOFT), with_address(make_helper(), BENCH)
    for person in (owner, helper):
        DigestChoice.objects.create(person=person)
    paint = make_material()
    for ago, price in ((60, 10), (30, 10), (0, 20)):
        make_delivery(lines=[(paint, units(100), money(price))], on=TODAY - ago * DAY)
    look()
    to_owner, to_helper = (letter(each) for each in recipients(Studio.current()))
    assert "£20.00 per 100 mL" in to_owner
    assert to_helper == ""


def test_a_kind_that_somebody_left_out_is_not_told() -> None:
    low_material()
    look()
    assert letter(Recipient(BENCH, "en", ("to_reorder",))) == ""


def test_given_addresses_get_it_instead_each_once_and_alone(owners_address: str) -> None:
    a_low_material()
    send("--to", BENCH, "--to", LOFT, "--to", BENCH)
    assert sorted(message.to for message in mail.outbox) == [[BENCH], [LOFT]]
    names = {message.extra_headers["Message-ID"] for message in mail.outbox}
    assert len(names) == 2
    assert all(re.fullmatch(r"<alerts-[0-9a-f]{32}@[^@<>\s]+>", name) for name in names)


def test_without_anybody_to_tell_the_alerts_wait() -> None:
    a_low_material()
    with_address(make_helper(), "helper@wrackline.example")
    with pytest.raises(CommandError, match="no one to send them to") as refusal:
        send()
    assert refusal.value.returncode == 2
    assert "Emails sent: 1." in send("--to", BENCH)


def test_an_owner_who_wants_no_email_is_no_failure(owners_address: str) -> None:
    DigestChoice.objects.create(person=User.objects.get(email=owners_address), wants_digest=False)
    a_low_material()
    assert "Emails sent: 0." in send()


# Quiet days


def test_on_a_quiet_day_nothing_goes_out_and_what_waited_goes_with_the_next(
    owners_address: str, on_day: Callable[[date], None], settings: Any
) -> None:
    set_up(quiet_days="67")
    friday = date(2025, 6, 13)
    on_day(friday)
    settings.EMAIL_BACKEND, working = f"{mailing.__name__}.BrokenServer", settings.EMAIL_BACKEND
    a_low_material(name="Mussel blue")
    with pytest.raises(CommandError, match="asleep"):
        send()
    settings.EMAIL_BACKEND = working
    for day in (friday + DAY, friday + 2 * DAY):
        on_day(day)
        a_low_material()
        assert "quiet day" in send()
    assert mail.outbox == []
    on_day(friday + 3 * DAY)
    assert "Emails sent: 2." in send()
    assert [message.subject[:6] for message in mail.outbox] == ["1 new ", "2 new "]
    assert AlertCheck.objects.count() == 4


def test_the_next_email_is_of_today_until_it_is_written_and_never_of_a_quiet_day(owners_address: str) -> None:
    studio, recipient = Studio.current(), Recipient(BENCH, "en")
    studio.quiet_days = "3"  # the day after TODAY, a Tuesday
    assert next_letter_on(TODAY, recipient, studio) == TODAY
    assert next_letter_on(TODAY + DAY, recipient, studio) == TODAY + 2 * DAY
    a_low_material()
    look()
    outbox.write_digests(on=TODAY, at=AT, recipients=[recipient])
    assert next_letter_on(TODAY, recipient, studio) == TODAY + 2 * DAY


@pytest.mark.parametrize("days", ["8", "76", "11", "x"])
def test_the_database_takes_weekdays_alone_each_once_and_in_order(days: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        set_up(quiet_days=days)
