"""Taking a posting back: a posting that mirrors it, once."""

from collections.abc import Iterable
from datetime import date

from inventory.errors import CannotReverse, day_in_words
from inventory.ledger import costing_methods as costflow
from inventory.ledger.balances import holdings_of, in_work
from inventory.ledger.labels import pour_label
from inventory.ledger.models import Books, CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.movements import movements_of
from inventory.ledger.posting import LockedLedger, open_ledger, update_average_cost
from inventory.ledger.reversal_guards import reason_against
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate


def reverse(*, posting: Posting, submission: Submission, note: str = "", on: date | None = None) -> Posting:
    """Reverse a posting on its own day, or on `on`; when its own lies in a closed period, on the submission's.

    Raises CannotReverse, saying what stands in the way: already reversed, itself a reversal, or something has
    since been drawn, sold or averaged that the reversal would need.
    """
    with open_ledger(submission, facts=["reverse", posting.pk, note]) as ledger:
        return ledger.earlier or post_reversal(ledger, posting, note=note, on=on)


def post_reversal(
    ledger: LockedLedger, posting: Posting, *, note: str = "", on: date | None = None
) -> Posting:
    """The same, as a part of what a submission does."""
    _refuse_repeat(posting)
    closed = ledger.books.closed_through
    is_open = closed is None or posting.effective_on > closed
    day = on or (posting.effective_on if is_open else ledger.submission.on)
    if day < posting.effective_on:
        raise CannotReverse(_too_early(posting))
    entries = list(Entry.objects.filter(posting=posting).order_by("line"))
    if ledger.uses_average_cost:
        _restore_cost(ledger, posting, entries, day)
    _refuse_overdrawn_lots(posting, entries)
    _refuse_what_stands_on_it(posting, entries)
    draft = ledger.draft(
        PostingKind.REVERSAL, on=day, note=note or _("Reversal of posting {number}", number=posting.number)
    )
    draft.posting.reverses = posting
    for each in movements_of(entries):
        draft.move(
            each.source,
            each.destination,
            each.material_id,
            quantity=-each.quantity,
            money=-each.money,
            role=each.role,
        )
    sealed = draft.seal()
    if ledger.uses_average_cost:
        update_average_cost(ledger, {entry.material_id for entry in entries if entry.lot_id}, after=sealed)
    return sealed


def obstacle_to_reversal(posting: Posting) -> str:
    """Why a posting cannot be taken back as the books stand; empty when it can. Reads only: the writer looks again.

    Under weighted average only the quantities are looked at: the writer gives the lots back what they need.
    """
    entries = list(Entry.objects.filter(posting=posting).order_by("line"))
    is_average = Books.objects.filter(costing_method=CostingMethod.AVERAGE).exists()
    try:
        _refuse_repeat(posting)
        _refuse_overdrawn_lots(posting, entries, by_quantity=is_average)
        _refuse_what_stands_on_it(posting, entries)
    except CannotReverse as problem:
        return str(problem)
    return ""


def _too_early(posting: Posting) -> str:
    return _(
        "Posting {number} is dated {day} and cannot be reversed before that.",
        number=posting.number,
        day=day_in_words(posting.effective_on),
    )


def _refuse_repeat(posting: Posting) -> None:
    if posting.kind == PostingKind.REVERSAL:
        raise CannotReverse(
            _(
                "Posting {number} is itself a reversal. Enter the original again instead.",
                number=posting.number,
            )
        )
    if posting.kind == PostingKind.AVERAGE:
        raise CannotReverse(
            _(
                "Posting {number} only updated the average cost. Reverse the posting before it.",
                number=posting.number,
            )
        )
    if Posting.objects.filter(reverses=posting).exists():
        raise CannotReverse(_("Posting {number} has already been reversed.", number=posting.number))


def _changes(entries: Iterable[Entry]) -> dict[int, tuple[int, int]]:
    """What mirroring the entries does to each lot."""
    changes: dict[int, tuple[int, int]] = {}
    for entry in entries:
        if entry.lot_id:
            quantity, money = changes.get(entry.lot_id, (0, 0))
            changes[entry.lot_id] = (quantity - entry.quantity, money - entry.money)
    return changes


def _refuse_what_stands_on_it(posting: Posting, entries: list[Entry]) -> None:
    _refuse_moved_work(entries)
    if reason := reason_against(posting):
        raise CannotReverse(reason)


def _refuse_overdrawn_lots(posting: Posting, entries: list[Entry], *, by_quantity: bool = False) -> None:
    changes = _changes(entries)
    problems = []
    for lot in Lot.objects.filter(pk__in=changes).select_related("balance", "material"):
        quantity = lot.balance.quantity + changes[lot.pk][0]
        money = lot.balance.money + changes[lot.pk][1]
        if quantity < 0 or (not by_quantity and (money < 0 or (quantity == 0 and money != 0))):
            later = (
                Entry.objects.filter(lot=lot, posting__gt=posting, posting__reversed_by__isnull=True)
                .exclude(posting__kind__in=[PostingKind.REVERSAL, PostingKind.AVERAGE])
                .order_by("-posting_id")
                .values_list("posting_id", flat=True)
                .distinct()[:5]
            )
            problems.append(_what_changed(lot, later))
    if problems:
        raise CannotReverse(
            _(
                "Posting {number} cannot be reversed: {problems}. Reverse those first, newest first.",
                number=posting.number,
                problems="; ".join(problems),
            )
        )


def _what_changed(lot: Lot, later: Iterable[int]) -> str:
    named = ", ".join(str(number) for number in later)
    if not named:
        return _(
            "lot {lot} of {material} has been used or changed since (its cost was averaged with other lots)",
            lot=lot.label,
            material=lot.material.name,
        )
    return _(
        "lot {lot} of {material} has been used or changed since (posting {numbers})",
        lot=lot.label,
        material=lot.material.name,
        numbers=named,
    )


def _refuse_moved_work(entries: list[Entry]) -> None:
    """A pour whose paint has been sold or written off cannot be taken back underneath."""
    changes: dict[tuple[int, int, str], tuple[int, int]] = {}
    for entry in entries:
        if entry.pour_id:
            account = (entry.pour_id, entry.material_id, entry.place)
            quantity, money = changes.get(account, (0, 0))
            changes[account] = (quantity - entry.quantity, money - entry.money)
    held = in_work(pour for pour, _, _ in changes)
    for (pour, material, place), (quantity, money) in changes.items():
        has_quantity, has_money = held.get((pour, material), (0, 0))
        has_quantity, has_money = has_quantity + quantity, has_money + money
        if place == Place.WORK and (
            has_quantity < 0 or has_money < 0 or (has_quantity == 0 and has_money != 0)
        ):
            raise CannotReverse(
                _(
                    "Pour {pour} has been sold, written off or corrected in cost since. Reverse that first.",
                    pour=pour_label(pour),
                )
            )


def _restore_cost(ledger: LockedLedger, posting: Posting, entries: list[Entry], day: date) -> None:
    """Weighted average: before a receipt is mirrored, give its lots back exactly the cost that will be taken out.

    Updates of the average cost have moved it between lots since; without this an empty lot would keep cost.
    """
    note = _("Before posting {number} is reversed", number=posting.number)
    draft = ledger.draft(PostingKind.AVERAGE, on=day, note=note, answers=False)
    changes = _changes(entries)
    by_material: dict[int, dict[int, costflow.Holding]] = {}
    for material_id, holding in holdings_of(sorted({e.material_id for e in entries if e.lot_id})):
        by_material.setdefault(material_id, {})[holding.lot] = holding
    for material_id, lots in by_material.items():
        emptied = {
            pk: -changes[pk][1] - lot.money
            for pk, lot in lots.items()
            if pk in changes and lot.quantity + changes[pk][0] == 0
        }
        others = [lot for pk, lot in lots.items() if pk not in emptied]
        pool = sum(lot.money for lot in others) - sum(emptied.values())
        if not any(emptied.values()) or not others or pool < 0:
            continue  # what stands in the way is named by the checks that follow
        spread = allocate(pool, [lot.quantity for lot in others])
        left = {lot.lot: new - lot.money for lot, new in zip(others, spread, strict=True)}
        draft.move_cost(material_id, {**emptied, **left})
    if draft.movements:
        draft.seal()
