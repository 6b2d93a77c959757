"""The places that hold quantity and money. At any moment every millionth stands in exactly one of them."""

from dataclasses import dataclass

from inventory.ledger.models import Place


@dataclass(frozen=True, slots=True)
class Spot:
    """One place, and which one of its kind."""

    place: Place
    lot: int | None = None
    mix: int | None = None
    pour: int | None = None
    reason: int | None = None


OUTSIDE = Spot(Place.OUTSIDE)
GAIN = Spot(Place.GAIN)


def shelf(lot: int) -> Spot:
    """A lot on the shelf."""
    return Spot(Place.LOT, lot=lot)


def cup(mix: int) -> Spot:
    """The mixing cup: what goes in comes out as the mix's own lot, in the same posting."""
    return Spot(Place.MIX, mix=mix)


def work(pour: int) -> Spot:
    """A pour not yet sold."""
    return Spot(Place.WORK, pour=pour)


def sold(pour: int) -> Spot:
    """A pour that has been sold."""
    return Spot(Place.SOLD, pour=pour)


def loss(reason: int) -> Spot:
    """A named way out: a loss, a gift, own use, a sample, a count difference."""
    return Spot(Place.LOSS, reason=reason)
