"""Weights of the demo's sessions: what a kitchen scale of 1 g showed for all pours of a day together."""

from collections.abc import Sequence

from inventory.recipes.actions.mixes import MixFacts
from inventory.sessions.actions.sessions import PourFacts
from inventory.sessions.actions.weighings import WeighingFacts
from inventory.sessions.queries.densities import density_of_doses
from inventory.sessions.weighing import Readings
from studio.values.allocation import divide_half_up
from studio.values.quantities import mass_of

GRAM = 1_000
TRAY = 815 * GRAM
CUP = 14 * GRAM
SURFACE = 310 * GRAM
# What a day loses to the air, sticks and gloves, in grams; now and then a wiped table was forgotten.
LOST = (2, 3, 3, 4)
FORGOTTEN_ONE_IN = 12


def weighed(number: int, pours: Sequence[PourFacts], mixes: Sequence[MixFacts]) -> list[WeighingFacts]:
    """One weighing of the pours whose run-off was caught. `number` is the session's."""
    caught = [place for place, pour in enumerate(pours) if pour.run_off is not None]
    if not caught:
        return []
    poured = ran_off = 0
    for pour in (pours[place] for place in caught):
        density = density_of_doses(pour.doses, mixes)
        poured += mass_of(sum(dose.quantity for dose in pour.doses), density)
        ran_off += mass_of(pour.run_off or 0, density)
    usual = LOST[number % len(LOST)]
    lost = usual + poured // GRAM // FORGOTTEN_ONE_IN if number % 11 == 0 else usual
    before = _shown(poured) + len(mixes) * CUP + 20 * GRAM
    boards = len(caught) * SURFACE
    readings = Readings(
        scale_step=GRAM,
        cups_before=before,
        cups_after=before - _shown(poured),
        tray_before=TRAY,
        tray_after=TRAY + _shown(ran_off),
        surfaces_before=boards,
        surfaces_after=boards + max(_shown(poured - ran_off) - lost * GRAM, 0),
        minutes=10,
    )
    return [WeighingFacts(tuple(caught), readings)]


def _shown(mass: int) -> int:
    return divide_half_up(mass, GRAM) * GRAM
