"""What a correction changes in the time charged to pieces: told by the floor above, of which this one knows nothing.

Time has no entries in the ledger; the cost sheets of pieces work it out. It is read before and after, and compared.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WorkCost:
    """The labour and overhead in one piece, in millionths of the currency unit, and where the piece is."""

    name: str
    where: str
    address: str
    money: int


@dataclass(frozen=True, slots=True)
class WorkChange:
    """The labour and overhead in one piece before and after."""

    piece: int
    name: str
    where: str
    address: str
    money_before: int
    money_after: int


Reader = Callable[[], Mapping[int, WorkCost]]
_readers: list[Reader] = []


def register_reader(reader: Reader) -> None:
    """Let a later room say what labour and overhead are in every piece, by its number."""
    if reader not in _readers:
        _readers.append(reader)


def work_costs() -> dict[int, WorkCost]:
    return {piece: cost for reader in _readers for piece, cost in reader().items()}


def work_changes(before: Mapping[int, WorkCost], after: Mapping[int, WorkCost]) -> list[WorkChange]:
    """The pieces whose labour and overhead are another afterwards, by number."""
    changes = []
    for piece in sorted(before.keys() | after.keys()):
        was, now = before.get(piece), after.get(piece)
        money_before, money_after = was.money if was else 0, now.money if now else 0
        named = now or was
        if named is not None and money_before != money_after:
            changes.append(
                WorkChange(piece, named.name, named.where, named.address, money_before, money_after)
            )
    return changes
