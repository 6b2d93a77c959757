"""What can hurt at each step of the work: one line that is always in sight, and the rest behind it.

General information from common practice: labels, safety data sheets, local rules and licensed professionals decide.
"""

import re
from collections.abc import Iterable
from typing import NamedTuple

from inventory.materials.models import Material
from studio.translation import _, ngettext

# Flammable gases, aerosols, liquids and solids: the H codes of the United Nations' GHS, annex 3, section 1.
FLAMMABLE = re.compile(r"\bH22[0-9]\b")


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
            "afterwards. Keep children, pets and food away. Pigment powder harms the lungs: wear a respirator for "
            "fine dust, and wet the powder before you stir it."
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


def sprays() -> Caution:
    return Caution(
        _("Varnish and sprays"),
        _(
            "Spray outdoors or in a strong draught, away from every flame and spark, with the mask the label names."
        ),
        _("The mist burns easily and harms the lungs."),
    )


def silicone() -> Caution:
    return Caution(
        _("Silicone oil"),
        _("Clean it off before you varnish, with no torch or flame near the alcohol you use for that."),
        _("A finish draws back from silicone, and alcohol burns easily."),
    )


BY_NAME = {
    each.__name__: each
    for each in (mixing, torch, resin, sanding, flammables, disposal, jars, decorative, sprays, silicone)
}


def states_hazards(material: Material) -> bool:
    """Whether anything was copied from its data sheet."""
    return bool(material.signal_word or material.hazards)


def hazards_of(materials: Iterable[Material]) -> list[tuple[str, str]]:
    """Signal words and hazard statements as they were copied from the suppliers' data sheets, each material once."""
    return [
        (
            ": ".join(part for part in (material.name, material.get_signal_word_display()) if part),
            " ".join(material.hazards.split()),
        )
        for material in dict.fromkeys(materials)
        if states_hazards(material)
    ]


def contained_hazards(parts: Iterable[Material]) -> str:
    """What the labels of a mix's parts say, as text: whose label to read first, then their statements.

    It does not classify the mix: that takes the shares of what is in its parts (GHS, chapter 1.3.3; in the European
    Union the CLP regulation, articles 9 and 10), which a studio does not know.
    """
    stated = [part for part in dict.fromkeys(parts) if states_hazards(part)]
    if not stated:
        return ""
    names = ", ".join(
        f"{part.name} ({part.get_signal_word_display()})" if part.signal_word else part.name
        for part in stated
    )
    pointer = ngettext(
        "Contains {names}: see its label.", "Contains {names}: see their labels.", len(stated), names=names
    )
    statements = [f"{part.name}: {' '.join(part.hazards.split())}" for part in stated if part.hazards]
    return " ".join([pointer, *statements])


def has_flammables(materials: Iterable[Material]) -> bool:
    """Whether the data sheet of one of them says that it burns easily."""
    return any(FLAMMABLE.search(material.hazards) for material in materials)
