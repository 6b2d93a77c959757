"""Every rule of ledger/sql, tried from behind Python's back: refused by the database, and nothing changed."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from inventory.errors import CannotReverse, ClosedPeriod, NotEnough
from inventory.ledger import database_rules
from inventory.ledger.models import Books, Entry
from inventory.ledger.system_checks import database_rules_in_place
from inventory.ledger.verification import check
from tests import making
from tests.costing.commissions.side_doors import ATTEMPTS as COMMISSION_ATTEMPTS
from tests.costing.consignments.side_doors import ATTEMPTS as CONSIGNMENT_ATTEMPTS
from tests.costing.locations.side_doors import ATTEMPTS as PLACEMENT_ATTEMPTS
from tests.costing.papers.side_doors import ATTEMPTS as PRINTED_LIST_ATTEMPTS
from tests.costing.reports.side_doors import ATTEMPTS as WRITE_DOWN_ATTEMPTS
from tests.costing.selling.side_doors import ATTEMPTS as SALE_ATTEMPTS
from tests.days import TODAY
from tests.inventory.alerts.side_doors import ATTEMPTS as ALERT_ATTEMPTS
from tests.inventory.comparisons.side_doors import ATTEMPTS as COMPARISON_ATTEMPTS
from tests.inventory.forging import (
    POSTGRESQL,
    SQLITE,
    Attempt,
    Scene,
    balance,
    forge,
    header,
    line,
    make_scene,
    mirror_of,
    overdraw,
    run,
)
from tests.inventory.invariants import assert_books_hold, everything, refused, unchanged
from tests.inventory.purchasing.side_doors import ATTEMPTS as ORDER_ATTEMPTS
from tests.inventory.side_doors import ATTEMPTS as SHELF_ATTEMPTS
from tests.making import money, units
from tests.studio.auditing.side_doors import ATTEMPTS as CHANGE_ATTEMPTS
from tests.studio.issued.side_doors import ATTEMPTS as ISSUED_ATTEMPTS

pytestmark = pytest.mark.django_db
ATTEMPTS = (
    CONSIGNMENT_ATTEMPTS
    | COMMISSION_ATTEMPTS
    | SALE_ATTEMPTS
    | WRITE_DOWN_ATTEMPTS
    | PRINTED_LIST_ATTEMPTS
    | PLACEMENT_ATTEMPTS
    | SHELF_ATTEMPTS
    | COMPARISON_ATTEMPTS
    | ORDER_ATTEMPTS
    | ALERT_ATTEMPTS
    | ISSUED_ATTEMPTS
    | CHANGE_ATTEMPTS
)


@pytest.fixture
def scene() -> Scene:
    return make_scene()


def test_every_rule_of_both_databases_is_tried() -> None:
    known = {rule.name for vendor in (SQLITE, POSTGRESQL) for rule in database_rules.rules(vendor)}
    # REPLACE is tried in test_kept_seals.
    assert {name for name in known if not name.endswith("_no_replace")} == set(ATTEMPTS)


@pytest.mark.parametrize(
    "attempt",
    [pytest.param(each, id=f"{rule}: {each}") for rule, attempts in ATTEMPTS.items() for each in attempts],
)
def test_the_database_refuses(attempt: Attempt, scene: Scene) -> None:
    if attempt.only not in ("", connection.vendor):
        pytest.skip(f"only {attempt.only} knows this statement")
    before = everything()
    with pytest.raises(IntegrityError, match=attempt.says), transaction.atomic():
        attempt.go(scene)
    assert everything() == before
    assert_books_hold()


def test_a_forged_posting_that_breaks_no_rule_is_taken_so_the_refusals_are_for_the_right_reason(
    scene: Scene,
) -> None:
    before = balance(scene)
    forge(scene)
    after = balance(scene)
    assert (after.quantity - before.quantity, after.money - before.money) == (units(1), money(1))
    assert Books.objects.get().last_hash == "f" * 64


def test_ignoring_conflicts_skips_no_rule(scene: Scene) -> None:
    with unchanged(), pytest.raises(IntegrityError), transaction.atomic():
        forge(scene, overdraw(scene, balance(scene).quantity + 1, 0), ignore=True)


def test_taking_too_much_is_refused_in_words_first_and_by_the_database_last(scene: Scene) -> None:
    held = balance(scene).quantity
    with refused(NotEnough):
        making.spill(lot=scene.lot, quantity=held + 1)
    with (
        unchanged(),
        pytest.raises(IntegrityError, match=r"never_negative|less than nothing"),
        transaction.atomic(),
    ):
        forge(scene, overdraw(scene, held + 1, balance(scene).money + 1))


@pytest.mark.skipif(connection.vendor == SQLITE, reason="there a rule finds no table of the session's own")
def test_a_table_of_the_sessions_own_does_not_stand_in_for_the_books(scene: Scene) -> None:
    making.close_books(through=TODAY)
    run("CREATE TEMP TABLE inventory_books AS SELECT * FROM public.inventory_books")
    run("UPDATE pg_temp.inventory_books SET closed_through = NULL")
    with pytest.raises(IntegrityError, match="closed"), transaction.atomic():
        forge(scene)


def test_a_closed_day_is_refused_in_words_first_and_by_the_database_last(scene: Scene) -> None:
    making.close_books(through=TODAY)
    with refused(ClosedPeriod):
        making.spill(lot=scene.lot, quantity=1)
    with unchanged(), pytest.raises(IntegrityError, match="closed"), transaction.atomic():
        forge(scene)


def test_what_came_into_a_closed_period_behind_the_rules_is_told_afterwards(scene: Scene) -> None:
    making.close_books(through=TODAY)
    database_rules.remove()
    forge(scene, recorded_at=timezone.now() + timedelta(hours=1))
    database_rules.install()
    told = [found.what for found in check().breaks if found.rule == "closing"]
    assert ["recorded after the books were closed" in what for what in told] == [True]


def test_a_second_reversal_is_refused_in_words_first_and_by_the_database_last(scene: Scene) -> None:
    posting = making.spill(lot=scene.lot, quantity=1)
    making.take_back(posting)
    making.spill(lot=scene.lot, quantity=1)
    with refused(CannotReverse):
        making.take_back(posting)
    with unchanged(), pytest.raises(IntegrityError, match="reverses_id"), transaction.atomic():
        forge(scene, mirror_of(scene, posting), kind="reversal", reverses=posting)


@pytest.mark.django_db(transaction=True)
def test_lines_without_a_posting_cannot_be_committed() -> None:
    scene = make_scene()
    with unchanged(), pytest.raises(IntegrityError), transaction.atomic():
        Entry.objects.bulk_create([line(scene, 1), line(scene, 2)])


@pytest.mark.django_db(transaction=True)
def test_a_posting_without_its_lines_cannot_be_written() -> None:
    scene = make_scene()
    with unchanged(), pytest.raises(IntegrityError, match="at least one whole move"):
        header(scene).save(force_insert=True)


def test_a_missing_rule_is_reported_by_the_system_check() -> None:
    assert database_rules.differences() == []
    table = "" if connection.vendor == SQLITE else " ON inventory_entry"
    run(f"DROP TRIGGER meniscus_entry_no_update{table}")
    assert database_rules.differences() == ["meniscus_entry_no_update is missing"]
    [error] = [found for found in database_rules_in_place(["default"]) if found.id == "inventory.E001"]
    assert "meniscus_entry_no_update is missing" in error.msg
    with pytest.raises(SystemCheckError, match="entry_no_update is missing"):
        call_command("check", "--tag", "database", databases=["default"])
    database_rules.install()
    assert database_rules.differences() == []


def test_an_altered_rule_is_reported_and_an_unknown_one_too() -> None:
    rule = next(r for r in database_rules.rules(connection.vendor) if r.name == "entry_no_delete")
    if connection.vendor == SQLITE:
        run(f"DROP TRIGGER {rule.trigger}")
        run(f"CREATE TRIGGER {rule.trigger} BEFORE DELETE ON inventory_entry BEGIN SELECT 1; END")
        run("CREATE TRIGGER meniscus_extra BEFORE DELETE ON inventory_lot BEGIN SELECT 1; END")
    else:
        body = "BEGIN RETURN OLD; END"
        for name in (rule.trigger, "meniscus_extra"):
            run(f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$")
        run(
            "CREATE TRIGGER meniscus_extra BEFORE DELETE ON inventory_lot FOR EACH ROW "
            "EXECUTE FUNCTION meniscus_extra()"
        )
    assert database_rules.differences() == [
        "meniscus_extra is not part of Meniscus",
        f"{rule.trigger} was altered",
    ]
    database_rules.install()
    assert database_rules.differences() == []


@pytest.mark.skipif(connection.vendor != POSTGRESQL, reason="SQLite cannot switch a trigger off")
def test_a_rule_switched_off_counts_as_missing() -> None:
    run("ALTER TABLE inventory_entry DISABLE TRIGGER meniscus_entry_no_update")
    assert database_rules.differences() == ["meniscus_entry_no_update is missing"]
