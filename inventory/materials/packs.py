"""Which packs to buy, and whether a barcode was read right.

Pack sizes in thousandths, money in millionths.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, NamedTuple

from inventory.errors import InventoryError
from studio.translation import _
from studio.values.money import money_input_text

if TYPE_CHECKING:
    from studio.preferences.formatting import Formatter

GTIN_LENGTHS = (8, 12, 13, 14)
LONGEST_CODE = 30  # with blanks between the digits
STEPS_WORTH_TAKING = 50_000
LABELS_KEPT_AFTERWARDS = 50


@dataclass(frozen=True, slots=True)
class Offer:
    """One pack on sale: its size, its price, and the fewest a supplier will send."""

    supply: int
    size: int
    price: int
    minimum_packs: int = 1

    def __post_init__(self) -> None:
        if self.size <= 0 or self.price < 0 or self.minimum_packs < 1:
            raise InventoryError(
                _("A pack needs a size above zero, a price, and a minimum order of at least one.")
            )

    @property
    def exact_unit_price(self) -> Fraction:
        """Money per thousandth, unrounded, for comparing packs."""
        return Fraction(self.price, self.size)


@dataclass(frozen=True, slots=True)
class PackLine:
    """How many packs of one offer to buy."""

    offer: Offer
    packs: int


@dataclass(frozen=True, slots=True)
class Purchase:
    """What to buy; cheapest is False when the search was cut short and a dearer choice may have been made."""

    lines: tuple[PackLine, ...]
    quantity: int
    cost: int
    cheapest: bool


class _Label(NamedTuple):
    """A part-built purchase; labels compare by what makes one better: cheaper, more paint, fewer packs."""

    cost: int
    less_quantity: int
    packs: int
    counts: tuple[int, ...]

    @property
    def quantity(self) -> int:
        return -self.less_quantity

    def with_packs(self, offer: Offer, count: int) -> "_Label":
        return _Label(
            self.cost + count * offer.price,
            self.less_quantity - count * offer.size,
            self.packs + count,
            (*self.counts, count),
        )


def by_unit_price(offers: Iterable[Offer]) -> list[Offer]:
    """Order offers by what a unit costs in them, the larger pack first among equals."""
    return sorted(offers, key=lambda offer: (offer.exact_unit_price, -offer.size, offer.supply))


def cheapest_packs(needed: int, offers: Sequence[Offer]) -> Purchase:
    """Return the packs that cover `needed` for the least money; at equal cost most paint, then fewest packs.

    Exact: a dynamic programme over the offers, cheapest unit price first, that keeps the best part-built
    purchase for each quantity reached and drops those that cannot beat one already found. It is bounded to
    50,000 steps (a handful of sizes and hundreds of packs take far fewer); beyond that it goes on with
    the fifty most promising part-built purchases only, and says so by cheapest=False. Raises InventoryError
    without an offer.
    """
    if needed <= 0:
        return Purchase((), 0, 0, cheapest=True)
    if not offers:
        raise InventoryError(_("No supplier recorded for this. Add a supplier with a pack size and a price."))
    search = _Search(needed, by_unit_price(offers))
    best = search.run()
    lines = zip(search.offers, best.counts, strict=True)
    return Purchase(
        tuple(PackLine(offer, count) for offer, count in lines if count),
        best.quantity,
        best.cost,
        cheapest=search.steps_left > 0,
    )


class _Search:
    def __init__(self, needed: int, offers: Sequence[Offer]) -> None:
        self.needed = needed
        self.offers = offers
        self.steps_left = STEPS_WORTH_TAKING
        self.best = min(self._completed(_Label(0, 0, 0, ()), 0))

    def run(self) -> _Label:
        labels = [_Label(0, 0, 0, ())]
        for index in range(len(self.offers)):
            reached: dict[int, _Label] = {}
            for label in labels:
                for longer in self._extended(label, index):
                    if longer.quantity >= self.needed:
                        self._offer_as_best(longer)
                    else:
                        known = reached.get(longer.quantity)
                        reached[longer.quantity] = longer if known is None else min(known, longer)
            labels = self._worth_keeping(reached.values(), index + 1)
        return self.best

    def _extended(self, label: _Label, index: int) -> Iterator[_Label]:
        """Yield the label with each sensible count of one offer, most packs first."""
        offer = self.offers[index]
        most = max(-((label.quantity - self.needed) // offer.size), offer.minimum_packs)
        for count in range(most, offer.minimum_packs - 1, -1):
            self.steps_left -= 1
            longer = label.with_packs(offer, count)
            if self._least_cost(longer, index + 1) <= self.best.cost:
                yield longer
            elif longer.quantity < self.needed:
                break  # fewer packs of this offer only leave more to be bought at a worse unit price
            if self.steps_left <= 0 and count < most:
                break
        yield label.with_packs(offer, 0)

    def _worth_keeping(self, labels: Iterable[_Label], index: int) -> list[_Label]:
        """Drop labels that hold less for no less money or cannot beat the best, improving it on the way."""
        kept: list[_Label] = []
        for label in sorted(labels, key=lambda label: (label.less_quantity, label)):
            if (not kept or label.cost < kept[-1].cost) and self._least_cost(label, index) <= self.best.cost:
                kept.append(label)
                for whole in self._completed(label, index):
                    self._offer_as_best(whole)
        if self.steps_left <= 0:
            kept.sort(key=lambda label: self._least_cost(label, index))
            return kept[:LABELS_KEPT_AFTERWARDS]
        return kept

    def _completed(self, label: _Label, index: int) -> Iterator[_Label]:
        """Yield the label with the rest bought in one size, for each size still to come."""
        rest = self.needed - label.quantity
        for later, offer in enumerate(self.offers[index:], start=index):
            count = max(-(-rest // offer.size), offer.minimum_packs)
            counts = label.counts + (0,) * (later - index)
            padded = label._replace(counts=counts).with_packs(offer, count)
            yield padded._replace(counts=padded.counts + (0,) * (len(self.offers) - later - 1))

    def _least_cost(self, label: _Label, index: int) -> int:
        """Return a cost that no way of completing the label can be below: the rest at the next unit price."""
        rest = self.needed - label.quantity
        if rest <= 0:
            return label.cost
        if index == len(self.offers):
            return self.best.cost + 1
        offer = self.offers[index]
        return label.cost - (-rest * offer.price // offer.size)

    def _offer_as_best(self, label: _Label) -> None:
        padded = label._replace(counts=label.counts + (0,) * (len(self.offers) - len(label.counts)))
        self.best = min(self.best, padded)


def check_digit(digits: str) -> int:
    """Return a GS1 number's last digit from those before it: weights 3 and 1 from the right, modulo 10."""
    if not (digits.isascii() and digits.isdigit()):
        raise InventoryError(_("A barcode number contains only digits. Scan or type it again."))
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits)))
    return -total % 10


def tidy_gtin(text: str) -> str:
    """A barcode number without blanks and needless zeros in front: in the shortest length that can hold it."""
    bare = "".join(text.split())
    return min(same_gtins(bare), key=len, default=bare)


def same_gtins(text: str) -> list[str]:
    """A barcode number in each length that can hold it; none for other texts.

    Scanners and papers add or leave out zeros in front: a GTIN-12 is the GTIN-13 with a zero before it (GS1 General
    Specifications, section 3.2: shorter numbers are filled with zeros from the left).
    """
    if not (text.isascii() and text.isdigit() and is_valid_gtin(text)):
        return []
    bare = text.lstrip("0")
    return [bare.zfill(length) for length in GTIN_LENGTHS if len(bare) <= length]


def is_valid_gtin(code: str) -> bool:
    """Tell whether a code is a trade item number of 8, 12, 13 or 14 digits with the right check digit."""
    if len(code) not in GTIN_LENGTHS or not (code.isascii() and code.isdigit()):
        return False
    return check_digit(code[:-1]) == int(code[-1])


def breaks_in_words(breaks: list[dict[str, Any]], formatter: "Formatter") -> str:
    """The prices of a pack as the change log shows them: "from 6: 16.50 GBP; from 12: 15.90 GBP"."""
    return "; ".join(
        _(
            "from {packs}: {price}",
            packs=each["packs"],
            price=_price(each, decimal_comma=formatter.decimal_comma),
        )
        for each in breaks
    )


def _price(each: dict[str, Any], *, decimal_comma: bool) -> str:
    price = money_input_text(each["price"], each["currency"], decimal_comma=decimal_comma)
    return f"{price} {each['currency']}"
