"""What is done to one lot: what is written on the jar, what leaves it otherwise than by pouring, decanting."""

from inventory.errors import InventoryError, day_in_words
from inventory.ledger import costing_methods as costflow
from inventory.ledger.accounts import disposal, lot_account
from inventory.ledger.models import Lot, Posting, PostingKind, Reason
from inventory.ledger.posting import open_ledger
from inventory.stock.questions import questions_about_write_off
from studio.auditing.reference_rows import locked
from studio.submission import Submission, transaction
from studio.translation import _

DESCRIPTION = ("opened_on", "best_before", "place", "supplier_batch", "empty_weight")


def describe_lot(lot: Lot, *, submission: Submission, seen: int | None = None) -> Lot:
    """Write down what is known of a lot, never what it holds. Raises InventoryError, EditConflict."""
    opened = lot.opened_on
    if opened is not None and opened < lot.received_on:
        raise InventoryError(
            _(
                "{lot} came in on {day}; it cannot have been opened before that.",
                lot=lot.label,
                day=day_in_words(lot.received_on),
            )
        )
    if opened is not None and submission.is_ahead(opened):
        raise InventoryError(_("A lot cannot be opened in the future. Use today's date or an earlier one."))
    if lot.empty_weight is not None and lot.empty_weight < 0:
        raise InventoryError(_("An empty container weighs zero or more."))
    with transaction(submission):
        locked(lot, seen=seen)
        lot.save(update_fields=DESCRIPTION)
        return lot


def write_off(*, lot: Lot, quantity: int, reason: Reason, submission: Submission, note: str = "") -> Posting:
    """Take a quantity (thousandths) out of a lot for a reason, with its cost.

    Raises NotEnough when the lot holds less, NeedsConfirmation for an unusual amount.
    """
    asked = ["write off", lot, quantity, reason, submission.on, note]
    with open_ledger(submission, facts=asked) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if quantity <= 0:
            raise InventoryError(_("Enter how much to write off, above zero."))
        draft = ledger.draft(
            PostingKind.WRITE_OFF,
            note=note or reason.name,
            questions=questions_about_write_off(lot.material, quantity),
        )
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
        lot = Lot.objects.select_related("material").get(pk=lot.pk)  # its day may have been corrected since
        if quantity <= 0:
            raise InventoryError(_("Enter how much to decant, above zero."))
        draft = ledger.draft(PostingKind.DECANT)
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
        if held is None or held.available < quantity or held.received_on > submission.on:
            draft.draw(lot.material, quantity, lot_account(jar.pk), chosen=lot.pk, only=True)
        else:
            money = costflow.cost_of_draw(held.quantity, held.money, quantity)
            draft.receive(jar, quantity=quantity, money=money, source=lot_account(lot.pk))
        draft.seal()
        return jar
