"""Printed price lists beside what holds now: prices that changed, and pieces that are not for sale any more."""

from collections.abc import Iterable
from dataclasses import dataclass

from costing.papers.models import PrintedList
from costing.pieces.calculations import ENDS, State
from costing.pieces.models import Piece


@dataclass(frozen=True, slots=True)
class ListNow:
    """A printed list, the pieces on it whose price is another one now, and those that have left since."""

    printed: PrintedList
    count: int
    repriced: tuple[Piece, ...]
    gone: tuple[Piece, ...]

    @property
    def is_out_of_date(self) -> bool:
        return bool(self.repriced or self.gone)


def lists_now(lists: Iterable[PrintedList]) -> list[ListNow]:
    """Each list beside what holds now, in one query more however many they are."""
    lists = list(lists)
    pieces = Piece.objects.in_bulk({int(number) for each in lists for number in each.prices})
    return [_now(each, pieces) for each in lists]


def _now(printed: PrintedList, pieces: dict[int, Piece]) -> ListNow:
    on_it = [(pieces.get(int(number)), price) for number, price in printed.prices.items()]
    standing = [(piece, price) for piece, price in on_it if piece is not None]
    gone = tuple(piece for piece, _price in standing if State(piece.state) in ENDS)
    repriced = tuple(piece for piece, price in standing if piece not in gone and piece.price != price)
    return ListNow(printed, len(on_it), repriced, gone)
