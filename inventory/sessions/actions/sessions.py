"""The writer that logs a session: mixes, pours, run-off, leftovers and minutes in one posting, all of it or nothing."""

from datetime import datetime

from django.db import transaction

from inventory.errors import InventoryError
from inventory.ledger import posting as ledger
from inventory.ledger.models import Lot, PostingKind
from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.models import Mix
from inventory.sessions.actions.session_facts import (
    Dose,
    PourFacts,
    SessionFacts,
    materials_of,
    poured_volume,
)
from inventory.sessions.actions.session_movements import move_all
from inventory.sessions.models import Pour, Session
from inventory.stock.actions import gains
from studio.accounts.models import User
from studio.constraints import LARGEST
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.quantities import format_quantity
from studio.values.sizes import Size
from studio.values.units import Measure

__all__ = ["Dose", "PourFacts", "SessionFacts", "area_of", "log_session", "refuse_overpoured"]


@transaction.atomic
def log_session(
    *, facts: SessionFacts, by: User, at: datetime, key: str = "", confirm_gain: bool = False
) -> Session:
    """Log a session. Raises NotEnough with every shortfall (nothing is posted), InventoryError for what makes no sense.

    With `confirm_gain` the shelf's shortfalls are first posted as a count gain ("the bottle held more than
    the books say").
    """
    head = ledger.lock()
    request = ledger.fingerprint(facts)
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier.session
    _refuse_nonsense(facts)

    def post() -> Session:
        draft = head.draft(
            PostingKind.SESSION,
            on=facts.held_on,
            by=by,
            at=at,
            note=facts.title,
            key=key,
            fingerprint=request,
        )
        draft.load(materials_of(facts))
        session = _session_row(facts, draft.number)
        batches = _mix_rows(facts, session)
        pours = _pour_rows(facts, session)
        move_all(draft, facts, batches, pours)
        draft.seal()
        return session

    return gains.with_confirmation(post, head=head, on=facts.held_on, by=by, at=at, confirm=confirm_gain)


def area_of(surface: Material) -> int:
    """Area a pour covers, in thousandths of a cm²: the face, and the sides where they are painted."""
    if surface.height is None or surface.width is None:
        raise InventoryError(_("{surface} has no size. Enter its height and width first.", surface=surface))
    size = Size(surface.height, surface.width, surface.depth, surface.is_round)
    return size.surface_area(painted_sides=surface.sides_painted and bool(surface.depth))


def _session_row(facts: SessionFacts, number: int) -> Session:
    studio = Studio.current()
    return Session.objects.create(
        held_on=facts.held_on,
        title=facts.title,
        minutes=facts.minutes,
        wage_per_hour=studio.wage_per_hour,
        overhead_per_hour=studio.overhead_per_hour,
        temperature=facts.temperature,
        humidity=facts.humidity,
        notes=facts.notes,
        posting_id=number,
    )


def _mix_rows(facts: SessionFacts, session: Session) -> list[Mix]:
    lots = Lot.objects.bulk_create(mixes.prepare(item, facts.held_on) for item in facts.mixes)
    return Mix.objects.bulk_create(
        Mix(
            version=item.version,
            session=session,
            mixed_on=facts.held_on,
            lot=lot,
            rest=item.rest,
            posting_id=session.posting_id,
            water_share=mixes.water_in(item),
            consistency=item.consistency,
        )
        for item, lot in zip(facts.mixes, lots, strict=True)
    )


def _pour_rows(facts: SessionFacts, session: Session) -> list[Pour]:
    rows = []
    for number, item in enumerate(facts.pours, start=1):
        surface, area = _covered(item)
        rows.append(
            Pour(
                session=session,
                number=number,
                surface=surface,
                over=item.over,
                technique=item.technique,
                area=area,
                poured=poured_volume(item, facts),
                run_off=item.run_off,
                outcome=item.outcome,
                arm=item.arm,
                notes=item.notes,
            )
        )
    return Pour.objects.bulk_create(rows)


def _covered(item: PourFacts) -> tuple[Material, int]:
    """The surface a pour covers, and its area: its own, or that of the failed pour beneath."""
    if item.over is not None:
        return item.over.surface, item.over.area
    if item.surface is None:
        raise InventoryError(_("Choose a surface, or the failed pour that this one covers."))
    return item.surface, area_of(item.surface)


def _refuse_nonsense(facts: SessionFacts) -> None:
    if not facts.mixes and not facts.pours:
        raise InventoryError(_("A session needs at least one mix or one pour."))
    if facts.sundries and not facts.pours:
        raise InventoryError(
            _(
                "Sundries are charged to the pours of a session, and this one has none. Write them off instead."
            )
        )
    if any(item.quantity <= 0 for item in facts.sundries):
        raise InventoryError(_("Every sundry needs an amount above zero."))
    for number, pour in enumerate(facts.pours, start=1):
        _refuse_pour(number, pour, facts)
    refuse_overpoured(facts)


def refuse_overpoured(facts: SessionFacts) -> None:
    """Raise InventoryError where the pours take more from a cup than was mixed in it."""
    for position, mix in enumerate(facts.mixes):
        poured = sum(dose.quantity for pour in facts.pours for dose in pour.doses if dose.mix == position)
        made = mixes.yield_of(mix)
        if poured > made:
            makes = mix.version.recipe.makes
            measure = Measure(makes.measure)
            raise InventoryError(
                _(
                    "{name}: the pours take {poured} but only {made} was mixed. Correct the amounts mixed or poured.",
                    name=makes,
                    poured=format_quantity(poured, measure),
                    made=format_quantity(made, measure),
                )
            )


def _refuse_pour(number: int, pour: PourFacts, facts: SessionFacts) -> None:
    if (pour.surface is None) == (pour.over is None):
        raise InventoryError(
            _("Pour {number}: choose a surface, or the failed pour that it covers.", number=number)
        )
    if pour.over is not None:
        _refuse_covering(number, pour.over, facts)
    if not pour.doses or any(dose.quantity <= 0 for dose in pour.doses):
        raise InventoryError(
            _("Pour {number}: enter how much was poured, above zero for each colour.", number=number)
        )
    if any(dose.mix is not None and not 0 <= dose.mix < len(facts.mixes) for dose in pour.doses):
        raise InventoryError(
            _("Pour {number}: it names a mix that this session does not have.", number=number)
        )
    poured = poured_volume(pour, facts)
    if poured > LARGEST:
        raise InventoryError(
            _("Pour {number}: that is more than the books can hold. Check the amounts.", number=number)
        )
    if pour.run_off is not None and not 0 <= pour.run_off <= poured:
        raise InventoryError(
            _(
                "Pour {number}: run-off is part of what was poured, so it cannot be more than that.",
                number=number,
            )
        )


def _refuse_covering(number: int, failed: Pour, facts: SessionFacts) -> None:
    """Only a failed pour still in unsold work is poured over, and once: its surface is charged to the new pour."""
    if failed.outcome != Pour.Outcome.FAILED:
        raise InventoryError(
            _(
                "Pour {number}: {failed} is not marked as failed. Mark it as failed before pouring over it.",
                number=number,
                failed=failed,
            )
        )
    here = sum(pour.over is not None and pour.over.pk == failed.pk for pour in facts.pours)
    if here > 1 or Pour.objects.standing().filter(over=failed).exists():
        raise InventoryError(
            _("Pour {number}: {failed} has already been poured over.", number=number, failed=failed)
        )
    if not any(any(amounts) for amounts in ledger.in_work([failed.pk]).values()):
        raise InventoryError(
            _(
                "Pour {number}: {failed} was sold, written off, or its session was reversed. "
                "Choose a surface instead.",
                number=number,
                failed=failed,
            )
        )
