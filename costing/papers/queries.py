"""Readers for the printed price list: the pieces for sale as plain rows, sizes height × width in cm and inches."""

import re
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from costing.papers.price_list import PriceListHeading, PriceListRow
from costing.pieces.calculations import State
from costing.pieces.models import Piece, PiecePour
from costing.pieces.queries import standing_pieces, with_parts
from inventory.sessions.models import Pour
from studio.photos import listed_beside
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.translation import _, language, noop
from studio.values.allocation import divide_half_up
from studio.values.numbers import NO_BREAK_SPACE, format_scaled

TAX_INCLUDED = noop("Prices include tax.")
PER_TENTH_INCH = 254  # thousandths of a centimetre in a tenth of an inch: 1 in = 2.54 cm exactly


class Order(StrEnum):
    """How the list is ordered."""

    TITLE = "title"
    PRICE = "price"
    SIZE = "size"


class Pictures(StrEnum):
    """Which picture of each piece is read."""

    NONE = ""
    LISTED = "listed"
    SMALL = "thumbnail"
    LARGE = "photo"


@dataclass(frozen=True, kw_only=True)
class ListedPiece(PriceListRow):
    """A row, and the piece that it is about."""

    piece: Piece


@dataclass(frozen=True, slots=True)
class PriceList:
    """The rows to print, and the pieces that were left out because they have no price."""

    rows: tuple[ListedPiece, ...] = ()
    unpriced: tuple[Piece, ...] = ()


def price_list(
    *,
    states: Sequence[str] = (State.FOR_SALE,),
    ids: Iterable[int] | None = None,
    technique: int | None = None,
    order: Order = Order.TITLE,
    pictures: Pictures = Pictures.SMALL,
) -> PriceList:
    """Read the rows of a price list in the same few queries however long it is."""
    studio = Studio.current()
    pieces = standing_pieces().filter(state__in=states)
    if ids is not None:
        pieces = pieces.filter(pk__in=list(ids))
    if technique is not None:
        pieces = pieces.filter(pk__in=PiecePour.objects.filter(pour__technique=technique).values("piece_id"))
    ordered = sorted(with_parts(pieces), key=_ORDERS[order])
    formatter = Formatter.of(studio)
    return PriceList(
        tuple(_row(piece, formatter, pictures) for piece in ordered if piece.price is not None),
        tuple(piece for piece in ordered if piece.price is None),
    )


def price_list_heading(*, studio: Studio, on: date, place: str = "") -> PriceListHeading:
    """What stands round the rows: where and when, the currency, the tax note and the caution."""
    day = Formatter.of(studio).day(on)
    return PriceListHeading(
        studio=studio.name,
        place_and_date=f"{place}, {day}" if place else day,
        currency_note=_("Prices in {currency}.", currency=studio.currency),
        tax_note=_(TAX_INCLUDED) if DatedRates.read().on(on).tax_rate else "",
        contact=studio.contact_lines,
        logo=studio.logo_content(),
    )


def sizes_in_cm(pours: Iterable[Pour], *, decimal_comma: bool = False) -> str:
    """The different sizes of a piece's pours, each once, height first: "20 × 30 cm + 30 cm round"."""
    return _sizes(pours, "cm", lambda side: format_scaled(side, 3, decimal_comma=decimal_comma))


def sizes_in_inches(pours: Iterable[Pour], *, decimal_comma: bool = False) -> str:
    """The same in inches to one decimal: "7.9 × 11.8 in"."""

    def write(side: int) -> str:
        tenths = divide_half_up(side, PER_TENTH_INCH)
        return format_scaled(tenths, 1, decimal_comma=decimal_comma, at_least=1)

    return _sizes(pours, "in", write)


_ORDERS: dict[Order, Callable[[Piece], tuple[int | str, ...]]] = {
    Order.TITLE: lambda piece: (piece.title.casefold(), piece.pk),
    Order.PRICE: lambda piece: (piece.price or 0, piece.title.casefold(), piece.pk),
    Order.SIZE: lambda piece: (sum(pour.area for pour in piece.pours), piece.title.casefold(), piece.pk),
}


def _row(piece: Piece, formatter: Formatter, pictures: Pictures) -> ListedPiece:
    pours = piece.pours
    comma = formatter.decimal_comma
    return ListedPiece(
        piece=piece,
        code=piece.label,
        title=piece.title,
        size_cm=sizes_in_cm(pours, decimal_comma=comma),
        size_in=sizes_in_inches(pours, decimal_comma=comma),
        medium=medium_of(piece),
        year=str(piece.shown_year),
        price=formatter.money(piece.price or 0),
        thumbnail=_picture(piece, pictures) if pictures else None,
        note=_note(piece),
    )


def medium_of(piece: Piece) -> str:
    """What it is made of, as a buyer reads it: "Acrylic on canvas, flip cup"."""
    supports = dict.fromkeys(support_words(pour.surface.name) for pour in piece.pours)
    return _(
        "Acrylic on {surface}, {technique}", surface=", ".join(supports), technique=_inside(piece.technique)
    )


def support_words(name: str) -> str:
    """What a surface is, without its measures: "Canvas 60 × 80 cm, deep" is a canvas."""
    return _inside(re.split(r"\d", name, maxsplit=1)[0].strip(" ,;:-–×") or name)


def _inside(words: str) -> str:
    """As it is written inside a sentence; German keeps the capitals of its nouns."""
    is_word = words[1:2].islower()  # an abbreviation keeps its capitals
    return words[:1].lower() + words[1:] if is_word and not language().startswith("de") else words


def _note(piece: Piece) -> str:
    is_reserved = piece.state == State.RESERVED
    notes = (
        piece.place_in_series,
        piece.set_in_words,
        piece.edition,
        State.RESERVED.words if is_reserved else "",
    )
    return ", ".join(filter(None, notes))


def _sizes(pours: Iterable[Pour], unit: str, write: Callable[[int], str]) -> str:
    sizes = []
    for surface in (pour.surface for pour in pours):
        height, width = write(surface.height or 0), write(surface.width or 0)
        if surface.is_round:
            sizes.append(_("{size} round", size=f"{height}{NO_BREAK_SPACE}{unit}"))
        else:
            sizes.append(f"{height} × {width}{NO_BREAK_SPACE}{unit}")
    return " + ".join(dict.fromkeys(sizes))


def _picture(piece: Piece, pictures: Pictures) -> bytes | None:
    """The picture's bytes; a list prints without one that has gone from the disk.

    Where the smallest copy is missing the thumbnail stands in.
    """
    stored = piece.photo if pictures == Pictures.LARGE else piece.thumbnail
    smallest = [listed_beside(piece.thumbnail)] if pictures == Pictures.LISTED else []
    for each in filter(None, [*smallest, stored]):
        with suppress(OSError), each.open("rb") as file:
            return bytes(file.read())
    return None
