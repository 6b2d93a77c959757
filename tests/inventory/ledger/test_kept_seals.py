"""Seals kept elsewhere tell from where on a ledger was rewritten; REPLACE and opened periods are found without them."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import IntegrityError, connection, transaction

from inventory.ledger import database_rules
from inventory.ledger.kept_seals import KeptSeal, seals_in
from inventory.ledger.models import Books, Posting
from inventory.ledger.verification import check
from tests.days import june
from tests.inventory.forging import SQLITE, run
from tests.inventory.tampering import after, broken
from tests.making import close_books, make_lot

pytestmark = pytest.mark.django_db


def three_postings() -> dict[int, str]:
    for _ in range(3):
        make_lot()
    return dict(Posting.objects.values_list("number", "hash"))


def test_seals_that_fit_are_counted_and_nothing_is_told() -> None:
    kept = [KeptSeal(number, seal, "mail") for number, seal in three_postings().items()]
    report = check(kept=kept)
    assert report.is_clean
    assert next(rule.checked for rule in report.rules if rule.rule == "seals") == 3


def test_the_first_that_does_not_fit_says_since_when_history_was_rewritten() -> None:
    seals = three_postings() | {2: "a" * 64, 9: "b" * 64}
    report = check(kept=[KeptSeal(number, seal, "mail of June") for number, seal in seals.items()])
    second, ninth = report.breaks[0], report.breaks[-1]
    assert (second.rule, second.where) == ("seals", "posting 2")
    assert "mail of June kept another seal: history was rewritten after posting 1" in second.what
    assert "missing" in ninth.what


@pytest.mark.parametrize(
    "text",
    [
        "The ledger is at posting 12, {seal}.",
        "12:{seal}",
        "Das Hauptbuch steht bei Buchung 12, {seal}.",
        "12 {seal}",
    ],
)
def test_a_seal_is_found_in_whatever_was_kept(text: str) -> None:
    seal = "0123456789abcdef" * 4
    assert seals_in(text.format(seal=seal), "x") == [KeptSeal(12, seal, "x")]


def test_the_command_compares_saved_emails_and_typed_seals(tmp_path: Path) -> None:
    seals = three_postings()
    saved = tmp_path / "saved.eml"
    saved.write_text(f"Hello\n\nThe ledger is at posting 3, {seals[3][:40]}=\n{seals[3][40:]}.\n")
    told = StringIO()
    call_command("check_books", "--seals-in", str(saved), "--seal", f"1:{seals[1]}", stdout=told)
    assert "The ledger is correct." in told.getvalue()
    with pytest.raises(SystemExit):
        call_command("check_books", "--seal", f"2:{seals[1]}", stdout=told)
    assert "posting 2 breaks “seals”" in told.getvalue()
    with pytest.raises(CommandError, match="no seal found"):
        call_command("check_books", "--seal", "12", stdout=told)


def test_a_period_that_was_opened_again_behind_the_books_is_told() -> None:
    three_postings()
    close_books(through=june(5))
    close_books(through=june(8))
    assert check().is_clean
    for through in ("'2025-06-05'", "NULL"):
        assert "closing" in broken(after((f"UPDATE inventory_books SET closed_through = {through}",)))


def test_a_change_log_that_was_cut_is_told() -> None:
    close_books(through=june(5))
    close_books(through=june(8))
    said = "DELETE FROM auditlog_logentry WHERE changes::text LIKE '%%2025-06-05%%'"
    report = after((said.replace("::text", "") if connection.vendor == SQLITE else said,))
    assert "closing" in broken(report)


REPLACEABLE = [rule for rule in database_rules.rules(SQLITE) if rule.name.endswith("_no_replace")]


@pytest.mark.skipif(connection.vendor != SQLITE, reason="PostgreSQL has no REPLACE")
def test_nothing_is_replaced_though_whoever_asks_switched_the_rules_about_it_off() -> None:
    make_lot()
    close_books(through=june(5))
    run("PRAGMA recursive_triggers = OFF")
    try:
        for table in (
            "inventory_posting",
            "inventory_entry",
            "auditlog_logentry",
            "inventory_books",
            "inventory_lot",
        ):
            said = f"REPLACE INTO {table} SELECT * FROM {table}"
            with pytest.raises(IntegrityError, match=r"record: there is one|ledger: "), transaction.atomic():
                run(said)
    finally:
        run("PRAGMA recursive_triggers = ON")
    assert Books.objects.get().closed_through == june(5)
    assert {"inventory_posting", "auditlog_logentry", "inventory_books", "costing_placement"} <= {
        rule.table for rule in REPLACEABLE
    }
