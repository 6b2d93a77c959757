"""check_books finds changed quantities and money: each kind of tampering with the moves, by its own rule."""

import pytest
from django.db import DatabaseError, connection

from inventory.ledger import database_rules
from inventory.ledger.models import Entry, Posting
from inventory.ledger.verification import check
from tests.days import june
from tests.inventory.posting_seals import posting_hash
from tests.inventory.tampering import ENTRY, POSTING, Story, after, behind_the_ledgers_back, broken, draw_of
from tests.making import make_lot, make_material

pytestmark = pytest.mark.django_db


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


@pytest.mark.parametrize("forged", ["'plenty'", "1.5", "99999999999999999"])
def test_a_number_that_is_no_whole_number(story: Story, forged: str) -> None:
    if connection.vendor != "sqlite":
        forged = "99999999999999999"  # this database itself keeps the column whole
        with pytest.raises(DatabaseError, match="entry_money_whole"):
            after((f"{ENTRY} money = {forged} WHERE posting_id = %s AND line = 1", story.sale.number))
        return
    report = after((f"{ENTRY} money = {forged} WHERE posting_id = %s AND line = 1", story.sale.number))
    assert {"whole", "chain"} <= broken(report)


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
