"""A delivery file whose import dies half-way, or has one bad line: all of it comes in, or nothing does, and once."""

import os
import random
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.management import CommandError, call_command

from inventory.ledger.models import Lot, Posting
from inventory.materials.models import Material
from inventory.purchasing.models import Delivery, DeliveryLine
from tests.days import TODAY
from tests.faults import jobs
from tests.faults.jobs import Meet, Say
from tests.faults.real_databases import RealDatabase, WorkerDied
from tests.making import make_material, make_owner, make_supplier

ROWS, NEW_MATERIALS = 60, 4
HEADING = "material,quantity,packs,price,batch,kind"


@dataclass
class Imports:
    """What a round of imports came to. `whole` had been committed when the program died."""

    deaths: int = 0
    whole: int = 0
    nothing: int = 0
    half: int = 0
    bad_rows_refused: int = 0
    posted_twice: int = 0


def imports_that_die(database: RealDatabase, *, deaths: int, seed: int) -> Imports:
    """Each file first with one bad row, then killed at a random moment, then twice to its end."""
    chance, found = random.Random(seed), Imports()
    database.do(open_shop)
    with TemporaryDirectory() as folder:
        first = Path(folder) / "counted.csv"
        first.write_text(_file(deaths))
        calls: int = database.do(count_calls, file=str(first))
        for turn in range(deaths):
            file = Path(folder) / f"delivery {turn}.csv"
            found.bad_rows_refused += _refused(database, file, turn, chance.randrange(ROWS))
            file.write_text(_file(turn))
            with suppress(WorkerDied):
                database.do(receive_and_die, file=str(file), call=chance.randrange(1, calls))
            found.deaths += 1
            held = database.do(what_came, turn=turn)
            found.whole += held == (1, ROWS, NEW_MATERIALS)
            found.nothing += held == (0, 0, 0)
            words = [database.do(receive, file=str(file)) for _ in range(2)]
            assert "already been imported" in words[1]
            found.posted_twice += database.do(what_came, turn=turn) != (1, ROWS, NEW_MATERIALS)
    found.half = found.deaths - found.whole - found.nothing
    assert (found.half, found.posted_twice, found.bad_rows_refused) == (0, 0, deaths)
    books = database.do(jobs.look_through)
    assert books["kinds"] == {"delivery": deaths}
    return found


def _file(turn: int, bad: int | None = None) -> str:
    """Sixty lines in mixed units, some of them of materials that nobody has had before."""
    rows = [HEADING]
    for row in range(ROWS):
        name, kind = ("Paint", "") if row >= NEW_MATERIALS else (f"Kelp {turn}-{row}", "paint")
        amount = (
            "oops"
            if row == bad
            else ("8 fl oz", "340 g", "1/2 l")[row % 3]
            if row >= NEW_MATERIALS
            else "1 l"
        )
        rows.append(f"{name},{amount},{1 + row % 4},{3 + row}.{row:02},B{turn}-{row},{kind}")
    return "\n".join(rows) + "\n"


def _refused(database: RealDatabase, file: Path, turn: int, bad: int) -> bool:
    file.write_text(_file(turn, bad))
    told: str = database.do(receive, file=str(file))
    return f"line {bad + 2}, Pack size" in told and database.do(what_came, turn=turn) == (0, 0, 0)


# What the workers do


def open_shop(*, say: Say, meet: Meet) -> None:
    make_owner()
    make_supplier(name="Breakwater Colours")
    make_material(name="Paint")


def receive(*, file: str, say: Say, meet: Meet) -> str:
    """Run the command to its end. Returns what it said, refusals included."""
    told = StringIO()
    fixed = ["--supplier", "Breakwater Colours", "--received-on", str(TODAY), "--by", "owner"]
    try:
        call_command("receive_file", file, *fixed, "--create-materials", stdout=told)
    except CommandError as refusal:
        return str(refusal)
    return told.getvalue()


def count_calls(*, file: str, say: Say, meet: Meet) -> int:
    """How many calls of functions an import makes, taken back again: every one is a moment to die at."""
    calls = 0

    def count() -> None:
        nonlocal calls
        calls += 1

    with _at_each_call(count):
        call_command(
            "receive_file", file, "--supplier", "Breakwater Colours", "--received-on", str(TODAY),
            "--by", "owner", "--create-materials", "--dry-run", stdout=StringIO(),
        )  # fmt: skip
    return calls


def receive_and_die(*, file: str, call: int, say: Say, meet: Meet) -> None:
    """Run the command and die, as by kill -9, when it comes to a certain call."""
    left = call

    def die() -> None:
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    with _at_each_call(die):
        receive(file=file, say=say, meet=meet)
    os.kill(os.getpid(), signal.SIGKILL)  # done before its moment came


def what_came(*, turn: int, say: Say, meet: Meet) -> tuple[int, int, int]:
    """Deliveries, lines and new materials of one file; nothing of it may stand without the rest."""
    lines = DeliveryLine.objects.filter(lot__supplier_batch__startswith=f"B{turn}-")
    assert Lot.objects.count() == DeliveryLine.objects.count()
    assert Delivery.objects.count() == Posting.objects.count()
    deliveries = set(lines.values_list("delivery", flat=True))
    created = Material.objects.filter(name__startswith=f"Kelp {turn}-").count()
    return len(deliveries), lines.count(), created


@contextmanager
def _at_each_call(act: Callable[[], None]) -> Iterator[None]:
    def watch(frame: Any, event: str, argument: Any) -> None:
        if event == "call":
            act()

    sys.setprofile(watch)
    try:
        yield
    finally:
        sys.setprofile(None)
