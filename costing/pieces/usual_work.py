"""What finishing or packing usually takes: what the last piece on the same surface took."""

from collections import defaultdict

from costing.pieces.actions.pieces import pours_of
from costing.pieces.models import Piece, PiecePour
from inventory.ledger.models import Entry, EntryRole
from inventory.materials.models import Material, MeasureChoice
from inventory.recipes.actions.mixes import Ingredient
from studio.values.allocation import divide_half_up

ONE = 1_000  # thousandths


def usual_materials(piece: Piece, role: EntryRole) -> list[Ingredient]:
    """The materials of the last such work on a piece of the same surface, for as many pours as this one has.

    Amounts are thousandths of the base unit; what is counted comes in whole ones. Empty when there was none yet.
    """
    own = pours_of(piece)
    alike = (
        Entry.objects.standing()
        .filter(role=role, pour__surface__in=[pour.surface_id for pour in own], quantity__gt=0)
        .exclude(pour__piece_part__piece=piece)
    )
    last = alike.order_by("-posting_id").first()
    part = PiecePour.objects.filter(pour=last.pour_id).first() if last else None
    if last is None or part is None:
        return []
    theirs = list(PiecePour.objects.filter(piece=part.piece_id).values_list("pour_id", flat=True))
    took: dict[int, int] = defaultdict(int)
    for material, quantity in Entry.objects.filter(
        posting=last.posting_id, role=role, pour__in=theirs, quantity__gt=0
    ).values_list("material_id", "quantity"):
        took[material] += quantity
    materials = Material.objects.filter(is_archived=False).in_bulk(took)
    return [
        Ingredient(materials[pk], _scaled(materials[pk], quantity, len(own), len(theirs)))
        for pk, quantity in took.items()
        if pk in materials
    ]


def _scaled(material: Material, quantity: int, pours: int, of_pours: int) -> int:
    scaled = divide_half_up(quantity * pours, of_pours)
    if material.measure != MeasureChoice.COUNT:
        return scaled
    return max(divide_half_up(scaled, ONE), 1) * ONE
