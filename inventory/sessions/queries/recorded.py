"""What a session says it used, as corrected so far: the amounts that a correction begins with.

Quantities are thousandths of each material's base unit.
"""

from collections import Counter
from dataclasses import dataclass, field

from inventory.ledger.models import EntryRole
from inventory.ledger.restatement import LOT, MIX, WORK
from inventory.recipes.models import Mix
from inventory.sessions.actions.session_targets import SessionTargets
from inventory.sessions.models import Pour, Session


@dataclass(slots=True)
class RecordedMix:
    """One mix: what went in by material, and what came of it."""

    mix: Mix
    parts: Counter[int] = field(default_factory=Counter)
    made: int = 0


@dataclass(slots=True)
class RecordedPour:
    """One pour: what it took of each mix of the session, and of each material straight from the shelf."""

    pour: Pour
    from_mixes: Counter[int] = field(default_factory=Counter)
    from_shelf: Counter[int] = field(default_factory=Counter)


@dataclass(slots=True)
class RecordedSession:
    """A session's mixes and pours in their order, and the sundries of all of them together.

    What was spilled is by mix, and by material straight from the shelf.
    """

    mixes: list[RecordedMix]
    pours: list[RecordedPour]
    sundries: Counter[int] = field(default_factory=Counter)
    spilled_mixes: Counter[int] = field(default_factory=Counter)
    spilled_materials: Counter[int] = field(default_factory=Counter)


def recorded_session(session: Session) -> RecordedSession:
    """Read a session's amounts back: six queries, however large it is."""
    mixes = session.mixes.select_related("version__recipe__makes", "lot__material").order_by("pk")
    pours = session.pours.select_related("surface", "technique", "over").order_by("number")
    recorded = RecordedSession([RecordedMix(mix) for mix in mixes], [RecordedPour(pour) for pour in pours])
    by_mix = {each.mix.pk: each for each in recorded.mixes}
    by_lot = {each.mix.lot_id: each.mix.pk for each in recorded.mixes}
    by_pour = {each.pour.pk: each for each in recorded.pours}
    for fact in SessionTargets.recorded(session).posted:
        source, lot, mix, *_rest = fact.source
        place, _lot, into, pour, _reason = fact.destination
        if place == MIX and into in by_mix:
            by_mix[into].parts[fact.material] += fact.quantity
        elif source == MIX and mix in by_mix:
            by_mix[mix].made += fact.quantity
        elif fact.role == EntryRole.SPILLED and lot in by_lot:
            recorded.spilled_mixes[by_lot[lot]] += fact.quantity
        elif fact.role == EntryRole.SPILLED:
            recorded.spilled_materials[fact.material] += fact.quantity
        elif place == WORK and fact.role == EntryRole.SUNDRY:
            recorded.sundries[fact.material] += fact.quantity
        elif place == WORK and fact.role == EntryRole.POURED and pour in by_pour:
            if source == LOT and lot in by_lot:
                by_pour[pour].from_mixes[by_lot[lot]] += fact.quantity
            else:
                by_pour[pour].from_shelf[fact.material] += fact.quantity
    return recorded
