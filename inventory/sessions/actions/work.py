"""What a submission posts for pours after their session: finishing and packing added, work sold, work written off.

Whoever acts on a piece, or on a pour that is none yet, opens the ledger and says what the submission asks for.
"""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from django.db.models import F, Max, Q

from inventory.errors import InventoryError, day_in_words
from inventory.ledger.accounts import AccountReference, cost_of_sales, disposal, work_in_progress
from inventory.ledger.balances import in_work
from inventory.ledger.models import Entry, EntryRole, Place, Posting, PostingKind, Reason
from inventory.ledger.posting import LockedLedger, PostingDraft
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.models import Pour, Session
from inventory.stock.actions import gains
from studio.errors import Question
from studio.translation import _
from studio.values.allocation import allocate


class Work(NamedTuple):
    """What is added to pours that belong together: they share it by area."""

    pours: Sequence[Pour]
    materials: Sequence[Ingredient]


def add_to_work(
    ledger: LockedLedger,
    *,
    work: Sequence[Work],
    role: EntryRole,
    note: str = "",
    confirm_gain: bool = False,
    answers: bool = True,
) -> Posting:
    """Charge varnish, hardware or packing to pours, in one posting. Raises NotEnough with every shortfall.

    One posting of a submission `answers` its key.
    """
    pours = [pour for each in work for pour in each.pours]
    materials = [item for each in work for item in each.materials]
    if not pours or not materials or any(item.quantity <= 0 for item in materials):
        raise InventoryError(_("Choose at least one pour and one material, with an amount above zero."))
    refuse_gone(pours)
    refuse_before_pouring(pours, ledger.submission.on)

    def post() -> Posting:
        draft = ledger.draft(PostingKind.FINISHING, note=note, answers=answers)
        draft.load([item.material for item in materials])
        for each in work:
            for item in each.materials:
                shares = allocate(item.quantity, [pour.area for pour in each.pours])
                for pour, part in zip(each.pours, shares, strict=True):
                    draft.draw(item.material, part, work_in_progress(pour.pk), role=role, chosen=item.lot)
        return draft.seal()

    return gains.with_confirmation(post, ledger=ledger, on=ledger.submission.on, confirm=confirm_gain)


def sell_work(
    ledger: LockedLedger,
    *,
    pours: Sequence[Pour],
    note: str = "",
    answers: bool = True,
    questions: Sequence[Question] = (),
) -> Posting:
    """Move everything these pours hold from work to sold."""
    draft = ledger.draft(PostingKind.SALE, note=note, answers=answers, questions=questions)
    _empty(draft, pours, {pour.pk: cost_of_sales(pour.pk) for pour in pours})
    return draft.seal()


def write_off_work(
    ledger: LockedLedger, *, pours: Sequence[Pour], reason: Reason, note: str = "", answers: bool = True
) -> Posting:
    """Take pours out of unsold work for a named cause (ruined, damaged, gift, own use, sample) with all their cost."""
    draft = ledger.draft(PostingKind.PIECE_WRITE_OFF, note=note or reason.name, answers=answers)
    _empty(draft, pours, {pour.pk: disposal(reason.pk) for pour in pours})
    return draft.seal()


def with_poured_over(pours: Sequence[Pour]) -> list[Pour]:
    """These pours and the failed ones beneath them: the whole cost of what is sold. Each appears once."""
    pours_by_number: dict[int, Pour] = {}
    layer = list(pours)
    while layer:
        pours_by_number.update((pour.pk, pour) for pour in layer)
        beneath = {pour.over_id for pour in layer if pour.over_id and pour.over_id not in pours_by_number}
        layer = list(Pour.objects.filter(pk__in=beneath)) if beneath else []
    return list(pours_by_number.values())


def _empty(draft: PostingDraft, pours: Sequence[Pour], destinations: dict[int, AccountReference]) -> None:
    refuse_gone(pours)
    refuse_before_work(pours, draft.posting.effective_on)
    for (pour, material), (quantity, money) in in_work(destinations).items():
        draft.move(work_in_progress(pour), destinations[pour], material, quantity=quantity, money=money)


def refuse_gone(pours: Sequence[Pour]) -> None:
    """A pour of a reversed session, or one already sold or written off, holds nothing."""
    held = {pour for (pour, _), amounts in in_work([p.pk for p in pours]).items() if any(amounts)}
    gone = [pour for pour in pours if pour.pk not in held]
    if gone:
        names = ", ".join(pour.label for pour in gone)
        raise InventoryError(
            _("{pours}: already sold, written off, or its session was reversed. Choose another.", pours=names)
        )


def refuse_before_pouring(pours: Sequence[Pour], on: date) -> None:
    poured_on = Session.objects.filter(pours__in=pours).aggregate(last=Max("held_on"))["last"]
    if on < poured_on:
        raise InventoryError(
            _("This was poured on {day}. Use that day or a later one.", day=day_in_words(poured_on))
        )


def refuse_before_work(pours: Sequence[Pour], on: date) -> None:
    """Cost cannot leave a pour on a day before it came: the books hold on every day.

    What left and was taken back on one and the same day, as an undone sale was, came on no day.
    """
    taken_back = Q(posting__reverses__effective_on=F("effective_on"), line__lte=F("posting__reverses__lines"))
    came = Entry.objects.filter(pour__in=pours, place=Place.WORK, quantity__gt=0).exclude(taken_back)
    last = came.aggregate(last=Max("effective_on"))["last"]
    if last is not None and on < last:
        raise InventoryError(
            _("The latest work on this is dated {day}. Use that day or a later one.", day=day_in_words(last))
        )
