"""What can hurt at the bench, on every screen and paper of it. Labels, data sheets and local rules come first."""

from collections.abc import Iterable

from inventory.materials.models import Material
from studio.translation import _

Caution = tuple[str, str]  # its title, and what to do


def before_mixing() -> Caution:
    return _("Gloves and air"), _(
        "Paint and glue contain preservatives that can cause allergies. Wear gloves and open a window; stop if your "
        "skin itches. Keep children, pets and food containers away."
    )


def before_pouring() -> Caution:
    return _("Torch, alcohol and aerosols"), _(
        "Alcohol and silicone sprays burn easily. Never torch after spraying or with alcohol near. Keep a fire "
        "extinguisher within reach."
    )


def afterwards() -> Caution:
    return _("Leftovers"), _(
        "Never pour paint down the drain. Let it dry, then bin the solids. Label every jar you keep with its name, its "
        "lot and the date."
    )


def data_sheets() -> str:
    return _("Follow the label and safety data sheet of each product, and your local rules.")


def hazards_of(materials: Iterable[Material]) -> list[Caution]:
    """The hazard statements that were copied from the suppliers' data sheets."""
    return [
        (
            ": ".join(part for part in (material.name, material.get_signal_word_display()) if part),
            " ".join(material.hazards.split()),
        )
        for material in materials
        if material.signal_word or material.hazards
    ]
