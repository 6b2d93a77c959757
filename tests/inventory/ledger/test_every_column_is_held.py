"""Whatever is changed by hand in any column of any table, a check of the books finds it, but for what is left out.

The ledger's own tables, which other rules hold, are edited column by column in tests/inventory/test_generated_edits.py.
"""

from collections.abc import Iterator
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, Permission
from django.db import DatabaseError, models, transaction
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from costing.demo.build import build
from costing.papers.models import PrintedList
from costing.pricing.models import PriceRules
from costing.reports.models import WriteDown
from inventory.alerts.actions.calendar_feeds import renew_calendar
from inventory.alerts.models import Alert, Digest, DigestChoice
from inventory.ledger import database_rules
from inventory.ledger.models import Lot
from inventory.ledger.month_ends import keep_month_ends
from inventory.ledger.verification import Report, check
from inventory.webhooks.actions import write_messages
from inventory.webhooks.models import Webhook
from studio.accounts.models import User
from studio.accounts.tokens import add_token
from studio.auditing.models import ChangeSeal
from studio.auditing.sealed_rows import left_out, sealed_models
from studio.backups.models import Backup
from studio.imports.models import RememberedHeadings
from tests.days import AT, DAY, TODAY
from tests.inventory.tampering import behind_the_ledgers_back

if TYPE_CHECKING:
    AnyField = models.Field[Any, Any]

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module", autouse=True)
def studio(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[None]:
    """The demonstration studio and what it lacks, built once for this module and rolled back after it."""
    with pytest.MonkeyPatch.context() as patch, django_db_blocker.unblock(), transaction.atomic():
        patch.setattr("django.conf.settings.MEDIA_ROOT", tmp_path_factory.mktemp("photos"))
        build(today=TODAY, now=AT)
        add_what_it_lacks()
        keep_month_ends(before=TODAY + 60 * DAY)
        yield
        transaction.set_rollback(True)


def add_what_it_lacks() -> None:
    person = User.objects.earliest("pk")
    DigestChoice.objects.create(person=person)
    Webhook.objects.create(address="https://example.org/told", events="session.logged", seed="a")
    write_messages("session.logged", [1], at=AT)
    digest = Digest.objects.create(day=TODAY, address="tide@example.org", message_id="1", written_at=AT)
    digest.alerts.set(Alert.objects.all()[:1])
    renew_calendar(person=person, at=AT)
    add_token(user=person, name="Till", scope="write", days=1, at=AT)
    TOTPDevice.objects.create(user=person, name="phone")
    StaticDevice.objects.create(user=person, name="codes").token_set.create(token="abcd")
    person.groups.add(Group.objects.create(name="Anybody"))
    person.user_permissions.add(Permission.objects.earliest("pk"))
    RememberedHeadings.remember("materials", {"name": "title"})
    Backup.objects.create(made_at=AT, path="/srv/tide.zip", ok=True)
    PriceRules.objects.create()
    PrintedList.objects.create(on=TODAY, printed_at=AT, prices={"1": 85_000_000})
    WriteDown.objects.create(
        lot=Lot.objects.earliest("pk"), on=TODAY, cost=9, value=4, amount=5, recorded_at=AT
    )


@pytest.fixture(autouse=True)
def rules_that_nobody_compares(monkeypatch: pytest.MonkeyPatch) -> None:
    """The database's own rules are off for an edit; that this is found as well is no answer here."""
    monkeypatch.setattr(database_rules, "differences", lambda using="default": [])


def columns_of(model: type[models.Model]) -> "list[AnyField]":
    return [field for field in model._meta.concrete_fields if not field.primary_key]


def others(field: "AnyField", before: Any) -> Iterator[Any]:
    """Values that the column may hold instead."""
    if field.related_model:
        related = field.related_model
        assert not isinstance(related, str)
        yield from related._base_manager.exclude(pk=before).values_list("pk", flat=True)[:3]
        yield 999_999_999
    elif isinstance(field, models.BooleanField):
        yield not before
    elif isinstance(field, models.DateField):
        day = before or (AT if isinstance(field, models.DateTimeField) else TODAY)
        yield from (day - DAY, day + DAY)
    elif isinstance(field, models.IntegerField):
        yield from ((before or 0) + 1, (before or 2) - 1, (before or 0) + 1_000)
    elif isinstance(field, models.JSONField):
        yield '["another"]'
    elif isinstance(field, models.GenericIPAddressField):
        yield "192.0.2.1"
    else:
        yield from (value for value, _label in field.flatchoices if value != before)
        yield f"{before}x"[-(getattr(field, "max_length", None) or 99) :]
    if field.null and before is not None:
        yield None


def edit(run: Any, field: "AnyField", place: int) -> Any:
    """Edit a column of one row behind the ledger's back; which row, or None where the database refuses every value."""
    model = field.model
    rows = model._base_manager.order_by("pk")
    row = rows[place % rows.count()]
    key = model._meta.pk
    assert key is not None
    said = f"UPDATE {model._meta.db_table} SET {field.column} = %s WHERE {key.column} = %s"
    for value in others(field, getattr(row, field.attname)):
        try:
            with transaction.atomic():
                run(said, value, row.pk)
        except DatabaseError:
            continue
        return row.pk
    return None


def changed(*fields: "AnyField", place: int = 0) -> tuple[Report, dict[str, str]]:
    """What a check says once a row was edited in each of these columns, and where each was edited."""
    edited = {}
    with transaction.atomic():
        with behind_the_ledgers_back() as run:
            for field in fields:
                number = edit(run, field, place)
                if number is not None:
                    edited[str(field)] = f"{field.model._meta.verbose_name} {number}"
            report = check()
        transaction.set_rollback(True)
    return report, edited


def test_every_table_has_a_row_to_be_edited() -> None:
    empty = {model.__name__ for model in sealed_models() if not model._base_manager.exists()}
    assert empty == set()


def test_the_books_are_clean_before_anything_is_edited() -> None:
    assert [(found.rule, found.where, found.what) for found in check().breaks] == []


def test_every_edit_of_a_sealed_column_is_found_in_its_row() -> None:
    without = left_out()
    by_table = [
        [each for each in columns_of(model) if f"{model._meta.label}.{each.name}" not in without]
        for model in sealed_models()
        if model._base_manager.exists()
    ]
    missed, tried = [], 0
    for place in range(max(map(len, by_table))):  # a column of each table at a time
        report, edited = changed(
            *(columns[place] for columns in by_table if place < len(columns)), place=place
        )
        told = {found.where for found in report.breaks}
        tried += len(edited)
        missed += [f"{column}: {where}" for column, where in edited.items() if where not in told]
    assert missed == []
    assert tried > 400


def test_everything_is_sealed_but_what_is_left_out_with_its_reason() -> None:
    everything = set(apps.get_models(include_auto_created=True))  # those of the libraries too
    unsealed = {model._meta.label for model in everything - set(sealed_models())}
    tables = {name for name in left_out() if name.count(".") == 1}
    assert unsealed == tables
    assert all(left_out().values())
    assert ChangeSeal._meta.label in tables


TAKEN_OUT = "DELETE FROM {table} WHERE {key} = %s"
PUT_IN = (
    "INSERT INTO {table} ({key}, {columns}) SELECT {key} + 900000, {columns} FROM {table} WHERE {key} = %s"
)


@pytest.mark.parametrize(("said", "on"), [(TAKEN_OUT, 0), (PUT_IN, 900_000)], ids=["taken out", "put in"])
def test_every_row_that_is_taken_out_or_put_in_is_found(said: str, on: int) -> None:
    edited = set()
    with transaction.atomic():
        with behind_the_ledgers_back() as run:
            for model in sealed_models():
                key, row = model._meta.pk, model._base_manager.order_by("pk").last()
                assert key is not None
                assert row is not None
                columns = ", ".join(f'"{each.column}"' for each in columns_of(model)) or "1"
                with (
                    suppress(DatabaseError),
                    transaction.atomic(),
                ):  # where a key of several columns refuses it
                    run(said.format(table=model._meta.db_table, key=key.column, columns=columns), row.pk)
                    edited.add(f"{model._meta.verbose_name} {row.pk + on}")
            report = check()
        transaction.set_rollback(True)
    assert edited - {found.where for found in report.breaks} == set()
    assert len(edited) > 25
