"""check_books: honest books are clean, every rule is looked at, and the command says what it found."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.ledger import database_rules, verification
from inventory.ledger.findings import RULES
from inventory.ledger.models import Books, CostingMethod, Entry, LotBalance, Posting
from inventory.ledger.month_ends import keep_month_ends
from inventory.ledger.verification import check, snapshot
from inventory.materials.models import Material
from tests.days import TODAY
from tests.inventory.tampering import Story, after, behind_the_ledgers_back, broken, live_through_a_fortnight
from tests.making import make_material, spill, units, use_cost_flow

pytestmark = pytest.mark.django_db


class Terminal(StringIO):
    def isatty(self) -> bool:
        return True


def test_honest_books_are_clean_and_every_rule_was_looked_at(story: Story) -> None:
    keep_month_ends(before=TODAY + timedelta(days=62))
    report = check()
    assert report.breaks == ()
    assert report.is_clean
    unlooked = {rule.rule for rule in report.rules if not rule.checked}
    # There are no pieces in this story, and no seals kept elsewhere.
    assert unlooked - {"file"} == {"cost_sheets", "outcomes", "seals"}
    assert ("file" in unlooked) == (connection.vendor != "sqlite")
    assert (report.postings, report.entries) == (Posting.objects.count(), Entry.objects.count())
    assert report.last_hash == Books.objects.get().last_hash
    assert sum(report.money.values()) == 0


def test_honest_books_at_weighted_average_are_clean() -> None:
    use_cost_flow(CostingMethod.AVERAGE)
    live_through_a_fortnight()
    assert Entry.objects.filter(quantity=0).exists()
    assert check().breaks == ()


def test_a_check_says_how_far_it_is(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verification, "POSTINGS_AT_A_TIME", 2)
    told: list[int] = []
    check(progress=told.append)
    assert told == list(range(2, Posting.objects.count() + 1, 2))


def test_the_command_counts_up_on_a_terminal_alone(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verification, "POSTINGS_AT_A_TIME", 2)
    terminal, file = Terminal(), StringIO()
    call_command("check_books", stdout=StringIO(), stderr=terminal)
    call_command("check_books", stdout=StringIO(), stderr=file)
    assert terminal.getvalue().count("\r") == Posting.objects.count() // 2
    assert not file.getvalue()


def test_empty_books_are_clean() -> None:
    assert check().is_clean


def test_a_rule_taken_off(story: Story) -> None:
    on = "" if connection.vendor == "sqlite" else " ON inventory_entry"
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(f"DROP TRIGGER meniscus_entry_no_update{on}")
        report = check()
        transaction.set_rollback(True)
    assert broken(report) == {"rules"}
    assert "meniscus_entry_no_update is missing" in report.breaks[0].what


def test_the_books_stay_clean_after_the_tampering_was_undone(story: Story) -> None:
    after(("UPDATE inventory_books SET last_number = 1",))
    assert check().is_clean


def test_checking_takes_the_same_queries_however_long_the_books_are(story: Story) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            check()
        return len(seen)

    few = queries()
    for _ in range(10):
        spill(lot=story.mix.lot, quantity=units(1))
    assert queries() == few


@pytest.mark.django_db(transaction=True)
def test_a_snapshot_only_reads() -> None:
    with snapshot(), pytest.raises(DatabaseError, match=r"readonly|read-only"):
        Material.objects.create(name="Never", kind="paint", measure="volume")
    make_material()
    assert check().is_clean


def test_the_command_prints_what_it_checked(story: Story) -> None:
    told = StringIO()
    call_command("check_books", stdout=told)
    text = told.getvalue()
    assert all(title in text for title in RULES.values())
    assert f"{Posting.objects.count()} postings, {Entry.objects.count()} entries" in text
    assert "The ledger is correct." in text


def test_the_command_names_each_break_and_fails(story: Story) -> None:
    told = StringIO()
    with behind_the_ledgers_back() as run:
        run("UPDATE inventory_lotbalance SET money = money + 1 WHERE lot_id = %s", story.mix.lot_id)
        if connection.vendor == "sqlite":
            database_rules.install()
        with pytest.raises(SystemExit) as end:
            call_command("check_books", stdout=told)
    assert end.value.code == 1
    assert f"lot {story.mix.lot_id} breaks “balances”" in told.getvalue()
    assert "NOT correct" in told.getvalue()


def test_the_command_writes_json(story: Story) -> None:
    told = StringIO()
    call_command("check_books", "--json", stdout=told)
    report = json.loads(told.getvalue())
    assert report["is_clean"] is True
    assert report["last_hash"] == Books.objects.get().last_hash
    assert {rule["rule"] for rule in report["rules"]} == set(RULES)
    assert sum(report["money"].values()) == 0
    assert LotBalance.objects.count() == report["lots"]
