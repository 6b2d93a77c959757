"""What the records say of each compared pour: the facts that likeness holds against one another."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import QuerySet

from inventory.comparisons.calculations.facts import Cup, Fact, Part, PourRecord, Role
from inventory.comparisons.models import ComparedPour
from inventory.errors import InventoryError
from inventory.ledger.models import Entry, EntryRole, Lot, Place
from inventory.ledger.movements import RecordedMovement, recorded_movements
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import in_measure
from inventory.recipes.models import Mix
from inventory.sessions.models import Pour
from studio.translation import _
from studio.values.units import Measure

ROLES = {Kind.PAINT: Role.PAINT, Kind.MIX: Role.PAINT, Kind.MEDIUM: Role.MEDIUM, Kind.ADDITIVE: Role.ADDITIVE}


@dataclass(frozen=True, slots=True)
class Drawn:
    """So much of one material from one lot (None for tap water and the like), corrections included."""

    material: Material
    quantity: int
    lot: Lot | None

    @property
    def lot_id(self) -> int:
        return self.lot.pk if self.lot else 0


def records_of(compared: Sequence[ComparedPour]) -> list[PourRecord]:
    """The facts of these pours, in their order: five queries, however many they are."""
    entries = Entry.objects.standing().filter(
        pour__in=[each.pour_id for each in compared], place=Place.WORK, role=EntryRole.POURED
    )
    poured = _drawn(entries, lambda movement: movement.destination.pour)
    lots = {each.lot_id for drawn in poured.values() for each in drawn if each.lot}
    mixes = {mix.lot_id: mix for mix in Mix.objects.filter(lot__in=lots)}
    into_cups = Entry.objects.standing().filter(mix__in=[mix.pk for mix in mixes.values()])
    inputs = _drawn(into_cups, lambda movement: movement.destination.mix)
    return [_record(each, poured.get(each.pour_id, []), mixes, inputs) for each in compared]


def _drawn(
    entries: QuerySet[Entry], whither: Callable[[RecordedMovement], int | None]
) -> dict[int, list[Drawn]]:
    """What went into each pour or mix, summed up by material and lot: corrections move some of it back."""
    sums: dict[int, dict[tuple[int, int], Drawn]] = {}
    for movement in recorded_movements(entries.order_by("posting_id", "line")):
        number = whither(movement)
        if number is None:
            continue
        held = sums.setdefault(number, {})
        key = (movement.material.pk, movement.source_lot.pk if movement.source_lot else 0)
        before = held[key].quantity if key in held else 0
        held[key] = Drawn(movement.material, before + movement.quantity, movement.source_lot)
    return {number: [drawn for drawn in held.values() if drawn.quantity > 0] for number, held in sums.items()}


def _record(
    compared: ComparedPour,
    poured: Sequence[Drawn],
    mixes: Mapping[int, Mix],
    inputs: Mapping[int, Sequence[Drawn]],
) -> PourRecord:
    pour, session = compared.pour, compared.pour.session
    used = [mix for movement in poured if (mix := mixes.get(movement.lot_id)) is not None]
    ages = [(session.held_on - mix.mixed_on).days * 24 for mix in used]
    drawn = [part for mix in used for part in inputs.get(mix.pk, ())]
    drawn += [movement for movement in poured if movement.lot_id not in mixes]
    return PourRecord(
        label=pour.label,
        arm=compared.arm.number - 1,
        session=str(session.pk),
        turn=pour.number,
        cups=_cups(poured, mixes, inputs),
        words=_words(compared, pour),
        numbers={
            Fact.AMOUNT: Fraction(pour.poured, pour.area),
            Fact.TEMPERATURE: _whole(session.temperature),
            Fact.HUMIDITY: _whole(session.humidity),
            Fact.MIX_AGE: Fraction(max(ages, default=0)),
        },
        lots=_lots(drawn),
        time=Fraction(60 * at.hour + at.minute, 60) if (at := compared.poured_at) else None,
        consistency=tuple(dict.fromkeys(mix.consistency for mix in used if mix.consistency)),
        density=_density(poured),
    )


def _density(poured: Sequence[Drawn]) -> Fraction | None:
    """Of what was poured, in g/mL; None where one of its densities is not known."""
    if not poured or any(each.material.density is None for each in poured):
        return None
    try:
        volumes = [_volume(each.material, each.quantity) for each in poured]
    except InventoryError:
        return None
    masses = [
        volume * Fraction(each.material.density or 0, 1_000_000)
        for volume, each in zip(volumes, poured, strict=True)
    ]
    total = sum(volumes, Fraction(0))
    return sum(masses, Fraction(0)) / total if total else None


def _whole(value: int | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _words(compared: ComparedPour, pour: Pour) -> dict[Fact, str | None]:
    surface = pour.surface
    return {
        Fact.SURFACE: surface.name,
        Fact.SIDES: _("painted") if surface.sides_painted and surface.depth else _("not painted"),
        Fact.TECHNIQUE: pour.technique.name,
        Fact.POURED_OVER: _("yes") if pour.over_id else _("no"),
        Fact.ORDER: compared.colour_order or None,
        Fact.HANDS: compared.hands or None,
    }


def _lots(drawn: Sequence[Drawn]) -> dict[str, frozenset[str]]:
    lots: dict[str, set[str]] = {}
    for movement in drawn:
        if movement.lot is not None:
            lots.setdefault(movement.material.name, set()).add(movement.lot.label)
    return {material: frozenset(labels) for material, labels in lots.items()}


def _cups(
    poured: Sequence[Drawn], mixes: Mapping[int, Mix], inputs: Mapping[int, Sequence[Drawn]]
) -> tuple[Cup, ...] | None:
    """What was poured, cup by cup; None where a density is missing or nothing is recorded."""
    try:
        volumes = [_volume(movement.material, movement.quantity) for movement in poured]
        parts = [
            _parts([movement] if mix is None else inputs.get(mix.pk, ()))
            for movement in poured
            for mix in (mixes.get(movement.lot_id),)
        ]
    except InventoryError:
        return None
    total = sum(volumes, Fraction(0))
    if not total or not all(parts):
        return None
    cups: list[Cup] = []
    for held, volume, movement in zip(parts, volumes, poured, strict=True):
        mix = mixes.get(movement.lot_id)
        name = _name(held)
        again = sum(cup.name == name or cup.name.startswith(f"{name} (") for cup in cups)
        paint = sum((amount for (role, _n), amount in held.items() if role == Role.PAINT), Fraction(0))
        one = paint or sum(held.values(), Fraction(0))
        cups.append(
            Cup(
                f"{name} ({again + 1})" if again else name,
                {part: amount / one for part, amount in held.items()},
                volume / total,
                Fraction(movement.material.water_share if mix is None else mix.water_share, 1_000_000),
            )
        )
    return tuple(cups)


def _parts(movements: Sequence[Drawn]) -> dict[Part, Fraction]:
    """Volumes by role and material."""
    parts: dict[Part, Fraction] = {}
    for movement in movements:
        material = movement.material
        part = (_role(material), material.name)
        parts[part] = parts.get(part, Fraction(0)) + _volume(material, movement.quantity)
    return parts


def _name(parts: Mapping[Part, Fraction]) -> str:
    """A cup goes by its paint; one without paint by all that is in it."""
    paints = sorted(name for role, name in parts if role == Role.PAINT)
    return " + ".join(paints or sorted(name for _role, name in parts))


def _role(material: Material) -> Role:
    if material.is_free:
        return Role.WATER
    return ROLES.get(Kind(material.kind), Role.OTHER)


def _volume(material: Material, quantity: int) -> Fraction:
    return Fraction(in_measure(material, quantity, Measure.VOLUME))
