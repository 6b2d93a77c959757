"""What a table calls the kinds of materials."""

from collections.abc import Mapping

from inventory.materials.new_in_place import kind_called
from studio.imports.cells import Cells, folded


def kind_of(cells: Cells, kinds: Mapping[str, str]) -> str | None:
    """The kind of a row's material: one of `kinds`, or by a usual word for it; None for a blank or unknown one."""
    called = kind_called(cells["kind"]) if folded(cells["kind"]) not in kinds else None
    return str(called) if called else cells.choice("kind", kinds)
