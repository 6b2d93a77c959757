"""Taking a posting back: a posting that mirrors it, once."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from inventory import costflow, ledger
from inventory.errors import CannotReverse
from inventory.models import Entry, Lot, Place, Posting, PostingKind, Pour
from inventory.places import Spot, shelf
from studio.models import User
from studio.sharing import share


@transaction.atomic
def reverse(
    *, posting: Posting, by: User, at: datetime, note: str = "", key: str = "", on: date | None = None
) -> Posting:
    """Take a posting back on its own day (or on `on`, when that day lies in a closed period).

    Raises CannotReverse, saying what stands in the way: already reversed, itself a reversal, or something has
    since been drawn, sold or evened that the reversal would need.
    """
    head = ledger.lock()
    request = ledger.fingerprint(["reverse", posting.pk, note])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    _refuse_repeat(posting)
    closed = head.books.closed_through
    day = on or (posting.effective_on if closed is None or posting.effective_on > closed else at.date())
    if day < posting.effective_on:
        raise CannotReverse(
            f"Posting {posting.number} is dated {posting.effective_on:%d %B %Y} and cannot be taken back before that."
        )
    entries = list(Entry.objects.filter(posting=posting).order_by("line"))
    if head.averages:
        _make_room(head, posting, entries, day, by, at)
    _refuse_overdrawn_lots(posting, entries)
    _refuse_moved_work(entries)
    _refuse_poured_over(posting)
    draft = head.draft(
        PostingKind.REVERSAL,
        on=day,
        by=by,
        at=at,
        note=note or f"Takes back posting {posting.number}",
        key=key,
        fingerprint=request,
    )
    draft.posting.reverses = posting
    for gave, took in zip(entries[::2], entries[1::2], strict=True):
        draft.move(
            spot_of(gave),
            spot_of(took),
            gave.material_id,
            quantity=gave.quantity,
            money=gave.money,
            role=gave.role,
        )
    sealed = draft.seal()
    if head.averages:
        ledger.even_out(head, {entry.material_id for entry in entries if entry.lot_id}, after=sealed)
    return sealed


def spot_of(entry: Entry) -> Spot:
    """The place an entry names."""
    return Spot(Place(entry.place), entry.lot_id, entry.mix_id, entry.pour_id, entry.cause_id)


def _refuse_repeat(posting: Posting) -> None:
    if posting.kind == PostingKind.REVERSAL:
        raise CannotReverse(
            f"Posting {posting.number} is itself a reversal. Enter the original again instead."
        )
    if posting.kind == PostingKind.AVERAGE:
        raise CannotReverse(
            f"Posting {posting.number} only evened the average cost. Reverse the posting that it followed."
        )
    if Posting.objects.filter(reverses=posting).exists():
        raise CannotReverse(f"Posting {posting.number} has already been reversed.")


def _changes(entries: Iterable[Entry]) -> dict[int, tuple[int, int]]:
    """What mirroring the entries does to each lot."""
    changes: dict[int, tuple[int, int]] = {}
    for entry in entries:
        if entry.lot_id:
            quantity, money = changes.get(entry.lot_id, (0, 0))
            changes[entry.lot_id] = (quantity - entry.quantity, money - entry.money)
    return changes


def _refuse_overdrawn_lots(posting: Posting, entries: list[Entry]) -> None:
    changes = _changes(entries)
    problems = []
    for lot in Lot.objects.filter(pk__in=changes).select_related("balance", "material"):
        quantity = lot.balance.quantity + changes[lot.pk][0]
        money = lot.balance.money + changes[lot.pk][1]
        if quantity < 0 or money < 0 or (quantity == 0 and money != 0):
            later = (
                Entry.objects.filter(lot=lot, posting__gt=posting, posting__reversed_by__isnull=True)
                .exclude(posting__kind__in=[PostingKind.REVERSAL, PostingKind.AVERAGE])
                .order_by("-posting_id")
                .values_list("posting_id", flat=True)
                .distinct()[:5]
            )
            since = ", ".join(str(number) for number in later) or "a cost evened since"
            problems.append(
                f"lot {lot.label} of {lot.material.name} has been used or changed since (posting {since})"
            )
    if problems:
        raise CannotReverse(
            f"Posting {posting.number} cannot be reversed: {'; '.join(problems)}. Reverse those first, newest first."
        )


def _refuse_moved_work(entries: list[Entry]) -> None:
    """A pour whose paint has been sold or written off cannot be taken back underneath."""
    changes: dict[tuple[int, int, str], tuple[int, int]] = {}
    for entry in entries:
        if entry.pour_id:
            spot = (entry.pour_id, entry.material_id, entry.place)
            quantity, money = changes.get(spot, (0, 0))
            changes[spot] = (quantity - entry.quantity, money - entry.money)
    held = ledger.in_work(pour for pour, _, _ in changes)
    for (pour, material, place), (quantity, money) in changes.items():
        has_quantity, has_money = held.get((pour, material), (0, 0))
        has_quantity, has_money = has_quantity + quantity, has_money + money
        if place == Place.WORK and (
            has_quantity < 0 or has_money < 0 or (has_quantity == 0 and has_money != 0)
        ):
            raise CannotReverse(
                f"Pour P{pour:04d} has been sold, written off or corrected in cost since. Reverse that first."
            )


def _refuse_poured_over(posting: Posting) -> None:
    """The surface of a failed pour that has been poured over is charged to both: it cannot go back to the shelf."""
    over = Pour.objects.standing().filter(over__session__posting=posting).first()
    if over is not None:
        raise CannotReverse(f"{over.over} has been poured over since, by {over}. Reverse that session first.")


def _make_room(
    head: ledger.Head, posting: Posting, entries: list[Entry], day: date, by: User, at: datetime
) -> None:
    """Weighted average: before a receipt is mirrored, give its lots back exactly the cost that will be taken out.

    Evening has moved cost between lots since; without this the mirror would leave cost on an empty lot.
    """
    draft = head.draft(
        PostingKind.AVERAGE, on=day, by=by, at=at, note=f"Before posting {posting.number} is reversed"
    )
    changes = _changes(entries)
    by_material: dict[int, dict[int, costflow.Holding]] = {}
    for material_id, holding in ledger.holdings_of(sorted({e.material_id for e in entries if e.lot_id})):
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
        spread = share(pool, [lot.quantity for lot in others])
        left = {lot.lot: new - lot.money for lot, new in zip(others, spread, strict=True)}
        for giver, taker, money in ledger.settle({**emptied, **left}):
            draft.move(shelf(giver), shelf(taker), material_id, quantity=0, money=money)
    if draft.entries:
        draft.seal()
