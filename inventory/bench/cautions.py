"""What can hurt at the bench, on every screen and paper of it. Labels, data sheets and local rules come first."""

from inventory.materials import cautions
from inventory.materials.cautions import hazards_of
from studio.translation import _

Caution = tuple[str, str]  # its title, and what to do

__all__ = ["Caution", "afterwards", "before_mixing", "before_pouring", "data_sheets", "hazards_of"]


def before_mixing() -> Caution:
    return _whole(cautions.mixing())


def before_pouring() -> Caution:
    return _whole(cautions.torch())


def afterwards() -> Caution:
    disposal, jars = cautions.disposal(), cautions.jars()
    return disposal.title, f"{disposal.text} {jars.text}"


def data_sheets() -> str:
    return _("Follow the label and safety data sheet of each product, and your local rules.")


def _whole(caution: cautions.Caution) -> Caution:
    return caution.title, caution.text
