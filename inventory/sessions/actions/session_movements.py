"""What a session moves: the same for the posting that is written and for one that is only tried out."""

from collections.abc import Sequence

from inventory.ledger.accounts import disposal, work_in_progress
from inventory.ledger.models import EntryRole, Reason
from inventory.ledger.posting import PostingDraft
from inventory.recipes.actions import mixes
from inventory.recipes.models import Mix
from inventory.sessions.actions.session_facts import PourFacts, SessionFacts
from inventory.sessions.models import Pour
from studio.values.allocation import allocate


def move_all(draft: PostingDraft, facts: SessionFacts, batches: Sequence[Mix], pours: Sequence[Pour]) -> None:
    """Mix, pour, clear the cups and charge the sundries, in this order. `batches` and `pours` follow the facts."""
    for mix, mix_facts in zip(batches, facts.mixes, strict=True):
        mixes.stir(draft, mix, mix_facts)
    for pour, pour_facts in zip(pours, facts.pours, strict=True):
        _pour(draft, pour, pour_facts, batches)
    _clear_cups(draft, batches, pours, facts)
    _charge_sundries(draft, pours, facts)


def _pour(draft: PostingDraft, pour: Pour, facts: PourFacts, batches: Sequence[Mix]) -> None:
    if facts.surface is not None:
        draft.draw(
            facts.surface, 1000, work_in_progress(pour.pk), role=EntryRole.SURFACE, chosen=facts.surface_lot
        )
    for dose in facts.doses:
        if dose.mix is not None:
            lot = batches[dose.mix].lot
            draft.draw(
                lot.material,
                dose.quantity,
                work_in_progress(pour.pk),
                role=EntryRole.POURED,
                chosen=lot.pk,
                only=True,
            )
        elif dose.material is not None:
            draft.draw(
                dose.material,
                dose.quantity,
                work_in_progress(pour.pk),
                role=EntryRole.POURED,
                chosen=dose.lot,
            )


def _clear_cups(
    draft: PostingDraft, batches: Sequence[Mix], pours: Sequence[Pour], facts: SessionFacts
) -> None:
    """What is left of each mix: kept on the shelf, shared over its pours as cup residue, or thrown away as a loss."""
    waste = None
    for position, (mix, mix_facts) in enumerate(zip(batches, facts.mixes, strict=True)):
        doses = [sum(d.quantity for d in pour.doses if d.mix == position) for pour in facts.pours]
        left = mixes.yield_of(mix_facts) - sum(doses)
        if left <= 0 or mix.leftover == Mix.Leftover.KEPT:
            continue
        if mix.leftover == Mix.Leftover.DISCARDED or not any(doses):
            waste = waste or disposal(Reason.objects.get(code="leftover").pk)
            draft.draw(mix.lot.material, left, waste, chosen=mix.lot_id, only=True)
            continue
        for pour, part in zip(pours, allocate(left, doses), strict=True):
            draft.draw(
                mix.lot.material,
                part,
                work_in_progress(pour.pk),
                role=EntryRole.RESIDUE,
                chosen=mix.lot_id,
                only=True,
            )


def _charge_sundries(draft: PostingDraft, pours: Sequence[Pour], facts: SessionFacts) -> None:
    """Gloves, towels and the like belong to every pour of the session alike."""
    for item in facts.sundries:
        for pour, part in zip(pours, allocate(item.quantity, [1] * len(pours)), strict=True):
            draft.draw(item.material, part, work_in_progress(pour.pk), role=EntryRole.SUNDRY, chosen=item.lot)
