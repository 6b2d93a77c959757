"""Books with something of everything in them, and doing to them what the ledger never would."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import connection, transaction

from inventory.ledger import database_rules
from inventory.ledger.models import Entry, EntryRole, Lot, Posting
from inventory.ledger.verification import Report, check
from inventory.purchasing.models import Delivery
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests.days import june
from tests.making import (
    charge,
    correct,
    ingredients,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_owner,
    make_recipe,
    make_session,
    make_submission,
    make_surface,
    make_water,
    money,
    pour_of,
    ruin,
    sell,
    spill,
    take_back,
    the_reason,
    units,
)


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
    charge(
        pours=[first, second],
        materials=ingredients((varnish, units(33))),
        role=EntryRole.FINISH,
        submission=make_submission(by=owner, on=june(4)),
    )
    sale = sell(pours=[first], on=june(5))
    ruin(pours=[third], reason=the_reason("ruined"), submission=make_submission(by=owner, on=june(5)))
    emptied = make_lot(material=paint, quantity=units(59), cost=money("1.57"), on=june(5))
    spilled = spill(lot=emptied, quantity=units(20), on=june(6))
    spill(lot=emptied, quantity=units(39), on=june(6))
    teal = Lot.objects.filter(material=paint).earliest("pk")
    reversal = take_back(spill(lot=teal, quantity=units(7), on=june(7)))
    correct(lot=delivery.lines.order_by("pk")[0].lot, difference=money("1.01"), on=june(8))
    jar = decant(lot=teal, quantity=units(100), submission=make_submission(by=owner, on=june(8)))
    post_stocktake(
        counts=[Count(jar, units(90)), Count(mix.lot, units(110))],
        submission=make_submission(by=owner, on=june(9)),
    )
    return Story(delivery, mix, first, sale, spilled, emptied, reversal)


ENTRY = "UPDATE inventory_entry SET"
POSTING = "UPDATE inventory_posting SET"


@contextmanager
def behind_the_ledgers_back() -> Iterator[Callable[..., None]]:
    """Run SQL with the database's own rules and constraints off, and put everything back afterwards."""
    is_sqlite = connection.vendor == "sqlite"
    with transaction.atomic(), connection.cursor() as cursor:
        if is_sqlite:
            database_rules.remove()
            cursor.execute("PRAGMA ignore_check_constraints = ON")

        def run(sql: str, *parameters: Any) -> None:
            if is_sqlite:
                cursor.execute(sql, parameters)
                return
            cursor.execute("SET LOCAL session_replication_role = 'replica'")
            cursor.execute(sql, parameters)
            cursor.execute("SET LOCAL session_replication_role = 'origin'")  # or it would be found at once

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
