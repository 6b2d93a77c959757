"""What stands beneath finished pieces that were there before the books: a pour each, at a stated cost."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.ledger.accounts import OUTSIDE, work_in_progress
from inventory.ledger.models import EntryRole, PostingKind
from inventory.ledger.posting import LockedLedger
from inventory.materials.models import Kind, Material
from inventory.sessions.actions.sessions import area_of
from inventory.sessions.models import Pour, Session, Technique
from studio.auditing.writing import create_all
from studio.errors import InputError
from studio.translation import _
from studio.values.allocation import THOUSANDTHS


@dataclass(frozen=True, slots=True)
class StatedPour:
    """A finished surface, and what its materials cost (millionths), the surface among them. Raises InputError."""

    surface: Material
    technique: Technique
    cost: int

    def __post_init__(self) -> None:
        if self.surface.kind != Kind.SURFACE:
            raise InputError(_("{name} is no surface.", name=self.surface), field="surface")
        area_of(self.surface)
        if self.cost < 0:
            raise InputError(_("A cost cannot be below zero."), field="cost")


def bring_in(ledger: LockedLedger, pours: Sequence[StatedPour]) -> list[Pour]:
    """Post finished surfaces as opening stock, into work in progress: one movement each, from outside.

    The account is the one that opening stock of materials comes from; nothing leaves the shelf.
    """
    draft = ledger.draft(PostingKind.OPENING, note=_("Finished pieces"))
    session = Session.objects.create(
        held_on=ledger.submission.on, title=_("Finished pieces"), posting_id=draft.number
    )
    made = create_all(
        Pour(
            session=session,
            number=number,
            surface=pour.surface,
            technique=pour.technique,
            area=area_of(pour.surface),
            poured=0,
            outcome=Pour.Outcome.GOOD,
        )
        for number, pour in enumerate(pours, start=1)
    )
    for row, pour in zip(made, pours, strict=True):
        draft.move(
            OUTSIDE,
            work_in_progress(row.pk),
            pour.surface.pk,
            quantity=THOUSANDTHS,
            money=pour.cost,
            role=EntryRole.OPENING,
        )
    draft.seal()
    return made
