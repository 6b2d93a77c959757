"""What can hurt at each step of the work: one line that is always in sight, and the rest behind it.

General information from common practice: labels, safety data sheets, local rules and licensed professionals decide.
"""

from typing import NamedTuple

from studio.translation import _


class Caution(NamedTuple):
    title: str
    line: str  # what must not be missed
    more: str

    @property
    def text(self) -> str:
        return f"{self.line} {self.more}"


def mixing() -> Caution:
    return Caution(
        _("Gloves and air"),
        _("Wear gloves and open a window; stop if your skin itches."),
        _(
            "Paint and glue contain preservatives that can cause allergies. Never use a mixing vessel for food "
            "afterwards. Keep children, pets and food away."
        ),
    )


def torch() -> Caution:
    return Caution(
        _("Torch, alcohol and aerosols"),
        _("Never use a torch near alcohol or aerosols, or after spraying silicone."),
        _(
            "Clear paper and cups away first, open a window, and keep a fire extinguisher within reach. "
            "Never leave the torch lit."
        ),
    )


def resin() -> Caution:
    return Caution(
        _("Two-part resin"),
        _("Wear gloves that resist the resin, such as nitrile, and goggles, and air the room well."),
        _(
            "Uncured resin and its hardener can make you allergic for life; latex does not protect. A large batch "
            "can get hot enough to smoke: mix small ones, and take one that heats up outdoors. Never sand resin that "
            "has not fully cured."
        ),
    )


def pigments() -> Caution:
    return Caution(
        _("Pigment powder"),
        _("Wear a respirator for fine dust, and wet the powder before you stir it."),
        _("Wipe up with a wet cloth; never sweep or blow."),
    )


def sanding() -> Caution:
    return Caution(
        _("Sanding and scraping"),
        _("Work wet, and wear a respirator for fine dust."),
        _(
            "Never sand or spray a paint whose label warns of cadmium, cobalt, chromium, lead or manganese. "
            "Bag the dust and scrapings while they are damp."
        ),
    )


def flammables() -> Caution:
    return Caution(
        _("Storing flammables"),
        _("Keep alcohol, solvents and aerosols cool, closed and upright, away from flames and heaters."),
        _(
            "Keep no more than you need, away from the way out, and take rags that are soaked with them outdoors."
        ),
    )


def disposal() -> Caution:
    return Caution(
        _("Disposal"),
        _("Never pour paint down the drain: let it settle and dry, then bin the solids."),
        _(
            "Take solvents, aerosols and uncured resin to a hazardous-waste collection. Let small amounts of mixed "
            "resin cure before you bin them."
        ),
    )


def jars() -> Caution:
    return Caution(
        _("Jars"),
        _("Label every jar with its name, lot, date and hazards."),
        _("Never use a food container."),
    )


def decorative() -> Caution:
    return Caution(
        _("Decorative only"),
        _("Not for food or drink, and not for hot cups."),
        _("No contact with lips, and heat may mark the finish. Say so to the buyer."),
    )


BY_NAME = {
    each.__name__: each
    for each in (mixing, torch, resin, pigments, sanding, flammables, disposal, jars, decorative)
}
