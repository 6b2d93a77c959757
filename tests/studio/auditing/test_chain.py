"""The change log is chained: whoever writes in it, or in a row beside it, is told of when the books are checked."""

from contextlib import suppress
from threading import Barrier, Thread

import pytest
from auditlog.models import LogEntry
from django.db import connection, transaction
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory.ledger.verification import check
from inventory.materials.models import Material
from studio.auditing.models import ChangeSeal
from studio.submission import transaction as submitted
from tests.inventory.tampering import after, broken, live_through_a_fortnight
from tests.making import make_material, make_owner, make_submission, make_supplier

REWRITTEN = "UPDATE auditlog_logentry SET {column} = {value} WHERE id = %s"
OTHER_CHANGES = {"sqlite": '\'{"name": ["a", "b"]}\'', "postgresql": '\'{"name": ["a", "b"]}\'::jsonb'}


def sealed() -> list[list[int]]:
    """The entries of the change log that each seal is over."""
    seals = ChangeSeal.objects.order_by("number").values_list("rows", flat=True)
    return [sorted(map(int, rows.get("auditlog.logentry", {}))) for rows in seals]


def breaks() -> list[tuple[str, str]]:
    return [(found.where, found.what) for found in check().breaks if found.rule in ("changes", "recorded")]


def rename(paint: Material, name: str) -> None:
    paint.name = name
    paint.save()


@pytest.mark.django_db
def test_what_one_submission_changes_has_one_seal() -> None:
    submission = make_submission()
    before = len(sealed())
    with submitted(submission):
        paint = make_material(name="Ebb grey")
        rename(paint, "Flood grey")
        make_supplier(name="Ebb Stores")
    assert len(sealed()) == before + 1
    assert sealed()[-1] == list(LogEntry.objects.order_by("pk").values_list("pk", flat=True))[-3:]
    assert breaks() == []


@pytest.mark.django_db
def test_a_submission_within_another_is_sealed_with_it() -> None:
    owner, before = make_owner(), len(sealed())
    with submitted(make_submission(by=owner)):
        make_material()
        with submitted(make_submission(by=owner)):
            make_material()
        assert len(sealed()) == before
    assert [len(entries) for entries in sealed()[before:]] == [2]


@pytest.mark.django_db
def test_what_is_undone_leaves_no_seal() -> None:
    owner = make_owner()
    before = sealed()
    with suppress(ZeroDivisionError), submitted(make_submission(by=owner)):
        make_material()
        raise ZeroDivisionError
    with submitted(make_submission(by=owner)), suppress(ZeroDivisionError), transaction.atomic():
        make_material()
        raise ZeroDivisionError
    assert sealed() == before
    assert breaks() == []


class TestChain(TestCase):
    @given(st.lists(st.lists(st.sampled_from(["add", "rename", "fail"]), max_size=4), max_size=6))
    def test_whatever_is_changed_and_undone_every_entry_has_its_one_seal(
        self, rounds: list[list[str]]
    ) -> None:
        submission = make_submission()
        for steps in rounds:
            with suppress(ZeroDivisionError), submitted(submission):
                for number, step in enumerate(steps):
                    if step == "fail":
                        raise ZeroDivisionError
                    if step == "add" or not Material.objects.exists():
                        make_material()
                    else:
                        rename(Material.objects.latest("pk"), f"Ebb {number} {LogEntry.objects.count()}")
        every = [number for entries in sealed() for number in entries]
        assert every == list(LogEntry.objects.order_by("pk").values_list("pk", flat=True))
        assert breaks() == []


# Writing in it


@pytest.mark.django_db
def test_books_with_something_of_everything_in_them_are_clean() -> None:
    live_through_a_fortnight()
    report = after()
    assert not broken(report) & {"changes", "recorded"}
    assert {rule.rule: rule.checked for rule in report.rules}["changes"] > 5


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("changes", "other"),
        ("object_repr", "'Somebody else'"),
        ("action", "2"),
        ("actor_id", "NULL"),
        ("object_pk", "'0'"),
        ("timestamp", "'2020-01-01 00:00:00+00:00'"),
    ],
)
def test_an_entry_that_was_rewritten_is_told(column: str, value: str) -> None:
    with submitted(make_submission()):
        rename(make_material(name="Ebb grey"), "Flood grey")
    written = OTHER_CHANGES[connection.vendor] if value == "other" else value
    latest = LogEntry.objects.latest("pk").pk
    report = after((REWRITTEN.format(column=column, value=written), latest))
    assert "changes" in broken(report)


@pytest.mark.django_db
def test_an_entry_taken_out_or_put_in_is_told() -> None:
    rename(make_material(name="Ebb grey"), "Flood grey")
    number = LogEntry.objects.latest("pk").pk
    assert "changes" in broken(after(("DELETE FROM auditlog_logentry WHERE id = %s", number)))
    columns = ", ".join(field.column for field in LogEntry._meta.concrete_fields if field.column != "id")
    put_in = f"INSERT INTO auditlog_logentry (id, {columns}) SELECT id + 1000, {columns} FROM auditlog_logentry WHERE id = %s"  # noqa: E501
    assert "changes" in broken(after((put_in, number)))


@pytest.mark.django_db
@pytest.mark.parametrize(
    "said",
    [
        "DELETE FROM studio_changeseal WHERE number = 1",
        "DELETE FROM studio_changeseal WHERE number = (SELECT MAX(number) FROM studio_changeseal)",
        "UPDATE studio_changeseal SET rows = '{}' WHERE number = 2",
        "UPDATE studio_changeseal SET hash = 'a' WHERE number = 2",
        "UPDATE studio_changeseal SET number = number + 1000",
    ],
)
def test_a_seal_that_was_changed_or_taken_out_is_told(said: str) -> None:
    for name in ("Ebb grey", "Flood grey", "Slack grey"):
        make_material(name=name)
    assert broken(after((said,))) & {"changes", "recorded"}


# Rows that give what was posted its meaning


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("said", "field"),
    [
        ("UPDATE inventory_material SET density = 1999999 WHERE id = %s", "density"),
        ("UPDATE inventory_material SET name = 'x' WHERE id = %s", "name"),
        ("DELETE FROM inventory_material WHERE id = %s", "gone"),
        ("UPDATE inventory_supplier SET currency = 'USD'", "currency"),
    ],
)
def test_a_row_that_was_changed_by_hand_is_told_with_its_field(said: str, field: str) -> None:
    paint = make_material(density=1_200_000)
    make_supplier(currency="EUR")
    report = after((said, paint.pk) if "%s" in said else (said,))
    assert [found.rule for found in report.breaks] == ["recorded"]
    assert field in report.breaks[0].what


@pytest.mark.django_db
def test_a_row_that_was_put_in_by_hand_is_told() -> None:
    Material.objects.bulk_create([Material(name="Ebb grey", kind="paint", measure="volume")])
    assert broken(after()) == {"recorded"}


@pytest.mark.django_db(transaction=True)
def test_of_many_who_change_things_at_once_everybody_is_sealed_once() -> None:
    if connection.vendor != "postgresql":
        pytest.skip("On SQLite a writer shuts out every other; threads share no database in memory.")
    owner = make_owner()
    start = Barrier(4)

    def work(number: int) -> None:
        try:
            start.wait()
            for turn in range(10):
                with submitted(make_submission(by=owner)):
                    rename(make_material(name=f"Ebb {number} {turn}"), f"Flood {number} {turn}")
        finally:
            connection.close()

    everybody = [Thread(target=work, args=[number]) for number in range(4)]
    for each in everybody:
        each.start()
    for each in everybody:
        each.join()
    assert Material.objects.filter(name__startswith="Flood").count() == 40
    assert breaks() == []
