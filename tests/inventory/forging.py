"""Going round Python: rows put straight into the ledger's tables, to see whether the database itself refuses them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import connection, transaction

from inventory.ledger.models import Books, Entry, Lot, LotBalance, Posting
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.models import Pour
from studio.accounts.models import User
from tests import making
from tests.days import DAY, TODAY
from tests.making import money, units

SQLITE = "sqlite"
POSTGRESQL = "postgresql"


@dataclass
class Scene:
    """Books with something in every table: a delivery, a batch, a session, and a second lot of another paint."""

    owner: User
    lot: Lot
    other: Lot
    mix: Mix
    pour: Pour
    version: RecipeVersion

    @property
    def last(self) -> Posting:
        return Posting.objects.latest("number")


def make_scene() -> Scene:
    lot, other = making.make_lot(on=TODAY - DAY), making.make_lot(on=TODAY - DAY)
    version = making.make_recipe(parts=[(lot.material, 1)])
    mix = making.make_batch(version=version, quantity=units(100))
    return Scene(making.make_owner(), lot, other, mix, making.make_pour(), version)


def run(sql: str, params: Sequence[Any] = ()) -> None:
    """One statement straight to the database."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, list(params))


def line(scene: Scene, number: int, **facts: Any) -> Entry:
    """One entry of the posting that comes next; odd lines give from outside, even ones take to the lot, unless said."""
    usual: dict[str, Any] = {
        "posting_id": scene.last.number + 1,
        "line": number,
        "place": "outside" if number % 2 else "lot",
        "material_id": scene.lot.material_id,
        "lot_id": None if number % 2 else scene.lot.pk,
        "quantity": -units(1) if number % 2 else units(1),
        "money": -money(1) if number % 2 else money(1),
        "effective_on": TODAY,
    }
    return Entry(**(usual | facts))


def header(scene: Scene, lines: int = 2, **facts: Any) -> Posting:
    """The posting that comes next, right in everything unless said otherwise."""
    head = Books.objects.get()
    usual: dict[str, Any] = {
        "number": head.last_number + 1,
        "kind": "delivery",
        "effective_on": TODAY,
        "recorded_at": head.last_recorded_at,
        "recorded_by": scene.owner,
        "lines": lines,
        "previous_hash": head.last_hash,
        "hash": "f" * 64,
    }
    return Posting(**(usual | facts))


def forge(scene: Scene, entries: Sequence[Entry] | None = None, ignore: bool = False, **facts: Any) -> None:
    """Insert entries and then their header by bulk_create, as no writer would."""
    made = [line(scene, 1), line(scene, 2)] if entries is None else list(entries)
    with transaction.atomic():
        Entry.objects.bulk_create(made)
        posting = header(scene, **({"lines": len(made)} | facts))
        Posting.objects.bulk_create([posting], ignore_conflicts=ignore)


def mirror_of(scene: Scene, posting: Posting, **change: Any) -> list[Entry]:
    """The entries that take a posting back, the first of them changed."""
    made = []
    for entry in posting.entries.order_by("line"):
        facts = {
            "place": entry.place,
            "material_id": entry.material_id,
            "lot_id": entry.lot_id,
            "mix_id": entry.mix_id,
            "pour_id": entry.pour_id,
            "reason_id": entry.reason_id,
            "quantity": -entry.quantity,
            "money": -entry.money,
        }
        made.append(line(scene, entry.line, **facts))
    for name, value in change.items():
        setattr(made[0], name, value)
    return made


@dataclass
class Attempt:
    """A way round Python, and the words or the constraint that the database stops it with."""

    route: str
    go: Callable[[Scene], object]
    says: str
    only: str = ""

    def __str__(self) -> str:
        return self.route


def overdraw(scene: Scene, quantity: int, cost: int, on: date = TODAY) -> list[Entry]:
    """Two lines that take a quantity and a cost out of the scene's lot."""
    giver = line(scene, 1, place="lot", lot_id=scene.lot.pk, quantity=-quantity, money=-cost)
    taker = line(scene, 2, place="outside", lot_id=None, quantity=quantity, money=cost)
    giver.effective_on = taker.effective_on = on
    return [giver, taker]


def balance(scene: Scene) -> LotBalance:
    return LotBalance.objects.get(lot=scene.lot)
