"""The writer that logs a session: mixes, pours, run-off, leftovers and minutes in one posting, all of it or nothing."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from inventory import gains, ledger, mixes
from inventory.errors import InventoryError
from inventory.mixes import Ingredient, MixFacts
from inventory.models import Cause, EntryRole, Lot, Material, Mix, PostingKind, Pour, Session, Technique
from inventory.places import loss, work
from studio.fields import LARGEST
from studio.models import Studio, User
from studio.quantities import show
from studio.sharing import share
from studio.sizes import Size
from studio.units import Measure


@dataclass(frozen=True, slots=True)
class Dose:
    """Paint poured onto a surface: from a mix of this session (by its position) or straight from the shelf."""

    quantity: int
    mix: int | None = None
    material: Material | None = None
    lot: int | None = None


@dataclass(frozen=True, slots=True)
class PourFacts:
    """One surface poured. `over` is a failed pour that this one covers: its surface is not charged again."""

    technique: Technique
    doses: Sequence[Dose]
    surface: Material | None = None
    surface_lot: int | None = None
    over: Pour | None = None
    run_off: int | None = None
    outcome: str = Pour.Outcome.GOOD
    arm: str = ""
    notes: str = ""


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """A session as it happened. Quantities are thousandths of each material's base unit."""

    held_on: date
    mixes: Sequence[MixFacts] = ()
    pours: Sequence[PourFacts] = ()
    sundries: Sequence[Ingredient] = ()
    minutes: int = 0
    title: str = ""
    temperature: int | None = None
    humidity: int | None = None
    notes: str = ""


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
        draft.load(_materials(facts))
        session = _session_row(facts, draft.number)
        batches = _mix_rows(facts, session)
        pours = _pour_rows(facts, session)
        for mix, mix_facts in zip(batches, facts.mixes, strict=True):
            mixes.stir(draft, mix, mix_facts)
        for pour, pour_facts in zip(pours, facts.pours, strict=True):
            _pour(draft, pour, pour_facts, batches)
        _clear_cups(draft, batches, pours, facts)
        _charge_sundries(draft, pours, facts)
        draft.seal()
        return session

    return gains.with_confirmation(post, head=head, on=facts.held_on, by=by, at=at, confirm=confirm_gain)


def area_of(surface: Material) -> int:
    """Area a pour covers, in thousandths of a cm²: the face, and the sides where they are painted."""
    if surface.height is None or surface.width is None:
        raise InventoryError(f"{surface} has no size. Enter its height and width first.")
    size = Size(surface.height, surface.width, surface.depth, surface.is_round)
    return size.surface_area(painted_sides=surface.sides_painted and bool(surface.depth))


def _pour(draft: ledger.Draft, pour: Pour, facts: PourFacts, batches: Sequence[Mix]) -> None:
    if facts.surface is not None:
        draft.draw(facts.surface, 1000, work(pour.pk), role=EntryRole.SURFACE, chosen=facts.surface_lot)
    for dose in facts.doses:
        if dose.mix is not None:
            lot = batches[dose.mix].lot
            draft.draw(
                lot.material, dose.quantity, work(pour.pk), role=EntryRole.POURED, chosen=lot.pk, only=True
            )
        elif dose.material is not None:
            draft.draw(dose.material, dose.quantity, work(pour.pk), role=EntryRole.POURED, chosen=dose.lot)


def _clear_cups(
    draft: ledger.Draft, batches: Sequence[Mix], pours: Sequence[Pour], facts: SessionFacts
) -> None:
    """What is left of each mix: kept on the shelf, shared over its pours as cup residue, or thrown away as a loss."""
    for position, (mix, mix_facts) in enumerate(zip(batches, facts.mixes, strict=True)):
        doses = [sum(d.quantity for d in pour.doses if d.mix == position) for pour in facts.pours]
        rest = mixes.yield_of(mix_facts) - sum(doses)
        if rest <= 0 or mix.rest == Mix.Rest.KEPT:
            continue
        if mix.rest == Mix.Rest.DISCARDED or not any(doses):
            cause = Cause.objects.get(code="leftover")
            draft.draw(mix.lot.material, rest, loss(cause.pk), chosen=mix.lot_id, only=True)
            continue
        for pour, part in zip(pours, share(rest, doses), strict=True):
            draft.draw(
                mix.lot.material, part, work(pour.pk), role=EntryRole.RESIDUE, chosen=mix.lot_id, only=True
            )


def _charge_sundries(draft: ledger.Draft, pours: Sequence[Pour], facts: SessionFacts) -> None:
    """Gloves, towels and the like belong to every pour of the session alike."""
    for item in facts.sundries:
        for pour, part in zip(pours, share(item.quantity, [1] * len(pours)), strict=True):
            draft.draw(item.material, part, work(pour.pk), role=EntryRole.SUNDRY, chosen=item.lot)


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
                poured=_poured_volume(item, facts),
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
        raise InventoryError("Choose a surface, or the failed pour that this one covers.")
    return item.surface, area_of(item.surface)


def _poured_volume(item: PourFacts, facts: SessionFacts) -> int:
    return sum(
        mixes.in_measure(_material_of(dose, facts), dose.quantity, Measure.VOLUME) for dose in item.doses
    )


def _material_of(dose: Dose, facts: SessionFacts) -> Material:
    if dose.mix is not None:
        return facts.mixes[dose.mix].version.recipe.makes
    if dose.material is None:
        raise InventoryError("Say for every amount poured which mix or material it came from.")
    return dose.material


def _materials(facts: SessionFacts) -> Iterator[Material]:
    for mix in facts.mixes:
        yield mix.version.recipe.makes
        yield from (item.material for item in mix.ingredients)
    for pour in facts.pours:
        if pour.surface is not None:
            yield pour.surface
        yield from (dose.material for dose in pour.doses if dose.material is not None)
    yield from (item.material for item in facts.sundries)


def _refuse_nonsense(facts: SessionFacts) -> None:
    if not facts.mixes and not facts.pours:
        raise InventoryError("A session needs at least one mix or one pour.")
    if facts.sundries and not facts.pours:
        raise InventoryError(
            "Sundries are charged to the pours of a session, and this one has none. Write them off instead."
        )
    if any(item.quantity <= 0 for item in facts.sundries):
        raise InventoryError("Every sundry needs an amount above zero.")
    for number, pour in enumerate(facts.pours, start=1):
        _refuse_pour(number, pour, facts)
    for position, mix in enumerate(facts.mixes):
        poured = sum(dose.quantity for pour in facts.pours for dose in pour.doses if dose.mix == position)
        made = mixes.yield_of(mix)
        if poured > made:
            makes = mix.version.recipe.makes
            measure = Measure(makes.measure)
            raise InventoryError(
                f"{makes}: the pours take {show(poured, measure)} but only {show(made, measure)} was mixed. "
                "Correct the amounts mixed or poured."
            )


def _refuse_pour(number: int, pour: PourFacts, facts: SessionFacts) -> None:
    if (pour.surface is None) == (pour.over is None):
        raise InventoryError(f"Pour {number}: choose a surface, or the failed pour that it covers.")
    if pour.over is not None:
        _refuse_covering(number, pour.over, facts)
    if not pour.doses or any(dose.quantity <= 0 for dose in pour.doses):
        raise InventoryError(f"Pour {number}: enter how much was poured, above zero for each colour.")
    if any(dose.mix is not None and not 0 <= dose.mix < len(facts.mixes) for dose in pour.doses):
        raise InventoryError(f"Pour {number}: it names a mix that this session does not have.")
    poured = _poured_volume(pour, facts)
    if poured > LARGEST:
        raise InventoryError(f"Pour {number}: that is more than the books can hold. Check the amounts.")
    if pour.run_off is not None and not 0 <= pour.run_off <= poured:
        raise InventoryError(
            f"Pour {number}: run-off is part of what was poured, so it cannot be more than that."
        )


def _refuse_covering(number: int, failed: Pour, facts: SessionFacts) -> None:
    """Only a failed pour still in unsold work is poured over, and once: its surface is charged to the new pour."""
    if failed.outcome != Pour.Outcome.FAILED:
        raise InventoryError(
            f"Pour {number}: {failed} is not marked as failed. Mark it as failed before pouring over it."
        )
    here = sum(pour.over is not None and pour.over.pk == failed.pk for pour in facts.pours)
    if here > 1 or Pour.objects.standing().filter(over=failed).exists():
        raise InventoryError(f"Pour {number}: {failed} has already been poured over.")
    if not any(any(amounts) for amounts in ledger.in_work([failed.pk]).values()):
        raise InventoryError(
            f"Pour {number}: {failed} was sold, written off, or its session was reversed. Choose a surface instead."
        )
