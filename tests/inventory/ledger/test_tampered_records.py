"""check_books finds changed seals, balances, documents and reversals: each kind of tampering, by its own rule."""

import pytest
from django.db import DatabaseError, connection

from inventory.ledger.models import Books, Lot
from studio.preferences.models import Studio
from tests.days import AT, TODAY, june
from tests.inventory.tampering import ENTRY, POSTING, Story, after, broken
from tests.making import make_material, make_owner

pytestmark = pytest.mark.django_db


def test_a_lot_dated_later_than_its_use(story: Story) -> None:
    report = after(("UPDATE inventory_lot SET received_on = %s WHERE id = %s", june(9), story.emptied.pk))
    assert broken(report) == {"dates", "deliveries", "recorded"}


def test_a_lot_turned_into_another_material(story: Story) -> None:
    other = make_material()
    report = after(("UPDATE inventory_lot SET material_id = %s WHERE id = %s", other.pk, story.emptied.pk))
    assert broken(report) == {"places", "recorded"}


def test_a_recorded_time_put_back(story: Story) -> None:
    report = after(
        (f"{POSTING} recorded_at = %s WHERE number = %s", AT.replace(year=2020), story.sale.number)
    )
    assert {"time", "chain"} <= broken(report)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("confirmed", '["nothing"]'),
        ("note", "nothing happened"),
        ("key", "another"),
        ("fingerprint", "f" * 64),
        ("kind", "sale"),
    ],
)
def test_a_posting_told_differently(story: Story, column: str, value: str) -> None:
    report = after((f"{POSTING} {column} = %s WHERE number = %s", value, story.spilled.number))
    assert "chain" in broken(report)


def test_a_posting_put_in_somebody_elses_name(story: Story) -> None:
    report = after((f"{POSTING} recorded_by_id = recorded_by_id + 1 WHERE number = %s", story.spilled.number))
    assert "chain" in broken(report)


def test_a_seal_rewritten(story: Story) -> None:
    report = after((f"{POSTING} hash = %s WHERE number = %s", "a" * 64, story.spilled.number))
    assert [found.where for found in report.breaks if found.rule == "chain"] == [
        f"posting {story.spilled.number}",
        f"posting {story.spilled.number + 1}",
    ]


def test_a_posting_cut_out_of_the_middle(story: Story) -> None:
    number = story.spilled.number
    report = after(
        ("DELETE FROM inventory_posting WHERE number = %s", number),
        ("DELETE FROM inventory_entry WHERE posting_id = %s", number),
    )
    assert {"sequence", "chain", "balances"} <= broken(report)


def test_the_last_posting_cut_off(story: Story) -> None:
    last = Books.objects.get().last_number
    report = after(
        ("DELETE FROM inventory_posting WHERE number = %s", last),
        ("DELETE FROM inventory_entry WHERE posting_id = %s", last),
    )
    assert {"head", "balances"} <= broken(report)


@pytest.mark.parametrize("offset", [0, 100])
def test_entries_without_their_posting(story: Story, offset: int) -> None:
    number = story.spilled.number
    report = after((f"{ENTRY} posting_id = %s WHERE posting_id = %s", number + 500 + offset, number))
    assert {"sequence", "pairs"} <= broken(report)
    assert f"posting {number + 500 + offset}" in {found.where for found in report.breaks}
    cut = after(("DELETE FROM inventory_posting WHERE number = %s", number))
    assert "sequence" in broken(cut)


def test_a_posting_moved_to_the_end(story: Story) -> None:
    number = story.spilled.number
    report = after(
        (f"{POSTING} number = 900 WHERE number = %s", number),
        (f"{ENTRY} posting_id = 900 WHERE posting_id = %s", number),
    )
    assert {"sequence", "chain", "head"} <= broken(report)


def test_a_balance_written_by_hand(story: Story) -> None:
    report = after(
        ("UPDATE inventory_lotbalance SET quantity = quantity + 1000 WHERE lot_id = %s", story.mix.lot_id)
    )
    assert broken(report) == {"balances"}
    assert report.breaks[0].where == f"lot {story.mix.lot_id}"


def test_a_balance_taken_away_or_made_up(story: Story) -> None:
    fresh = Lot.objects.create(material=story.emptied.material, origin="count", received_on=TODAY)
    made_up = (
        "INSERT INTO inventory_lotbalance (lot_id, quantity, money, last_posting_id) VALUES (%s, 5, 5, 1)"
    )
    assert broken(after((made_up, fresh.pk))) == {"balances"}
    gone = ("DELETE FROM inventory_lotbalance WHERE lot_id = %s", story.emptied.pk)
    assert broken(after(gone)) == {"balances"}


def test_a_head_that_names_another_posting(story: Story) -> None:
    assert broken(after(("UPDATE inventory_books SET last_number = 1",))) == {"head"}
    assert broken(after(("UPDATE inventory_books SET last_hash = %s", "b" * 64))) == {"head"}


def test_a_landed_cost_rewritten(story: Story) -> None:
    line = story.delivery.lines.order_by("pk")[0]
    report = after(("UPDATE inventory_deliveryline SET landed = landed + 1 WHERE id = %s", line.pk))
    assert broken(report) == {"deliveries", "recorded"}


def test_a_delivered_quantity_rewritten(story: Story) -> None:
    line = story.delivery.lines.order_by("pk")[0]
    report = after(("UPDATE inventory_deliveryline SET quantity = quantity + 1 WHERE id = %s", line.pk))
    assert broken(report) == {"deliveries", "recorded"}


def test_a_delivery_whose_posting_has_another_number(story: Story) -> None:
    report = after((f"{POSTING} number = number + 900 WHERE number = %s", story.delivery.posting_id))
    assert {"chain", "deliveries"} <= broken(report)


def test_a_studio_that_is_missing(story: Story) -> None:
    report = after(("DELETE FROM studio_studio",))
    assert "file" in broken(report)
    assert report.postings > 1


def test_a_studio_that_is_doubled(story: Story) -> None:
    columns = [str(field.column) for field in Studio._meta.concrete_fields]
    values = ["id + 1" if column == "id" else column for column in columns]
    double = f"INSERT INTO studio_studio ({', '.join(columns)}) SELECT {', '.join(values)} FROM studio_studio"
    # PostgreSQL keeps its constraints while rules are off, so the one against a second row has to go first.
    first = [("ALTER TABLE studio_studio DROP CONSTRAINT studio_only_one",)]
    report = after(*(first if connection.vendor == "postgresql" else []), (double,))
    assert "file" in broken(report)
    assert report.postings > 1


def test_an_invoice_rewritten(story: Story) -> None:
    rated, paid = "rate_digits = 9, rate_places = 1", "paid = paid + 1, invoiced = invoiced + 1"
    for change in ("carriage = carriage + 1", "duty = 5", rated, "paid = paid + 1", "invoiced = 1", paid):
        report = after((f"UPDATE inventory_delivery SET {change} WHERE id = %s", story.delivery.pk))
        assert broken(report) == {"deliveries", "recorded"}


def test_a_document_taken_away(story: Story) -> None:
    report = after(("DELETE FROM inventory_stocktakeline",), ("DELETE FROM inventory_stocktake",))
    assert "papers" in broken(report)


def test_a_request_posted_twice(story: Story) -> None:
    report = after(
        ("DROP INDEX posting_key_once",),
        (
            f"{POSTING} key = 'delivery', recorded_by_id = %s WHERE number = %s",
            make_owner().pk,
            story.sale.number,
        ),
    )
    assert {"keys", "chain"} <= broken(report)


def test_a_reversal_of_something_else(story: Story) -> None:
    report = after(
        (f"{POSTING} reverses_id = %s WHERE number = %s", story.spilled.number, story.reversal.number)
    )
    assert {"reversals", "chain"} <= broken(report)


def test_a_reversal_that_takes_back_half(story: Story) -> None:
    report = after((f"{ENTRY} quantity = quantity / 7 WHERE posting_id = %s", story.reversal.number))
    assert {"reversals", "balances"} <= broken(report)


def test_a_reversal_of_a_later_posting(story: Story) -> None:
    later = story.reversal.number + 1
    report = after((f"{POSTING} reverses_id = %s WHERE number = %s", later, story.reversal.number))
    assert "reversals" in broken(report)


def test_a_day_that_is_no_day(story: Story) -> None:
    if connection.vendor != "sqlite":
        with pytest.raises(DatabaseError):
            after((f"{POSTING} recorded_at = 'no such day' WHERE number = %s", story.sale.number))
        return
    report = after((f"{POSTING} recorded_at = 'no such day' WHERE number = %s", story.sale.number))
    assert "file" in broken(report)


def test_a_name_for_something_that_is_not_there(story: Story) -> None:
    report = after(
        (f"{ENTRY} reason_id = 900 WHERE posting_id = %s AND reason_id IS NOT NULL", story.spilled.number)
    )
    assert "chain" in broken(report)
    assert ("file" in broken(report)) == (connection.vendor == "sqlite")
