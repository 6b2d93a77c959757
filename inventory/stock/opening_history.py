"""What corrections of opening stock changed, from what to what, in words for pages and programs."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.utils.translation import gettext_lazy

from inventory.ledger.corrections import came_in
from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.ledger.restatement import Fact, day_moved_to
from inventory.ledger.restating import posted_facts
from inventory.purchasing.correction_history import ChangedFigure, PastCorrection
from studio.preferences.formatting import Formatter

DAY, AMOUNT, COST = gettext_lazy("Stock as of"), gettext_lazy("Amount"), gettext_lazy("Cost")


def opening_of(lot: Lot) -> Posting | None:
    """The posting that brought a lot in as opening stock; None for any other lot."""
    if lot.origin != Lot.Origin.OPENING:
        return None
    postings = Posting.objects.select_related("reversed_by").filter(kind=PostingKind.OPENING)
    return postings.filter(entries__lot=lot).order_by("number").first()


def corrections_of_opening(
    posting: Posting,
    formatter: Formatter,
    *,
    sees_money: bool,
    lot: int | None = None,
    only: int | None = None,
) -> list[PastCorrection]:
    """Everything that was corrected about opening stock, or about one lot of it, or by one posting; in order."""
    corrections = list(posting.corrected_by.select_related("recorded_by", "reversed_by").order_by("number"))
    facts = {
        each.number: each for each in posted_facts(only=[posting.number, *(c.number for c in corrections)])
    }
    lots = Lot.objects.filter(entries__posting=posting).select_related("material").distinct()
    shown = {each.pk: each for each in lots if lot in (None, each.pk)}
    history = []
    for number, correction in enumerate(corrections):
        before = [posting, *(each for each in corrections[:number] if _stood(each, correction))]
        days = [day_moved_to(came_in(facts[each.number].movements)) for each in reversed(before)]
        figures = _figures(
            [fact for each in before for fact in came_in(facts[each.number].movements)],
            came_in(facts[correction.number].movements),
            shown,
            formatter,
            sees_money=sees_money,
        )
        if moved := day_moved_to(came_in(facts[correction.number].movements)):
            day = next((each for each in days if each), posting.effective_on)
            figures.append(
                ChangedFigure(0, "", "received_on", str(DAY), formatter.day(day), formatter.day(moved))
            )
        if only in (None, correction.number):
            history.append(PastCorrection(correction, figures))
    return [each for each in history if each.figures or lot is None]


def opening_figures(posting: Posting, formatter: Formatter, *, sees_money: bool) -> Sequence[ChangedFigure]:
    """What a posting corrected about opening stock; nothing where it is no such correction."""
    if posting.corrects is None or posting.corrects.kind != PostingKind.OPENING:
        return []
    corrections = corrections_of_opening(
        posting.corrects, formatter, sees_money=sees_money, only=posting.number
    )
    return [figure for each in corrections for figure in each.figures]


def _stood(earlier: Posting, correction: Posting) -> bool:
    """Whether an earlier correction still held when another one was made."""
    reversal = getattr(earlier, "reversed_by", None)
    return reversal is None or reversal.number > correction.number


def _figures(
    before: Iterable[Fact],
    changes: Iterable[Fact],
    shown: Mapping[int, Lot],
    formatter: Formatter,
    *,
    sees_money: bool,
) -> list[ChangedFigure]:
    """Amount and cost of each lot, where a correction changed them."""
    was, more = _sums(before), _sums(changes)
    figures = []
    for pk, lot in shown.items():
        subject = f"{lot.material.name}, {lot.label}"
        (quantity, money), (added, dearer) = was[pk], more[pk]
        if added:
            ends = [formatter.quantity(each, lot.material.measure) for each in (quantity, quantity + added)]
            figures.append(ChangedFigure(pk, subject, "quantity", str(AMOUNT), *ends))
        if dearer and sees_money:
            ends = [formatter.money(each) for each in (money, money + dearer)]
            figures.append(ChangedFigure(pk, subject, "money", str(COST), *ends))
    return figures


def _sums(facts: Iterable[Fact]) -> Mapping[int, tuple[int, int]]:
    sums: dict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for fact in facts:
        quantity, money = sums[fact.destination[1] or 0]
        sums[fact.destination[1] or 0] = quantity + fact.quantity, money + fact.money
    return sums
