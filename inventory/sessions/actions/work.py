"""Writers for pours after their session: finishing and packing added, work sold, work written off."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction
from django.db.models import Sum

from inventory.errors import InventoryError
from inventory.ledger import posting as ledger
from inventory.ledger.accounts import Spot, loss, sold, work
from inventory.ledger.models import Entry, EntryRole, Place, Posting, PostingKind, Reason
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.models import Pour
from inventory.stock.actions import gains
from studio.accounts.models import User
from studio.translation import _
from studio.values.allocation import allocate


@transaction.atomic
def add_to_work(
    *,
    pours: Sequence[Pour],
    materials: Sequence[Ingredient],
    role: EntryRole,
    on: date,
    by: User,
    at: datetime,
    note: str = "",
    key: str = "",
    confirm_gain: bool = False,
    also_asked: Sequence[object] = (),
) -> Posting:
    """Charge varnish, hardware or packing to pours, shared over them by area.

    `also_asked` is what else the request asked of the caller, so that a key sent again with other contents is
    refused. Raises NotEnough with every shortfall.
    """
    head = ledger.lock()
    request = ledger.fingerprint([pours, materials, role, on, note, *also_asked])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    if not pours or not materials or any(item.quantity <= 0 for item in materials):
        raise InventoryError(_("Choose at least one pour and one material, with an amount above zero."))
    _refuse_gone(pours)

    def post() -> Posting:
        draft = head.draft(
            PostingKind.FINISHING, on=on, by=by, at=at, note=note, key=key, fingerprint=request
        )
        draft.load([item.material for item in materials])
        for item in materials:
            for pour, part in zip(pours, allocate(item.quantity, [pour.area for pour in pours]), strict=True):
                draft.draw(item.material, part, work(pour.pk), role=role, chosen=item.lot)
        return draft.seal()

    return gains.with_confirmation(post, head=head, on=on, by=by, at=at, confirm=confirm_gain)


def sell_work(
    *,
    head: ledger.Head,
    pours: Sequence[Pour],
    on: date,
    by: User,
    at: datetime,
    note: str = "",
    key: str = "",
    fingerprint: str = "",
) -> Posting:
    """Move everything these pours hold from work to sold.

    Called under the ledger's lock by whoever records the sale.
    """
    draft = head.draft(PostingKind.SALE, on=on, by=by, at=at, note=note, key=key, fingerprint=fingerprint)
    _empty(draft, pours, {pour.pk: sold(pour.pk) for pour in pours})
    return draft.seal()


@transaction.atomic
def bring_back_corrections(*, pours: Sequence[Pour], on: date, by: User, at: datetime) -> Posting | None:
    """After a sale was reversed: what cost corrections added to the sold pours since comes back into work too."""
    head = ledger.lock()
    draft = head.draft(
        PostingKind.COST_CORRECTION,
        on=on,
        by=by,
        at=at,
        note=_("Corrections since the sale come back with it"),
    )
    added = (
        Entry.objects.filter(pour__in=list(pours), place=Place.SOLD)
        .values_list("pour_id", "material_id")
        .annotate(money=Sum("money"))
        .order_by("pour_id", "material_id")
    )
    for pour, material, money in added:
        draft.move(sold(pour), work(pour), material, quantity=0, money=money)
    return draft.seal() if draft.entries else None


@transaction.atomic
def write_off_work(
    *, pours: Sequence[Pour], reason: Reason, on: date, by: User, at: datetime, note: str = "", key: str = ""
) -> Posting:
    """Take pours out of unsold work for a named cause (ruined, damaged, gift, own use, sample) with all their cost."""
    head = ledger.lock()
    request = ledger.fingerprint(["work", pours, reason, on, note])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    draft = head.draft(
        PostingKind.SPOILT, on=on, by=by, at=at, note=note or reason.name, key=key, fingerprint=request
    )
    _empty(draft, pours, {pour.pk: loss(reason.pk) for pour in pours})
    return draft.seal()


def with_poured_over(pours: Sequence[Pour]) -> list[Pour]:
    """These pours and the failed ones beneath them: the whole cost of what is sold. Each appears once."""
    found: dict[int, Pour] = {}
    layer = list(pours)
    while layer:
        found.update((pour.pk, pour) for pour in layer)
        beneath = {pour.over_id for pour in layer if pour.over_id and pour.over_id not in found}
        layer = list(Pour.objects.filter(pk__in=beneath)) if beneath else []
    return list(found.values())


def _empty(draft: ledger.Draft, pours: Sequence[Pour], takers: dict[int, Spot]) -> None:
    _refuse_gone(pours)
    for (pour, material), (quantity, money) in ledger.in_work(takers).items():
        draft.move(work(pour), takers[pour], material, quantity=quantity, money=money)


def _refuse_gone(pours: Sequence[Pour]) -> None:
    """A pour of a reversed session, or one already sold or written off, holds nothing."""
    held = {pour for (pour, _), amounts in ledger.in_work([p.pk for p in pours]).items() if any(amounts)}
    gone = [pour for pour in pours if pour.pk not in held]
    if gone:
        names = ", ".join(pour.label for pour in gone)
        raise InventoryError(
            _("{pours}: already sold, written off, or its session was reversed. Choose another.", pours=names)
        )
