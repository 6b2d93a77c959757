"""Writers for what leaves the shelf otherwise than by pouring (named ways out), and for decanting from lot to lot."""

from inventory.errors import InventoryError
from inventory.ledger import costing_methods as costflow
from inventory.ledger.accounts import disposal, lot_account
from inventory.ledger.models import Lot, Posting, PostingKind, Reason
from inventory.ledger.posting import open_ledger
from studio.submission import Submission
from studio.translation import _


def write_off(*, lot: Lot, quantity: int, reason: Reason, submission: Submission, note: str = "") -> Posting:
    """Take a quantity (thousandths) out of a lot for a named cause, with its cost.

    Raises NotEnough when the lot holds less.
    """
    asked = ["write off", lot, quantity, reason, submission.on, note]
    with open_ledger(submission, facts=asked) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if quantity <= 0:
            raise InventoryError(_("Enter how much to write off, above zero."))
        draft = ledger.draft(PostingKind.WRITE_OFF, note=note or reason.name)
        draft.load([lot.material])
        draft.draw(lot.material, quantity, disposal(reason.pk), chosen=lot.pk, only=True)
        return draft.seal()


def decant(
    *, lot: Lot, quantity: int, submission: Submission, place: str = "", empty_weight: int | None = None
) -> Lot:
    """Move a quantity from one lot into a fresh container, which becomes a lot of its own with the same dates.

    What clings to the old container is normal loss: it stays in the cost of what is poured. Raises NotEnough
    when the lot holds less.
    """
    asked = ["decant", lot, quantity, submission.on, place, empty_weight]
    with open_ledger(submission, facts=asked) as ledger:
        if ledger.earlier is not None:
            return Lot.objects.filter(entries__posting=ledger.earlier, decanted_from=lot).distinct().get()
        if quantity <= 0:
            raise InventoryError(_("Enter how much to decant, above zero."))
        draft = ledger.draft(PostingKind.DECANT, note=_("From {lot}", lot=lot.label))
        draft.load([lot.material])
        jar = Lot.objects.create(
            material=lot.material,
            origin=Lot.Origin.DECANT,
            received_on=lot.received_on,
            opened_on=lot.opened_on or submission.on,
            best_before=lot.best_before,
            place=place,
            supplier_batch=lot.supplier_batch,
            empty_weight=empty_weight,
            decanted_from=lot,
        )
        held = draft.holdings[lot.material_id].get(lot.pk)
        if held is None or held.quantity < quantity or held.received_on > submission.on:
            draft.draw(lot.material, quantity, lot_account(jar.pk), chosen=lot.pk, only=True)
        else:
            money = costflow.cost_of_draw(held.quantity, held.money, quantity)
            draft.receive(jar, quantity=quantity, money=money, source=lot_account(lot.pk))
        draft.seal()
        return jar
