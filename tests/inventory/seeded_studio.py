"""A studio that lives through a long history drawn from a seed, held against the plain second set of books.

The events are those of test_books_hold. There, short histories are drawn and made shorter when one fails; here, one
history is as long as is asked for, so the full check comes now and then, and a seed and a turn say where it broke.
"""

import random
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.db import connection

from inventory.errors import InventoryError
from inventory.ledger.models import CostingMethod, Entry, Lot
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour, Session
from inventory.stock.models import Stocktake
from studio.accounts.models import User
from studio.errors import InputError
from tests.days import TODAY
from tests.inventory.any_studio import Made
from tests.inventory.ledger.test_books_hold import AnyStudio

AGREE_EVERY, HOLD_EVERY = 100, 2_500
# Some jars of every material: past so many, a count finds some of them empty.
MOST_JARS, CLEARED = 24, 8
# How often each event comes, out of all of them together.
EVENTS = {
    "deliver": 3,
    "mix": 3,
    "pour": 5,
    "decant": 1,
    "write_off": 1,
    "count": 2,
    "finish": 2,
    "sell": 2,
    "write_off_piece": 1,
    "throw_away": 1,
    "correct": 1,
    "correct_session": 2,
    "reverse": 2,
    "wait": 1,
}


class SeededStudio(AnyStudio):
    """One history. Every refusal must leave the books as they were; now and then everything is compared."""

    def __init__(self, seed: int) -> None:  # the machinery that draws short histories is not set up
        self.chance = random.Random(seed)
        self.costing_method = list(CostingMethod)[seed % len(CostingMethod)]
        self.done: Counter[str] = Counter()
        self.open_up()

    def live_through(self, operations: int) -> Counter[str]:
        """So many operations; how often each event was tried, and how many writers refused."""
        self.open_the_books(amounts=[(self._quantity(), self._cost()) for _ in range(6)])
        names, weights = list(EVENTS), list(EVENTS.values())
        for turn in range(1, operations + 1):
            (name,) = self.chance.choices(names, weights)
            if name in ("finish", "sell", "write_off_piece", "correct_session") and not self.pours:
                name = "pour"
            if name == "throw_away" and not any(pour.outcome == "failed" for pour in self.pours):
                name = "pour"
            getattr(self, name)(**getattr(self, f"_for_{name}")())
            self.done[name] += 1
            try:
                if turn % AGREE_EVERY == 0 or turn == operations:
                    self.the_plain_books_agree_at_the_end_of_every_business_day()
                if turn % HOLD_EVERY == 0 or turn == operations:
                    self.the_books_hold()
            except AssertionError as broken:
                raise AssertionError(f"after operation {turn}") from broken
        return self.done

    def attempt(self, write: Callable[[], Made]) -> Made | None:
        before = _latest()
        try:
            made = write()
        except (InventoryError, InputError):
            self.done["refused"] += 1
            assert _latest() == before
            return None
        return made

    # What each event is told

    def _for_deliver(self) -> dict[str, Any]:
        lines = [(self._which(), self._quantity(), self._cost()) for _ in range(self.chance.randint(1, 4))]
        return {
            "lines": lines, "carriage": self._cost(), "duty": self._cost(),
            "by_weight": self.chance.random() < 0.5, "on": self._day(),
        }  # fmt: skip

    def _for_mix(self) -> dict[str, Any]:
        measured = self._quantity() if self.chance.random() < 0.5 else None
        return {**self._some(), "confirm": self._mostly(), "measured": measured}

    def _for_pour(self) -> dict[str, Any]:
        chance = self.chance
        batches = [
            (self._which(), self._quantity(), chance.choice(list(Mix.Leftover)))
            for _ in range(chance.randint(0, 2))
        ]
        pours = [
            (self._which(), chance.random() < 0.5, chance.random() < 0.3, self._quantity(), self._which())
            for _ in range(chance.randint(1, 3))
        ]
        gloves = self._quantity() if chance.random() < 0.5 else None
        return {
            "batches": batches, "pours": pours, "gloves": gloves, "on": self._day(), "confirm": self._mostly(),
        }  # fmt: skip

    def _for_count(self) -> dict[str, Any]:
        found = [(self._which(), self.chance.randint(0, 3_000)) for _ in range(self.chance.randint(1, 3))]
        held = [place for place, lot in enumerate(self.lots) if self.plain.held_on(date.max, lot.pk)]
        if len(held) > MOST_JARS:
            found = [(place, 0) for place in self.chance.sample(held, CLEARED)]
        return {"counted": found, "on": self._day()}

    def _for_finish(self) -> dict[str, Any]:
        which = [self._which() for _ in range(self.chance.randint(1, 2))]
        return {"which": which, "quantity": self._quantity(), "on": self._day()}

    def _for_sell(self) -> dict[str, Any]:
        return {"which": self._which(), "on": self._day()}

    def _for_throw_away(self) -> dict[str, Any]:
        return {**self._for_sell(), "is_normal": self._mostly()}

    def _for_correct(self) -> dict[str, Any]:
        return {
            "which": self._which(),
            "difference": self.chance.choice([-1, 1]) * self.chance.randint(1, 2_000),
            "more": self.chance.choice([0, self.chance.randint(-500, 2_000)]),
        }

    def _for_correct_session(self) -> dict[str, Any]:
        return {
            "which": len(self.sessions) - 1 - self.chance.randrange(min(len(self.sessions), 20)),
            "tenths": self.chance.randint(1, 20),
            "paint": self.chance.choice([None, self._which()]),
            "count": self.chance.randint(-1, 1),
            "confirm": self._mostly(),
        }

    def _for_reverse(self) -> dict[str, Any]:
        return {"which": self.chance.randrange(100), "any_kind": not self._mostly()}

    def _for_wait(self) -> dict[str, Any]:
        return {"minutes": self.chance.randint(-90, 240)}

    def _some(self) -> dict[str, Any]:
        return {"which": self._which(), "quantity": self._quantity(), "on": self._day()}

    _for_decant = _for_write_off = _some
    _for_write_off_piece = _for_sell

    # What is drawn

    def _which(self) -> int:
        """One of many: mostly of the latest, where most is going on."""
        latest = max(len(self.lots), 1)
        back = self.chance.randrange(40 if self._mostly() else latest)
        return (latest - 1 - back) % latest

    def _quantity(self) -> int:
        return self.chance.randint(1, self.chance.choice([12, 3_000]))

    def _cost(self) -> int:
        return self.chance.randint(0, self.chance.choice([20, 5_000_000]))

    def _day(self) -> date:
        return TODAY - timedelta(days=self.chance.choice([0, self.chance.randint(0, 6)]))

    def _mostly(self) -> bool:
        return self.chance.random() < 2 / 3


def _latest() -> object:
    """The newest row of every table, and the head of the ledger, in one question: cheap, however long the history."""
    tables = [model._meta.db_table for model in (Entry, Lot, Mix, Session, Pour, Stocktake, User)]
    newest = ", ".join(f"(SELECT MAX(id) FROM {table})" for table in tables)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT last_number, last_hash, last_recorded_at, {newest} FROM inventory_books")
        found: object = cursor.fetchone()
    return found
