"""What stands below its cost, and what should: readers. Money is millionths of the currency unit.

Materials that go into pieces stand at cost as long as the pieces bring it (IAS 2, paragraph 32), so of them only what
is past its date is proposed; of finished pieces, those whose price less tax, fees and packing to come is below the
cost of their materials.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from costing.pricing.calculations import as_taken
from costing.pricing.price_sheet import Market
from costing.pricing.to_cover import packing_to_come
from costing.reports.calculations import Stage, realisable, write_down
from costing.reports.models import WriteDown
from costing.reports.stages import Owned
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Proposal:
    """An item, what it will bring, by how much it is to stand below its cost, and by how much it does.

    `price` is what is asked for a piece, None for a material.
    """

    owned: Owned
    value: int
    amount: int
    standing: int
    price: int | None = None

    @property
    def cost(self) -> int:
        return self.owned.money

    @property
    def why(self) -> str:
        """What there is to say for it."""
        if self.amount < self.standing:
            return _("It will bring more than its value here.")
        if self.price is None:
            return _("Past its date.")
        return _("Its price, less tax, fees and packing to come, is below what its materials cost.")


def written_down(owned: Iterable[Owned], day: date) -> int:
    """By how much these stand below their cost at the end of a day, none by more than it holds."""
    standing = standing_write_downs(day)
    return sum(min(standing.get(each.key, 0), each.money) for each in owned)


def standing_write_downs(day: date) -> dict[tuple[int, int], int]:
    """By how much each item stands below its cost, by the numbers of its lot and its piece: one of them is 0."""
    rows = WriteDown.objects.filter(on__lte=day).order_by("on", "pk")
    return {
        (lot or 0, piece or 0): amount for lot, piece, amount in rows.values_list("lot", "piece", "amount")
    }


def proposals(owned: Sequence[Owned], day: date) -> list[Proposal]:
    """Items to be written down, further or less than they are, in a constant number of queries."""
    standing, values = standing_write_downs(day), _values(owned, day)
    found = []
    for each in owned:
        if each.pour is None:
            value = values.get(each.key, each.money)
            stands = min(standing.get(each.key, 0), each.money)
            price = each.piece.price if each.piece else None
            proposal = Proposal(each, value, write_down(each.money, value), stands, price)
            if proposal.amount != proposal.standing:
                found.append(proposal)
    return found


def _values(owned: Iterable[Owned], day: date) -> dict[tuple[int, int], int]:
    """What items will bring, of which it can be said: lots past their date nothing, priced pieces what is left."""
    owned = list(owned)
    past = {
        each.key: 0 for each in owned if each.lot and each.lot.best_before and each.lot.best_before <= day
    }
    done = (Stage.FINISHED, Stage.CONSIGNED)
    priced = [each for each in owned if each.piece and each.piece.price is not None and each.stage in done]
    packing = packing_to_come([each.piece for each in priced if each.piece])
    market = Market.on(day)
    for each in priced:
        piece = each.piece
        if piece is not None and piece.price is not None:
            to_come = packing[piece.pk].money if piece.pk in packing else 0
            past[each.key] = realisable(_left_of(piece.price, each.channel, market), to_finish=to_come)
    return past


def _left_of(price: int, gallery: int | None, market: Market) -> int:
    """What a price leaves after tax and fees: at the gallery that has the piece, or else where that is most."""
    left = [
        as_taken(price, charges, minor_unit=market.coin).net
        for channel, charges in market.charges.items()
        if channel.pk == gallery or (gallery is None and not channel.is_gallery)
    ]
    return max(left, default=price)
