"""What a new posting changes in movements that were posted before: restated lines of that same posting.

A restated line moves money on the day and the way of the movement whose cost it restates. Where a session was corrected
whose pours have left work since, it also moves the quantity that the pours held more or less when they left.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from operator import itemgetter

from inventory.errors import BelowZeroOnDay
from inventory.ledger.accounts import AccountReference, lot_account
from inventory.ledger.balances import holdings_of
from inventory.ledger.costing_methods import transfers
from inventory.ledger.models import Books, CostingMethod, Entry, Place, Posting, PostingKind
from inventory.ledger.movements import Movement
from inventory.ledger.restatement import (
    NOWHERE,
    Account,
    Amounts,
    Fact,
    Flow,
    PostedFacts,
    Restatement,
    day_moved_to,
    even_out,
)
from studio.translation import _

ROWS_AT_A_TIME = 5_000
FACTS = (
    "posting_id", "effective_on", "place", "lot_id", "mix_id", "pour_id", "reason_id",
    "material_id", "role", "quantity", "money",
)  # fmt: skip


def must_restate(
    posting: Posting, movements: Iterable[Movement], method: CostingMethod, *, is_backdated: bool
) -> bool:
    """Whether a posting can change what earlier movements cost.

    A correction does. So does a reversal, and whatever is dated before something of the same material, if costs are
    averaged or were ever corrected. By lot, nothing else: a draw takes its share of what is there.
    """
    if posting.corrects_id is not None:
        return True
    if posting.reverses_id is None and not is_backdated:
        return False
    if method != CostingMethod.AVERAGE and not Posting.objects.filter(kind=PostingKind.CORRECTION).exists():
        return False
    if posting.reverses_id is not None:
        return True
    materials = {each.material_id for each in movements}
    later = Entry.objects.filter(material__in=materials, effective_on__gt=posting.effective_on)
    return later.filter(place=Place.LOT).exists()


def restated(posting: Posting, movements: Sequence[Movement], books: Books) -> list[Movement]:
    """The restated lines of a posting about to be sealed: the whole ledger is lived through again with it.

    Raises BelowZeroOnDay when a lot would ever have cost less than nothing.
    """
    draft = PostedFacts(
        posting.number,
        posting.effective_on,
        posting.reverses_id,
        posting.corrects_id,
        [_fact(each) for each in movements],
    )
    replay = restatement(books, draft=draft)
    for each in (*posted_facts(), draft):
        replay.take(each)
    differences = replay.finish()
    if replay.is_below_zero:
        raise BelowZeroOnDay(_("A lot would cost less than nothing. Check the amounts."))
    return _lines(differences)


def averaged(movements: Iterable[Movement]) -> list[Movement]:
    """Weighted average: the lines that share each received material's money over its lots by quantity (IAS 2.27)."""
    received: dict[int, date] = {}
    changes: dict[int, dict[int, tuple[int, int]]] = defaultdict(dict)
    for each in movements:
        for account, sign in ((each.source, -1), (each.destination, 1)):
            if account.lot is not None:
                quantity, money = changes[each.material_id].get(account.lot, (0, 0))
                quantity, money = quantity + sign * each.quantity, money + sign * each.money
                changes[each.material_id][account.lot] = quantity, money
                if sign * each.quantity > 0:
                    received[each.material_id] = each.effective_on
    held: dict[int, dict[int, tuple[int, int]]] = defaultdict(dict)
    for material, holding in holdings_of(sorted(received)) if received else ():
        held[material][holding.lot] = holding.quantity, holding.money
    differences: dict[Flow, Amounts] = {}
    for material, day in received.items():
        for lot, (quantity, money) in changes[material].items():
            before = held[material].get(lot, (0, 0))
            held[material][lot] = before[0] + quantity, before[1] + money
        lots = [lot for lot in sorted(held[material]) if held[material][lot][0] > 0]
        even = even_out([held[material][lot] for lot in lots])
        for lot, money in zip(lots, even, strict=True):
            flow = Flow(day, NOWHERE, (Place.LOT.value, lot, None, None, None), material, "")
            differences[flow] = 0, money - held[material][lot][1]
    return _lines(differences)


def restatement(books: Books, *, draft: PostedFacts | None = None, using: str = "default") -> Restatement:
    """A replay that knows which postings were reversed or corrected, the draft's own target among them."""
    postings = Posting.objects.using(using)
    reversals = postings.filter(reverses__isnull=False).values_list("reverses_id", "effective_on")
    reversed_on = {number: day for number, day in reversals if number is not None}
    if draft and draft.reverses is not None:
        reversed_on[draft.reverses] = draft.day
    corrections: dict[int, list[Fact]] = defaultdict(list)
    corrected = postings.filter(corrects__isnull=False).exclude(number__in=reversed_on)
    targets = corrected.values_list("number", flat=True)
    moved_to: dict[int, date] = {}
    standing = list(posted_facts(using, only=targets))
    for each in [*standing, draft] if draft and draft.corrects is not None else standing:
        corrections[each.corrects or 0] += each.corrections
        if day := day_moved_to(each.corrections):
            moved_to[each.corrects or 0] = day
    return Restatement(
        is_average=books.costing_method == CostingMethod.AVERAGE,
        corrections=corrections,
        reversed_on=reversed_on,
        closed_through=books.closed_through,
        moved_to=moved_to,
    )


def posted_facts(using: str = "default", *, only: Iterable[int] | None = None) -> Iterator[PostedFacts]:
    """Postings with their movements, in order of numbers: all of them, or only some."""
    postings = Posting.objects.using(using).order_by("number")
    entries = Entry.objects.using(using).order_by("posting_id", "line")
    if only is not None:
        numbers = list(only)
        postings, entries = postings.filter(number__in=numbers), entries.filter(posting__in=numbers)
    rows = entries.values_list(*FACTS).iterator(chunk_size=ROWS_AT_A_TIME)
    heads = postings.values_list("number", "effective_on", "reverses_id", "corrects_id")
    by_posting = groupby(rows, key=itemgetter(0))
    number, lines = next(by_posting, (0, iter(())))
    for head in heads.iterator(chunk_size=ROWS_AT_A_TIME):
        while number < head[0] and (following := next(by_posting, None)) is not None:
            number, lines = following
        yield PostedFacts(*head, facts_of(lines) if number == head[0] else [])


def facts_of(rows: Iterable[tuple[object, ...]]) -> list[Fact]:
    """Entries (the columns of FACTS, in order of lines) as the movements that they pair up to."""
    paired = iter(rows)
    return [
        Fact(into[1], out[2:7], into[2:7], into[7], into[8], into[9], into[10])  # type: ignore[arg-type]
        for out, into in zip(paired, paired, strict=True)
    ]


def _fact(movement: Movement) -> Fact:
    return Fact(
        movement.effective_on,
        _account(movement.source),
        _account(movement.destination),
        movement.material_id,
        movement.role,
        movement.quantity,
        movement.money,
    )


def _account(reference: AccountReference) -> Account:
    return reference.place.value, reference.lot, reference.mix, reference.pour, reference.reason


def _lines(differences: dict[Flow, Amounts]) -> list[Movement]:
    """The movements that put flows right, in order of days."""
    between_lots: dict[tuple[date, int], dict[int, int]] = defaultdict(dict)
    lines = []
    for flow, (quantity, money) in differences.items():
        if flow.source == NOWHERE:
            between_lots[flow.day, flow.material][flow.destination[1] or 0] = money
        else:
            source, destination = (
                AccountReference(Place(end[0]), *end[1:]) for end in (flow.source, flow.destination)
            )
            lines.append(Movement(source, destination, flow.material, quantity, money, flow.role, flow.day))
    for (day, material), changes in between_lots.items():
        for giver, taker, money in transfers(changes):
            lines.append(Movement(lot_account(giver), lot_account(taker), material, 0, money, "", day))
    return sorted(lines, key=lambda line: line.effective_on)
