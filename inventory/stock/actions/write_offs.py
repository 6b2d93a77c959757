"""Writers for what leaves the shelf otherwise than by pouring (named ways out), and for decanting from lot to lot."""

from datetime import date, datetime

from django.db import transaction

from inventory.errors import InventoryError
from inventory.ledger import costing_methods as costflow
from inventory.ledger import posting as ledger
from inventory.ledger.accounts import loss, shelf
from inventory.ledger.models import Lot, Posting, PostingKind, Reason
from studio.accounts.models import User
from studio.translation import _


@transaction.atomic
def write_off(
    *,
    lot: Lot,
    quantity: int,
    reason: Reason,
    on: date,
    by: User,
    at: datetime,
    note: str = "",
    key: str = "",
) -> Posting:
    """Take a quantity (thousandths) out of a lot for a named cause, with its cost.

    Raises NotEnough when the lot holds less.
    """
    head = ledger.lock()
    request = ledger.fingerprint(["write off", lot, quantity, reason, on, note])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    if quantity <= 0:
        raise InventoryError(_("Enter how much is written off, above zero."))
    draft = head.draft(
        PostingKind.WRITE_OFF, on=on, by=by, at=at, note=note or reason.name, key=key, fingerprint=request
    )
    draft.load([lot.material])
    draft.draw(lot.material, quantity, loss(reason.pk), chosen=lot.pk, only=True)
    return draft.seal()


@transaction.atomic
def decant(
    *,
    lot: Lot,
    quantity: int,
    on: date,
    by: User,
    at: datetime,
    place: str = "",
    empty_weight: int | None = None,
    key: str = "",
) -> Lot:
    """Move a quantity from one lot into a fresh container, which becomes a lot of its own with the same dates.

    What clings to the old container is normal loss: it stays in the cost of what is poured. Raises NotEnough
    when the lot holds less.
    """
    head = ledger.lock()
    request = ledger.fingerprint(["decant", lot, quantity, on, place, empty_weight])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return Lot.objects.filter(entries__posting=earlier, decanted_from=lot).distinct().get()
    if quantity <= 0:
        raise InventoryError(_("Enter how much is decanted, above zero."))
    note = _("From {lot}", lot=lot.label)
    draft = head.draft(PostingKind.DECANT, on=on, by=by, at=at, note=note, key=key, fingerprint=request)
    draft.load([lot.material])
    jar = Lot.objects.create(
        material=lot.material,
        origin=Lot.Origin.DECANT,
        received_on=lot.received_on,
        opened_on=lot.opened_on or on,
        best_before=lot.best_before,
        place=place,
        supplier_batch=lot.supplier_batch,
        empty_weight=empty_weight,
        decanted_from=lot,
    )
    held = draft.holdings[lot.material_id].get(lot.pk)
    if held is None or held.quantity < quantity or held.received_on > on:
        draft.draw(lot.material, quantity, shelf(jar.pk), chosen=lot.pk, only=True)
    else:
        money = costflow.cost_of_draw(held.quantity, held.money, quantity)
        draft.receive(jar, quantity=quantity, money=money, giver=shelf(lot.pk))
    draft.seal()
    return jar
