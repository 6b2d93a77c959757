"""Paint that leaves a cup: onto a surface, or onto the floor."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from inventory.ledger.accounts import AccountReference, disposal
from inventory.ledger.models import EntryRole, Reason
from inventory.ledger.posting import Moves
from inventory.recipes.models import Mix

if TYPE_CHECKING:
    from inventory.sessions.actions.sessions import Dose


def draw_dose(
    draft: Moves, dose: "Dose", destination: AccountReference, role: EntryRole, batches: Sequence[Mix]
) -> None:
    """Take a dose out of the mix that it names by its position in `batches`, or from the shelf."""
    if dose.mix is not None:
        lot = batches[dose.mix].lot
        draft.draw(lot.material, dose.quantity, destination, role=role, chosen=lot.pk, only=True)
    elif dose.material is not None:
        draft.draw(dose.material, dose.quantity, destination, role=role, chosen=dose.lot)


def spill(draft: Moves, spills: Sequence["Dose"], batches: Sequence[Mix]) -> None:
    """What was spilled is a loss of its own: no pour is the dearer for it (IAS 2, paragraph 16)."""
    if not spills:
        return
    loss = disposal(Reason.objects.get(code="spilled").pk)
    for dose in spills:
        draw_dose(draft, dose, loss, EntryRole.SPILLED, batches)
