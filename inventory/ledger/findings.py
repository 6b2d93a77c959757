"""The rules that a check of the books goes by, and what it found broken: which, where and how, in plain words."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from studio.translation import _, noop

RULES: Mapping[str, str] = {
    "whole": noop("Every quantity and amount is a whole number within range"),
    "sequence": noop("Postings are numbered 1, 2, 3 … without a gap"),
    "chain": noop("Each posting's seal fits its contents and the posting before it"),
    "time": noop("Recorded times never go backwards"),
    "pairs": noop("Every movement has a from and a to of the same material"),
    "money": noop("Money sums to zero in each posting"),
    "quantity": noop("Quantity of each material sums to zero in each posting"),
    "mixes": noop("Every mixing cup passes on all the money it received"),
    "places": noop("An entry for a lot names that lot's material"),
    "dates": noop("No lot moves before the day it came in"),
    "draws": noop("Each withdrawal took its share of the cost, rounded half up; the last took the rest"),
    "negative": noop("No lot was ever below zero"),
    "days": noop("No lot was below zero, or held cost without stock, at the end of any business day"),
    "restated": noop(
        "Every movement costs what the costing method makes of receipts, corrections and reversals"
    ),
    "empty": noop("An empty lot holds no cost"),
    "work": noop("No pour was ever below zero, and an empty pour has no cost"),
    "sold": noop("A sold pour leaves nothing in unsold work"),
    "reversals": noop("A reversal mirrors its posting, once only"),
    "keys": noop("No request was posted twice"),
    "balances": noop("Each lot's balance is the sum of its entries"),
    "identity": noop(
        "Received + gains = in stock + work in progress + cost of sales + losses, at the end of every month"
    ),
    "deliveries": noop(
        "Each delivery's landed costs equal what its lots were charged, to the last millionth"
    ),
    "cost_sheets": noop("Each piece's cost sheet equals what the ledger holds for it"),
    "outcomes": noop("A pour that was thrown away, or whose piece was ruined, counts as failed"),
    "papers": noop("Every delivery, session, mix and stocktake has its posting"),
    "month_ends": noop("Stored month-end figures equal the sum of their entries"),
    "head": noop("The ledger's head names its last posting"),
    "closing": noop("Each closing of a period is in the change log, and none was opened again"),
    "changes": noop("Each entry of the change log is sealed, and its seal fits it and the seal before"),
    "recorded": noop("What rows hold is what the change log last recorded of them"),
    "seals": noop("Seals kept elsewhere are those of the postings that they name"),
    "rules": noop("The database's own rules are in place"),
    "file": noop("The database file is sound"),
}


# Enough to see what happened; the count beside each rule goes on.
BREAKS_TOLD = 1_000


@dataclass(frozen=True, slots=True)
class Break:
    """One rule broken: where (a posting, a lot, a month) and how."""

    rule: str
    where: str
    what: str


@dataclass(slots=True)
class Tally:
    """What was looked at under each rule, and what was found broken."""

    checked: Counter[str] = field(default_factory=Counter)
    broken: Counter[str] = field(default_factory=Counter)
    breaks: list[Break] = field(default_factory=list)

    def looked(self, times: int, *rules: str) -> None:
        """So many more things were looked at under each of these rules."""
        for rule in rules:
            self.checked[rule] += times

    def tell(self, rule: str, where: str, what: str) -> None:
        self.broken[rule] += 1
        if len(self.breaks) < BREAKS_TOLD:
            self.breaks.append(Break(rule, where, what))

    def tell_posting(self, rule: str, number: int, what: str) -> None:
        """A rule broken by one posting."""
        self.tell(rule, _("posting {number}", number=number), what)

    def tell_lot(self, rule: str, lot: int | None, number: int, what: str) -> None:
        """A rule broken in one lot, by one posting."""
        self.tell(rule, _("lot {lot}, posting {posting}", lot=lot, posting=number), what)

    def tell_pour(self, rule: str, pour: int, place: str, number: int, what: str) -> None:
        """A rule broken by what one pour holds in work or in sold work, since one posting."""
        where = _("pour {pour} ({place}), posting {posting}", pour=pour, place=place, posting=number)
        self.tell(rule, where, what)
