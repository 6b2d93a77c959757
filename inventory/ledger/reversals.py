"""Reversing a posting: a posting that mirrors it, once."""

from collections import Counter
from collections.abc import Iterable
from datetime import date

from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.dispatch import Signal

from inventory.errors import CannotReverse, day_in_words
from inventory.ledger.account_names import labels_of_pours
from inventory.ledger.balances import in_work
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.movements import movements_of
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.ledger.reversal_guards import reason_against
from studio.accounts.models import User
from studio.accounts.roles import ROLE_REFUSED
from studio.submission import Submission
from studio.translation import _

WITH_MONEY = (PostingKind.OPENING, PostingKind.DELIVERY)

# Sent within the reversal's transaction, with the posting that was reversed: what a room keeps beside it follows.
posting_reversed = Signal()


def reverse(*, posting: Posting, submission: Submission, note: str = "", on: date | None = None) -> Posting:
    """Reverse a posting on its own day, or on `on`; when its own lies in a closed period, on the submission's.

    Raises CannotReverse, saying what stands in the way: already reversed, itself a reversal, or something has
    since been drawn, sold or averaged that the reversal would need; PermissionDenied where may_reverse says no.
    """
    refuse_without_right(submission.by, posting)
    with open_ledger(submission, facts=["reverse", posting.pk, note]) as ledger:
        return ledger.earlier or post_reversal(ledger, posting, note=note, on=on)


def may_reverse(person: User, posting: Posting) -> bool:
    """Whether somebody may take a posting back: only who may post the like of it.

    What brings money in is for those who see money; what puts such a receipt right is for owners.
    """
    if posting.corrects is not None and posting.corrects.kind in WITH_MONEY:
        return person.is_owner
    return person.may_write and (posting.kind not in WITH_MONEY or person.sees_money)


def refuse_without_right(person: User, posting: Posting) -> None:
    """Raise PermissionDenied where may_reverse says no."""
    if not may_reverse(person, posting):
        raise PermissionDenied(str(ROLE_REFUSED))


def post_reversal(
    ledger: LockedLedger, posting: Posting, *, note: str = "", on: date | None = None, answers: bool = True
) -> Posting:
    """The same, as a part of what a submission does; one posting of a submission `answers` its key."""
    _refuse_repeat(posting)
    closed = ledger.books.closed_through
    is_open = closed is None or posting.effective_on > closed
    day = on or (posting.effective_on if is_open else ledger.submission.on)
    if day < posting.effective_on:
        raise CannotReverse(_too_early(posting))
    _refuse_what_stands_on_it(posting)
    note = note or _("Reversal of posting {number}", number=posting.number)
    draft = ledger.draft(PostingKind.REVERSAL, on=day, note=note, answers=answers)
    draft.posting.reverses = posting
    draft.mirror(movements_of(list(Entry.objects.filter(posting=posting).order_by("line"))))
    reversal = draft.seal()
    posting_reversed.send(sender=None, posting=posting)
    return reversal


def obstacle_to_reversal(posting: Posting) -> str:
    """Why a posting cannot be reversed as the books stand; empty when it can. Reads only: the writer looks again."""
    try:
        _refuse_repeat(posting)
        _refuse_what_stands_on_it(posting)
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
    if Posting.objects.filter(reverses=posting).exists():
        raise CannotReverse(_("Posting {number} has already been reversed.", number=posting.number))


def _refuse_what_stands_on_it(posting: Posting) -> None:
    if posting.corrects is not None and Posting.objects.filter(reverses=posting.corrects).exists():
        raise CannotReverse(
            _("Posting {number}, which it corrects, has been reversed.", number=posting.corrects_id)
        )
    # A posting is reversed as it was corrected: what its corrections added goes back with it.
    entries = list(Entry.objects.standing().filter(Q(posting=posting) | Q(posting__corrects=posting)))
    _refuse_overdrawn_lots(posting, entries)
    _refuse_moved_work(entries)
    if reason := reason_against(posting):
        raise CannotReverse(reason)


def _refuse_overdrawn_lots(posting: Posting, entries: list[Entry]) -> None:
    """Paint that has gone on cannot go back. What it costs by now is worked out when the reversal is sealed."""
    changes: Counter[int] = Counter()
    for entry in entries:
        if entry.lot_id:
            changes[entry.lot_id] -= entry.quantity
    problems = []
    for lot in Lot.objects.filter(pk__in=changes).select_related("balance", "material"):
        if lot.balance.quantity + changes[lot.pk] < 0:
            later = (
                Entry.objects.filter(lot=lot, posting__gt=posting, posting__reversed_by__isnull=True)
                .exclude(quantity=0)
                .exclude(posting__kind=PostingKind.REVERSAL)
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
    return _(
        "lot {lot} of {material} has been used or changed since (posting {numbers})",
        lot=lot.label,
        material=lot.material.name,
        numbers=", ".join(str(number) for number in later),
    )


def _refuse_moved_work(entries: list[Entry]) -> None:
    """A pour whose paint has been sold or written off cannot be reversed underneath."""
    changes: Counter[tuple[int, int]] = Counter()
    for entry in entries:
        if entry.pour_id and entry.place == Place.WORK:
            changes[entry.pour_id, entry.material_id] -= entry.quantity
    held = in_work(pour for pour, _material in changes)
    for (pour, material), quantity in changes.items():
        if held.get((pour, material), (0, 0))[0] + quantity < 0:
            raise CannotReverse(
                _(
                    "Pour {pour} has been sold, written off or corrected in cost since. Reverse that first.",
                    pour=labels_of_pours([pour])[pour],
                )
            )
