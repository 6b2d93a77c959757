"""What a check of the books found broken: which rule, where, and how, in words for the owner."""

from collections import Counter
from dataclasses import dataclass, field

from studio.wording import _

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
