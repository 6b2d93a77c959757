"""Sales of the demo's year: a stall, a shop on the web, a gallery; a return, gifts."""

from functools import partial
from itertools import islice
from math import ceil
from random import Random

from costing.demo.agenda import Agenda, Hour
from costing.demo.finishing import packing_of
from costing.demo.markets import AHEAD, EVENING, MONTHLY, SPARE, SPRING, close_market, pack_for, plan_market
from costing.demo.setting_up import Loft
from costing.demo.titles import UNUSUAL
from costing.demo.works import POUND, Works
from costing.pieces.actions.pieces import WorkFacts, pack_piece, set_price
from costing.pieces.models import Piece
from costing.selling.actions import (
    PieceSold,
    ReturnFacts,
    SaleFacts,
    give_away,
    return_line,
    sell_together,
    write_off_piece,
)
from costing.selling.documents import RECEIPT
from costing.selling.models import Condition, Sale
from inventory.recipes.actions.mixes import Ingredient
from studio.issued.actions import issue

CARD, CASH = "Market stall, card", "Market stall, cash"
ONLINE = "Online shop"
STALL_EVERY, ONLINE_EVERY = 30, 7
USUAL_STALL, SPRING_STALL = 6, 18
SPRING_MONTH = 4
# Pieces that leave without being sold: days ago, cause.
GIVEN = [(318, "gift"), (240, "own-use"), (182, "gift"), (121, "sample"), (64, "gift"), (40, "own-use")]
WHY_GIVEN = {"gift": "For the ferry crew's raffle", "own-use": "Hangs in the loft", "sample": "For handling"}
SECOND_PRICES = {"Round board 30 cm": 14, "Coaster 10 cm": 24}
CARD_SHARE, TILL_SEED = 0.6, 29
TAKEN_TOGETHER = (1, 1, 1, 1, 1, 2, 3)
CHARGED, PAID_FOR_PARCEL = 650 * POUND // 100, 515 * POUND // 100
RETURNS = (
    ReturnFacts(note="Sent back within the cancellation days"),
    ReturnFacts(note="A corner was crushed in the post", condition=Condition.SECOND),
)
DAMAGED, RETURNED_AFTER, SECONDS = 150, 9, 3


class Selling:
    """Puts the year's selling days on the agenda."""

    def __init__(self, loft: Loft, agenda: Agenda, works: Works, scale: float) -> None:
        self.loft, self.agenda, self.works, self.scale = loft, agenda, works, scale
        self.till = Random(TILL_SEED)  # noqa: S311 -- a story told the same way every time, not a secret
        self.returns = list(RETURNS) if scale == 1 else list(RETURNS[:1])
        for days_ago in range(336, -1, -STALL_EVERY):
            agenda.put(days_ago, Hour.SALES, self._stall)
        for days_ago in range(335, -1, -ceil(ONLINE_EVERY / scale)):
            agenda.put(days_ago, Hour.SALES, self._online)
        for days_ago, reason in GIVEN if scale == 1 else GIVEN[2:3]:
            agenda.put(days_ago, Hour.SALES, partial(self._give, reason))
        agenda.put(0, Hour.LAST, self._evening)
        agenda.put(DAMAGED, Hour.SALES, self._damage)
        agenda.put(SECONDS, Hour.LAST, self._mark_seconds)

    def _stall(self, days_ago: int) -> None:
        """A pitch at Lantern Quay; the spring market is the large one."""
        spring = self.loft.diary.ago(days_ago).month == SPRING_MONTH
        wanted = max(round((SPRING_STALL if spring else USUAL_STALL) * self.scale), 1)
        market = plan_market(self.loft, SPRING if spring else MONTHLY, days_ago)
        pieces = self._chosen(wanted)
        pack_for(self.loft, market, [*pieces, *self.works.for_sale[:SPARE]], days_ago)
        while pieces:
            together = self.till.choice(TAKEN_TOGETHER)
            bought, pieces = pieces[:together], pieces[together:]
            haggled = 2 * POUND if len(bought) > 1 or self.till.random() < 0.12 else 0
            channel = CARD if self.till.random() < CARD_SHARE else CASH
            self.sell(_asked(bought), channel, days_ago, SaleFacts(discount=haggled, note=market.name))
        gone = close_market(self.loft, market, days_ago)
        self.works.for_sale = [piece for piece in self.works.for_sale if piece.pk not in gone]

    def _evening(self, days_ago: int) -> None:
        """A market this evening, packed and not begun, to try the quick sale with; and the next one."""
        market = plan_market(self.loft, EVENING, days_ago)
        pack_for(self.loft, market, self.works.for_sale[: 2 * SPARE], days_ago)
        plan_market(self.loft, MONTHLY, days_ago - AHEAD)

    def _online(self, days_ago: int) -> None:
        for piece in self._chosen(1):
            posted = SaleFacts(postage=CHARGED, postage_paid=PAID_FOR_PARCEL)
            sale = self.sell(_asked([piece]), ONLINE, days_ago, posted)
            if self.returns and (days_ago < 200 or self.scale < 1):
                back = partial(self._take_back, sale, self.returns.pop(0))
                self.agenda.put(days_ago - RETURNED_AFTER, Hour.SALES, back)

    def _chosen(self, wanted: int) -> list[Piece]:
        """Pieces picked from the wall. Unusual titles stay there, for whoever looks round the demo to see."""
        hanging = [piece for piece in self.works.for_sale if piece.title not in UNUSUAL]
        chosen = self.loft.rng.sample(hanging, min(wanted, len(hanging)))
        for piece in chosen:
            self.works.for_sale.remove(piece)
        return chosen

    def sell(self, lines: list[PieceSold], channel: str, days_ago: int, facts: SaleFacts) -> Sale:
        """Pack the pieces, then sell them."""
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        loft.diary.evening(day)
        for piece in [line.piece for line in lines]:
            used = packing_of(self.works.surface_of(piece))
            materials = [Ingredient(loft.materials[name], quantity) for name, quantity in used]
            pack_piece(
                piece=piece,
                facts=WorkFacts(materials=materials, minutes=4),
                submission=loft.submission(loft.who(), day),
            )
        submission = loft.submission(loft.owner, day)
        sale = sell_together(lines=lines, channel=loft.channels[channel], facts=facts, submission=submission)
        if sale.buyer:
            issue(kind=RECEIPT, about=sale.pk, submission=submission)
        return sale

    def _take_back(self, sale: Sale, facts: ReturnFacts, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        line = return_line(line=sale.lines.get(), facts=facts, submission=loft.submission(loft.owner, day))
        self.works.for_sale.append(line.piece)

    def _give(self, reason: str, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        for piece in self._chosen(1):
            give_away(
                piece=piece,
                reason=loft.reasons[reason],
                market_value=piece.price or 0,
                note=WHY_GIVEN[reason],
                submission=loft.submission(loft.owner, day),
            )

    def _damage(self, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        for piece in self._chosen(1):
            write_off_piece(
                piece=piece,
                reason=loft.reasons["damaged"],
                note="Fell off the stall rail in a gust",
                submission=loft.submission(loft.helper, day),
            )

    def _mark_seconds(self, days_ago: int) -> None:
        """Two seconds, priced to go below what they cost on purpose: she wants the wall space."""
        submission = self.loft.submission(self.loft.owner, self.loft.diary.ago(days_ago))
        for surface, pounds in SECOND_PRICES.items():
            found = (piece for piece in self.works.for_sale if self.works.surface_of(piece) == surface)
            for piece in islice(found, 1):
                set_price(piece=piece, price=pounds * POUND, submission=submission)


def _asked(pieces: list[Piece]) -> list[PieceSold]:
    return [PieceSold(piece, piece.price or 0) for piece in pieces]
