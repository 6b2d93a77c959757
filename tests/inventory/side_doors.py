"""Every way round Python that somebody could try on the ledger's tables, under the rule that must stop it."""

from datetime import timedelta
from typing import TypeVar

from auditlog.models import LogEntry
from django.core import serializers
from django.db import connection

from inventory.ledger.models import Books, Entry, Lot, LotBalance, Posting
from inventory.materials.models import Material
from inventory.recipes.models import RecipePart, RecipeVersion
from tests import making
from tests.days import AT, DAY, TODAY
from tests.inventory.forging import (
    POSTGRESQL,
    SQLITE,
    Attempt,
    Scene,
    balance,
    forge,
    line,
    mirror_of,
    overdraw,
    run,
)

Row = TypeVar("Row", Entry, Posting, LotBalance, Books)


def upsert(row: Row, field: str) -> None:
    """Insert a row that is there already, taking one changed field over."""
    key = "lot" if isinstance(row, LotBalance) else "pk"
    type(row)._default_manager.bulk_create(
        [row], update_conflicts=True, unique_fields=[key], update_fields=[field]
    )


def entry() -> Entry:
    return Entry.objects.order_by("pk")[0]


def changed(row: Row, **facts: object) -> Row:
    for name, value in facts.items():
        setattr(row, name, value)
    return row


ENTRIES, POSTINGS = "entries are never", "postings are never"
BALANCE, HEAD, USED = (
    "only a posting changes a balance",
    "the head",
    "a version that has been used never changes",
)


def other_place(scene: Scene) -> list[Entry]:
    """A mirror of the first delivery that takes the paint back as a loss instead of to outside."""
    return mirror_of(scene, Posting.objects.get(number=1), place="loss", reason_id=making.the_reason().pk)


def new_lot(scene: Scene) -> Lot:
    return Lot.objects.create(material=scene.lot.material, origin="count", received_on=TODAY)


YESTERDAY = TODAY - DAY


def more_lines(scene: Scene, after: int) -> list[Entry]:
    return [line(scene, after + 1), line(scene, after + 2)]


def forge_money_before_closing(scene: Scene) -> None:
    """A posting of an open day with a line of money alone in the closed period."""
    making.close_books(through=YESTERDAY)
    forge(scene, [line(scene, number, quantity=0, effective_on=YESTERDAY) for number in (1, 2)])


def forge_more_than_there_was(scene: Scene) -> None:
    """Paint that arrives today, poured yesterday: the shelf as it is now would not go below zero."""
    there = balance(scene)
    amounts = [{"quantity": sign * there.quantity, "money": sign * there.money} for sign in (-1, 1)]
    forge(scene, [line(scene, number, **facts) for number, facts in enumerate(amounts, start=1)])
    most = Entry.objects.filter(lot=scene.lot, effective_on=YESTERDAY, quantity__gt=0).get()
    forge(
        scene,
        overdraw(scene, most.quantity + 1, most.money, YESTERDAY),
        effective_on=YESTERDAY,
        hash="e" * 64,
    )


def forge_cost_that_was_not_there(scene: Scene) -> None:
    """Cost that came today, taken away yesterday."""
    there = Entry.objects.filter(lot=scene.lot, effective_on=YESTERDAY, quantity__gt=0).get()
    forge(
        scene,
        [line(scene, number, quantity=0, money=sign * there.money) for number, sign in ((1, -1), (2, 1))],
    )
    forge(scene, overdraw(scene, 1, there.money + 1, YESTERDAY), effective_on=YESTERDAY, hash="e" * 64)


def move_a_part_into(version: RecipeVersion, material: Material) -> None:
    other = making.make_recipe(parts=[(material, 1)])
    RecipePart.objects.filter(version=other).update(version=version)


def load(fixture: str) -> None:
    """What loaddata does with a file of rows."""
    for row in serializers.deserialize("json", fixture):
        row.save()


def forge_before_closing(scene: Scene) -> None:
    making.close_books(through=TODAY - DAY)
    forge(scene, effective_on=TODAY - DAY)


def truncate(table: str) -> None:
    """Empty a table at a stroke; PostgreSQL looks at it only when no deferred check is waiting."""
    connection.check_constraints()
    run(f"TRUNCATE {table}")


def reopen(days: int | None) -> None:
    making.close_books(through=TODAY - 2 * DAY)
    Books.objects.update(closed_through=None if days is None else TODAY - 2 * DAY + days * DAY)


ATTEMPTS: dict[str, list[Attempt]] = {
    "entry_after_seal": [
        Attempt("a line added", lambda s: line(s, 99, posting_id=1).save(), "already sealed"),
        Attempt(
            "a line in bulk",
            lambda s: Entry.objects.bulk_create([line(s, 9, posting_id=1)]),
            "already sealed",
        ),
        Attempt(
            "another material for the lot",
            lambda s: line(s, 2, material_id=s.other.material_id).save(),
            "must name the material of that lot",
        ),
    ],
    "entry_no_update": [
        Attempt("raw", lambda s: run("UPDATE inventory_entry SET money = money + 1"), ENTRIES),
        Attempt("update()", lambda s: Entry.objects.update(role="surface"), ENTRIES),
        Attempt("save()", lambda s: changed(entry(), money=5).save(), ENTRIES),
        Attempt("bulk_update()", lambda s: Entry.objects.bulk_update([entry()], ["money"]), ENTRIES),
        Attempt("upsert", lambda s: upsert(entry(), "money"), "ledger: "),
        Attempt("loaddata", lambda s: load(serializers.serialize("json", [entry()])), ENTRIES),
    ],
    "entry_no_delete": [
        Attempt("raw", lambda s: run("DELETE FROM inventory_entry"), ENTRIES),
        Attempt("delete()", lambda s: Entry.objects.all().delete(), ENTRIES),
        Attempt("one row", lambda s: entry().delete(), ENTRIES),
        Attempt(
            "REPLACE",
            lambda s: run("REPLACE INTO inventory_entry SELECT * FROM inventory_entry WHERE line = 1"),
            "ledger: ",
            only=SQLITE,
        ),
        Attempt(
            "OR IGNORE", lambda s: run("UPDATE OR IGNORE inventory_entry SET money = 0"), ENTRIES, only=SQLITE
        ),
    ],
    "entry_no_truncate": [
        Attempt("TRUNCATE", lambda s: truncate("inventory_entry"), ENTRIES, only=POSTGRESQL)
    ],
    "posting_in_order": [
        Attempt("a gap", lambda s: forge(s, number=s.last.number + 2), "takes the next number"),
        Attempt("a number again", lambda s: forge(s, number=1), "takes the next number"),
        Attempt("a broken chain", lambda s: forge(s, previous_hash="0" * 64), "the chain is broken"),
        Attempt(
            "an earlier clock",
            lambda s: forge(s, recorded_at=AT - timedelta(seconds=1)),
            "recorded time never falls",
        ),
        Attempt("a closed day", forge_before_closing, "this period is closed"),
    ],
    "posting_seal": [
        Attempt("no lines", lambda s: forge(s, []), "at least one whole move"),
        Attempt("one line", lambda s: forge(s, [line(s, 1)]), "at least one whole move"),
        Attempt("fewer said than there are", lambda s: forge(s, lines=1), "at least one whole move"),
        Attempt("more said than there are", lambda s: forge(s, lines=4), "at least one whole move"),
        Attempt("a line left out", lambda s: forge(s, [line(s, 1), line(s, 3)]), "at least one whole move"),
        Attempt("money", lambda s: forge(s, [line(s, 1), line(s, 2, money=2)]), "must balance"),
        Attempt("quantity", lambda s: forge(s, [line(s, 1), line(s, 2, quantity=2)]), "must balance"),
        Attempt(
            "one material given, another taken",
            lambda s: forge(s, [line(s, 1, material_id=s.other.material_id), line(s, 2)]),
            "must balance",
        ),
        Attempt(
            "balanced only across moves",
            lambda s: forge(
                s, [line(s, 1, money=-3), line(s, 2, money=2), line(s, 3, money=-2), line(s, 4, money=3)]
            ),
            "must balance",
        ),
        Attempt(
            "money left in the cup",
            lambda s: forge(s, [line(s, 1), line(s, 2, place="mix", lot_id=None, mix_id=s.mix.pk)]),
            "a mix must give out all the money",
        ),
        Attempt(
            "a reversal that takes another amount",
            lambda s: forge(
                s, mirror_of(s, s.mix.posting, quantity=5), kind="reversal", reverses=s.mix.posting
            ),
            "must balance|mirrors its posting",
        ),
        Attempt(
            "a reversal of other lines",
            lambda s: forge(s, kind="reversal", reverses=s.mix.posting),
            "mirrors its posting",
        ),
        Attempt(
            "a reversal from another place",
            lambda s: forge(s, other_place(s), kind="reversal", reverses=Posting.objects.get(number=1)),
            "mirrors its posting",
        ),
        Attempt(
            "a reversal of a reversal",
            lambda s: forge(
                s, mirror_of(s, back := making.take_back(s.mix.posting)), kind="reversal", reverses=back
            ),
            "cannot itself be reversed",
        ),
        Attempt(
            "a reversal with a quantity more",
            lambda s: forge(
                s,
                [*mirror_of(s, s.mix.posting), *more_lines(s, s.mix.posting.lines)],
                kind="reversal",
                reverses=s.mix.posting,
            ),
            "mirrors its posting",
        ),
        Attempt(
            "quantity on another day",
            lambda s: forge(s, overdraw(s, 1, 0, YESTERDAY)),
            "only money may move on another day",
        ),
        Attempt(
            "a movement of two days",
            lambda s: forge(s, [line(s, 1, effective_on=YESTERDAY), line(s, 2)]),
            "must balance",
        ),
        Attempt("money in a closed period", forge_money_before_closing, "in an open period"),
        Attempt("more than a past day held", forge_more_than_there_was, "the end of any business day"),
        Attempt(
            "cost that a past day did not hold", forge_cost_that_was_not_there, "the end of any business day"
        ),
    ],
    "posting_no_update": [
        Attempt("raw", lambda s: run("UPDATE inventory_posting SET note = 'x'"), POSTINGS),
        Attempt("update()", lambda s: Posting.objects.update(effective_on=TODAY - DAY), POSTINGS),
        Attempt("save()", lambda s: changed(s.last, note="x").save(), POSTINGS),
        Attempt("upsert", lambda s: upsert(s.last, "note"), "ledger: "),
        Attempt(
            "a posting made another's reversal",
            lambda s: Posting.objects.filter(number=2).update(kind="reversal", reverses=1),
            POSTINGS,
        ),
    ],
    "posting_no_delete": [
        Attempt("raw", lambda s: run("DELETE FROM inventory_posting"), POSTINGS),
        Attempt("raw delete", lambda s: Posting.objects.all()._raw_delete("default"), POSTINGS),
        Attempt(
            "REPLACE",
            lambda s: run("REPLACE INTO inventory_posting SELECT * FROM inventory_posting WHERE number = 1"),
            "ledger: ",
            only=SQLITE,
        ),
    ],
    "posting_no_truncate": [
        Attempt("CASCADE", lambda s: truncate("inventory_posting CASCADE"), "ledger: ", only=POSTGRESQL)
    ],
    "balance_first": [
        Attempt(
            "a balance out of nothing",
            lambda s: LotBalance.objects.bulk_create(
                [LotBalance(lot=new_lot(s), quantity=1, money=1, last_posting=s.last)]
            ),
            BALANCE,
        )
    ],
    "balance_moves": [
        Attempt("raw", lambda s: run("UPDATE inventory_lotbalance SET quantity = quantity + 1"), BALANCE),
        Attempt("update()", lambda s: LotBalance.objects.update(money=0), BALANCE),
        Attempt("save()", lambda s: changed(balance(s), money=1).save(), BALANCE),
        Attempt("upsert", lambda s: upsert(changed(balance(s), money=1), "money"), BALANCE),
        Attempt(
            "to another lot", lambda s: LotBalance.objects.filter(lot=s.lot).update(lot=new_lot(s)), BALANCE
        ),
        Attempt("a later posting", lambda s: LotBalance.objects.update(last_posting=s.last), BALANCE),
    ],
    "balance_no_delete": [
        Attempt("raw", lambda s: run("DELETE FROM inventory_lotbalance"), "balances are never deleted"),
        Attempt("delete()", lambda s: LotBalance.objects.all().delete(), "balances are never deleted"),
        Attempt(
            "REPLACE",
            lambda s: run("REPLACE INTO inventory_lotbalance SELECT * FROM inventory_lotbalance"),
            "ledger: ",
            only=SQLITE,
        ),
    ],
    "balance_no_truncate": [
        Attempt("TRUNCATE", lambda s: truncate("inventory_lotbalance"), "balances are never", only=POSTGRESQL)
    ],
    "books_head": [
        Attempt(
            "the number", lambda s: Books.objects.update(last_number=99), "the head follows the last posting"
        ),
        Attempt("the hash", lambda s: Books.objects.update(last_hash="1" * 64), "the head follows"),
        Attempt("the clock", lambda s: Books.objects.update(last_recorded_at=AT + DAY), "the head follows"),
        Attempt("the row", lambda s: Books.objects.update(id=2), "the head follows"),
        Attempt(
            "the cost flow",
            lambda s: Books.objects.update(costing_method="average"),
            "chosen before the first posting",
        ),
        Attempt("a period opened again", lambda s: reopen(None), "a closed period stays closed"),
        Attempt("a period moved back", lambda s: reopen(-1), "a closed period stays closed"),
    ],
    "books_no_delete": [
        Attempt("raw", lambda s: run("DELETE FROM inventory_books"), "the head is never deleted"),
        Attempt("delete()", lambda s: Books.objects.all().delete(), "the head is never deleted"),
        Attempt(
            "REPLACE",
            lambda s: run("REPLACE INTO inventory_books SELECT * FROM inventory_books"),
            "no row replaces another",
            only=SQLITE,
        ),
    ],
    "books_no_truncate": [Attempt("TRUNCATE", lambda s: truncate("inventory_books"), HEAD, only=POSTGRESQL)],
    "lot_keeps_material": [
        Attempt(
            "update()",
            lambda s: Lot.objects.update(material=s.other.material),
            "never becomes another material",
        ),
        Attempt("its number", lambda s: run("UPDATE inventory_lot SET id = id + 1000"), "never becomes"),
    ],
    "part_insert": [
        Attempt(
            "one part more",
            lambda s: RecipePart.objects.create(
                version=s.version, material=s.other.material, parts=1, line=2
            ),
            USED,
        )
    ],
    "part_update": [
        Attempt("update()", lambda s: RecipePart.objects.update(parts=3_000), USED),
        Attempt("moved in", lambda s: move_a_part_into(s.version, s.other.material), USED),
    ],
    "part_delete": [
        Attempt("delete()", lambda s: RecipePart.objects.all().delete(), USED),
        Attempt("with its version", lambda s: run("DELETE FROM inventory_recipepart"), USED),
    ],
    "part_no_truncate": [
        Attempt("TRUNCATE", lambda s: truncate("inventory_recipepart"), USED, only=POSTGRESQL)
    ],
    "version_update": [
        Attempt("by weight instead", lambda s: RecipeVersion.objects.update(basis="mass"), USED),
        Attempt("another number", lambda s: RecipeVersion.objects.update(number=7), USED),
    ],
    "change_no_update": [
        Attempt(
            "update()",
            lambda s: LogEntry.objects.update(object_repr="x"),
            "what was changed is never rewritten",
        )
    ],
    "change_no_delete": [
        Attempt("delete()", lambda s: LogEntry.objects.all().delete(), "what was changed is never deleted")
    ],
    "change_no_truncate": [
        Attempt("TRUNCATE", lambda s: truncate("auditlog_logentry"), "never deleted", only=POSTGRESQL)
    ],
}
