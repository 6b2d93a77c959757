"""check_books finds what was done to the books behind the ledger's back: each kind of tampering, by its own rule."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory import database_rules
from inventory.books import Report, check, snapshot
from inventory.ledger import posting_hash
from inventory.models import (
    Books,
    CostFlow,
    Delivery,
    Entry,
    EntryRole,
    Lot,
    LotBalance,
    Material,
    Mix,
    Posting,
    PostingKind,
    Pour,
)
from inventory.replay import RULES
from inventory.stocktakes import Count, post_stocktake
from inventory.work import add_to_work, write_off_work
from inventory.write_offs import decant
from tests.days import AT, TODAY, june
from tests.making import (
    correct,
    ingredients,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_owner,
    make_recipe,
    make_session,
    make_surface,
    make_water,
    money,
    pour_of,
    sell,
    spill,
    take_back,
    the_cause,
    units,
    use_cost_flow,
)

pytestmark = pytest.mark.django_db


@dataclass
class Story:
    """A fortnight's books with something of everything in them."""

    delivery: Delivery
    mix: Mix
    sold: Pour
    sale: Posting
    spilled: Posting
    emptied: Lot
    reversal: Posting


def live_through_a_fortnight() -> Story:
    glue, paint, water = make_material(name="Glue"), make_material(name="Teal"), make_water()
    canvas, varnish = make_surface(), make_material(name="Varnish", kind="finish")
    delivery = make_delivery(
        lines=[
            (glue, units(1000), money("9.99")),
            (paint, units(473), money("12.49")),
            (canvas, units(10), money(35)),
            (varnish, units(250), money(8)),
        ],
        carriage=money("5.99"),
        on=june(1),
        key="delivery",
    )
    mix = make_batch(version=make_recipe(parts=[(glue, 2), (water, 1)]), quantity=units(301), on=june(2))
    medium = mix.lot.material
    session = make_session(
        pours=[
            pour_of(material=medium, quantity=units(97), surface=canvas),
            pour_of(material=medium, quantity=units(101), surface=canvas),
            pour_of(material=paint, quantity=units(111), surface=canvas),
        ],
        sundries=ingredients((glue, units(1))),
        on=june(3),
        key="session",
    )
    first, second, third = session.pours.order_by("number")
    owner = make_owner()
    add_to_work(
        pours=[first, second],
        materials=ingredients((varnish, units(33))),
        role=EntryRole.FINISH,
        on=june(4),
        by=owner,
        at=AT,
    )
    sale = sell(pours=[first], on=june(5))
    write_off_work(pours=[third], cause=the_cause("ruined"), on=june(5), by=owner, at=AT)
    emptied = make_lot(material=paint, quantity=units(59), cost=money("1.57"), on=june(5))
    spilled = spill(lot=emptied, quantity=units(20), on=june(6))
    spill(lot=emptied, quantity=units(39), on=june(6))
    teal = Lot.objects.filter(material=paint).earliest("pk")
    reversal = take_back(spill(lot=teal, quantity=units(7), on=june(7)))
    correct(lot=delivery.lines.order_by("pk")[0].lot, difference=money("1.01"), on=june(8))
    jar = decant(lot=teal, quantity=units(100), on=june(8), by=owner, at=AT)
    post_stocktake(counts=[Count(jar, units(90)), Count(mix.lot, units(110))], on=june(9), by=owner, at=AT)
    return Story(delivery, mix, first, sale, spilled, emptied, reversal)


@pytest.fixture
def story(db: None) -> Story:
    return live_through_a_fortnight()


@contextmanager
def behind_the_ledgers_back() -> Iterator[Callable[..., None]]:
    """Run SQL with the database's own rules and constraints off, and put everything back afterwards."""
    is_sqlite = connection.vendor == "sqlite"
    with transaction.atomic(), connection.cursor() as cursor:
        if is_sqlite:
            database_rules.remove()
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        else:
            cursor.execute("SET LOCAL session_replication_role = 'replica'")

        def run(sql: str, *parameters: Any) -> None:
            cursor.execute(sql, parameters)

        try:
            yield run
        finally:
            if is_sqlite:
                cursor.execute("PRAGMA ignore_check_constraints = OFF")
            transaction.set_rollback(True)


def after(*statements: tuple[Any, ...]) -> Report:
    """What a check says after the statements were run behind the ledger's back and the rules put back."""
    with behind_the_ledgers_back() as run:
        for statement in statements:
            run(*statement)
        if connection.vendor == "sqlite":
            database_rules.install()
        return check()


def broken(report: Report) -> set[str]:
    return {found.rule for found in report.breaks}


def draw_of(posting: Posting) -> int:
    """The line of the posting's first draw from a lot."""
    return Entry.objects.filter(posting=posting, place="lot", quantity__lt=0).earliest("line").line


ENTRY = "UPDATE inventory_entry SET"
POSTING = "UPDATE inventory_posting SET"


def test_honest_books_are_clean_and_every_rule_was_looked_at(story: Story) -> None:
    report = check()
    assert report.breaks == ()
    assert report.is_clean
    unlooked = {rule.rule for rule in report.rules if not rule.checked}
    assert unlooked == (set() if connection.vendor == "sqlite" else {"file"})
    assert (report.postings, report.entries) == (Posting.objects.count(), Entry.objects.count())
    assert report.last_hash == Books.objects.get().last_hash
    assert sum(report.money.values()) == 0


def test_honest_books_at_weighted_average_are_clean() -> None:
    use_cost_flow(CostFlow.AVERAGE)
    live_through_a_fortnight()
    assert Posting.objects.filter(kind=PostingKind.AVERAGE).exists()
    assert check().breaks == ()


def test_empty_books_are_clean() -> None:
    assert check().is_clean


def test_money_added_to_one_line(story: Story) -> None:
    report = after((f"{ENTRY} money = money + 1 WHERE posting_id = %s AND line = 1", story.sale.number))
    assert {"money", "pairs", "chain", "identity"} <= broken(report)
    assert f"posting {story.sale.number}" in {found.where for found in report.breaks}


def test_quantity_added_to_one_line(story: Story) -> None:
    report = after((f"{ENTRY} quantity = quantity + 1 WHERE posting_id = %s AND line = 2", story.sale.number))
    assert {"quantity", "pairs", "chain"} <= broken(report)


def test_a_whole_move_made_smaller(story: Story) -> None:
    number = story.spilled.number
    report = after((f"{ENTRY} quantity = quantity / 2, money = money / 2 WHERE posting_id = %s", number))
    assert {"chain", "balances"} <= broken(report)
    assert not {"money", "quantity", "pairs"} & broken(report)


def test_cost_shifted_between_two_draws(story: Story) -> None:
    number, line = story.spilled.number, draw_of(story.spilled)
    report = after(
        (f"{ENTRY} money = money - 1 WHERE posting_id = %s AND line = %s", number, line),
        (f"{ENTRY} money = money + 1 WHERE posting_id = %s AND line = %s", number, line + 1),
    )
    assert {"draws", "chain"} <= broken(report)


def test_a_move_taken_out(story: Story) -> None:
    number = story.mix.posting.number
    report = after(("DELETE FROM inventory_entry WHERE posting_id = %s AND line <= 2", number))
    assert {"pairs", "chain", "mixes"} <= broken(report)


def test_a_mixing_cup_that_keeps_money(story: Story) -> None:
    number, line = story.mix.posting.number, draw_of(story.mix.posting)
    report = after(
        (f"{ENTRY} money = money - 1000 WHERE posting_id = %s AND line = %s", number, line),
        (f"{ENTRY} money = money + 1000 WHERE posting_id = %s AND line = %s", number, line + 1),
    )
    assert {"mixes", "draws"} <= broken(report)


def test_an_entry_for_another_material(story: Story) -> None:
    other = make_material()
    report = after((f"{ENTRY} material_id = %s WHERE posting_id = %s", other.pk, story.spilled.number))
    assert {"places", "chain"} <= broken(report)


def test_an_entry_for_another_lot(story: Story) -> None:
    other = make_lot(material=story.emptied.material)
    report = after(
        (f"{ENTRY} lot_id = %s WHERE posting_id = %s AND lot_id IS NOT NULL", other.pk, story.spilled.number)
    )
    assert {"balances", "chain"} <= broken(report)


def test_more_drawn_than_was_there(story: Story) -> None:
    report = after((f"{ENTRY} quantity = quantity * 9 WHERE posting_id = %s", story.spilled.number))
    assert {"negative", "balances"} <= broken(report)


def test_cost_left_in_an_empty_lot(story: Story) -> None:
    last = Entry.objects.filter(lot=story.emptied).latest("posting_id").posting_id
    report = after((f"{ENTRY} money = money / 2 WHERE posting_id = %s", last))
    assert {"empty", "draws"} <= broken(report)


def test_more_sold_than_a_pour_held(story: Story) -> None:
    report = after(
        (f"{ENTRY} quantity = quantity * 2, money = money * 2 WHERE posting_id = %s", story.sale.number)
    )
    assert "work" in broken(report)


def test_cost_left_behind_in_work_at_a_sale(story: Story) -> None:
    report = after((f"{ENTRY} money = money / 2 WHERE posting_id = %s", story.sale.number))
    assert {"sold", "work"} <= broken(report)


def test_a_use_dated_before_its_lot_came_in(story: Story) -> None:
    report = after((f"{POSTING} effective_on = %s WHERE number = %s", june(1), story.spilled.number))
    assert {"dates", "chain"} <= broken(report)


def test_a_lot_dated_later_than_its_use(story: Story) -> None:
    report = after(("UPDATE inventory_lot SET received_on = %s WHERE id = %s", june(9), story.emptied.pk))
    assert broken(report) == {"dates"}


def test_a_lot_turned_into_another_material(story: Story) -> None:
    other = make_material()
    report = after(("UPDATE inventory_lot SET material_id = %s WHERE id = %s", other.pk, story.emptied.pk))
    assert broken(report) == {"places"}


def test_a_recorded_time_put_back(story: Story) -> None:
    report = after(
        (f"{POSTING} recorded_at = %s WHERE number = %s", AT.replace(year=2020), story.sale.number)
    )
    assert {"time", "chain"} <= broken(report)


@pytest.mark.parametrize(
    ("column", "value"),
    [("note", "nothing happened"), ("key", "another"), ("fingerprint", "f" * 64), ("kind", "sale")],
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
    assert broken(report) == {"deliveries"}


def test_a_delivered_quantity_rewritten(story: Story) -> None:
    line = story.delivery.lines.order_by("pk")[0]
    report = after(("UPDATE inventory_deliveryline SET quantity = quantity + 1 WHERE id = %s", line.pk))
    assert broken(report) == {"deliveries"}


def test_an_invoice_rewritten(story: Story) -> None:
    for change in ("carriage = carriage + 1", "duty = 5", "rate = 900000"):
        report = after((f"UPDATE inventory_delivery SET {change} WHERE id = %s", story.delivery.pk))
        assert broken(report) == {"deliveries"}


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


@pytest.mark.parametrize("forged", ["'plenty'", "1.5", "99999999999999999"])
def test_a_number_that_is_no_whole_number(story: Story, forged: str) -> None:
    if connection.vendor != "sqlite":
        forged = "99999999999999999"  # this database itself keeps the column whole
        with pytest.raises(DatabaseError, match="entry_money_whole"):
            after((f"{ENTRY} money = {forged} WHERE posting_id = %s AND line = 1", story.sale.number))
        return
    report = after((f"{ENTRY} money = {forged} WHERE posting_id = %s AND line = 1", story.sale.number))
    assert {"whole", "chain"} <= broken(report)


def test_a_day_that_is_no_day(story: Story) -> None:
    if connection.vendor != "sqlite":
        with pytest.raises(DatabaseError):
            after((f"{POSTING} recorded_at = 'no such day' WHERE number = %s", story.sale.number))
        return
    report = after((f"{POSTING} recorded_at = 'no such day' WHERE number = %s", story.sale.number))
    assert "file" in broken(report)


def test_a_name_for_something_that_is_not_there(story: Story) -> None:
    report = after(
        (f"{ENTRY} cause_id = 900 WHERE posting_id = %s AND cause_id IS NOT NULL", story.spilled.number)
    )
    assert "chain" in broken(report)
    assert ("file" in broken(report)) == (connection.vendor == "sqlite")


def test_a_rule_taken_off(story: Story) -> None:
    on = "" if connection.vendor == "sqlite" else " ON inventory_entry"
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(f"DROP TRIGGER meniscus_entry_no_update{on}")
        report = check()
        transaction.set_rollback(True)
    assert broken(report) == {"rules"}
    assert "meniscus_entry_no_update is missing" in report.breaks[0].what


def test_cost_shifted_and_everything_sealed_anew(story: Story) -> None:
    """A forger who rewrites seals, balances and head as well is still found by the arithmetic of the draw."""
    line = draw_of(story.spilled)
    with behind_the_ledgers_back() as run:
        for which, change in ((line, -1), (line + 1, 1)):
            run(
                f"{ENTRY} money = money + %s WHERE posting_id = %s AND line = %s",
                change,
                story.spilled.number,
                which,
            )
        later = Entry.objects.filter(lot=story.emptied, quantity__lt=0).latest("posting_id")
        run(f"{ENTRY} money = money + 1 WHERE posting_id = %s AND line = %s", later.posting_id, later.line)
        run(
            f"{ENTRY} money = money - 1 WHERE posting_id = %s AND line = %s", later.posting_id, later.line + 1
        )
        link = "0" * 64
        for posting in Posting.objects.order_by("number"):
            posting.previous_hash = link
            link = posting_hash(posting, Entry.objects.filter(posting=posting).order_by("line"))
            run(
                f"{POSTING} previous_hash = %s, hash = %s WHERE number = %s",
                posting.previous_hash,
                link,
                posting.number,
            )
        run("UPDATE inventory_books SET last_hash = %s", link)
        if connection.vendor == "sqlite":
            database_rules.install()
        assert broken(check()) == {"draws"}


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
    assert "The books agree." in text


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
    assert "do NOT agree" in told.getvalue()


def test_the_command_writes_json(story: Story) -> None:
    told = StringIO()
    call_command("check_books", "--json", stdout=told)
    report = json.loads(told.getvalue())
    assert report["is_clean"] is True
    assert report["last_hash"] == Books.objects.get().last_hash
    assert {rule["rule"] for rule in report["rules"]} == set(RULES)
    assert sum(report["money"].values()) == 0
    assert LotBalance.objects.count() == report["lots"]
