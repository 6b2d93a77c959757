"""Writers of recipes like one that is there: a copy under another name, and the same parts with other paints."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, count

from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.ratios import LONGEST_NAME, MOST_MIXED, by_signature, names_taken, signature_of
from inventory.recipes.actions.recipes import MIXABLE, Parts, add_recipe, write_recipe
from inventory.recipes.models import Recipe, RecipeVersion
from inventory.recipes.queries import guessed_colour, latest_version, latest_versions
from studio.auditing.reference_rows import locked, save_row
from studio.errors import InputError, refuse_all
from studio.submission import Submission, transaction
from studio.translation import _

COLOURED = (Kind.PAINT, Kind.MIX)


@dataclass(frozen=True, slots=True)
class OtherPaints:
    """The version in force of a recipe with other paints in the place of one of its own.

    `replaces` is left out where it has only one. Raises InputError naming replaces or paints.
    """

    version: RecipeVersion
    paints: Sequence[Material]
    replaces: Material | None = None

    def __post_init__(self) -> None:
        problems = []
        if self.replaced is None:
            problems.append(InputError(_("Choose which paint of the recipe is replaced."), field="replaces"))
        if not self.paints or len(self.paints) > MOST_MIXED:
            advice = _("Choose from 1 to {most} paints.", most=MOST_MIXED)
            problems.append(InputError(advice, field="paints"))
        inside = {part.material_id for part in self.version.parts.all()} | {self.version.recipe.makes_id}
        for paint in self.paints:
            if paint.pk in inside:
                already = _("{name} is in this recipe already. Choose other paints.", name=paint)
                problems.append(InputError(already, field="paints"))
            elif paint.measure not in MIXABLE:
                cannot = _("{name} cannot be mixed: it is not measured by volume or weight.", name=paint)
                problems.append(InputError(cannot, field="paints"))
        if len({paint.pk for paint in self.paints}) < len(self.paints):
            problems.append(InputError(_("Choose each of them only once."), field="paints"))
        refuse_all(problems)

    @property
    def replaced(self) -> Material | None:
        """The paint whose place the others take."""
        own = {paint.pk: paint for paint in paints_of(self.version)}
        if self.replaces is not None:
            return own.get(self.replaces.pk)
        return next(iter(own.values())) if len(own) == 1 else None

    def parts_with(self, paint: Material) -> Parts:
        return [
            (paint if part.material == self.replaced else part.material, part.parts)
            for part in self.version.parts.all()
        ]


def paints_of(version: RecipeVersion) -> list[Material]:
    """The paints and mixed colours among its parts."""
    return [part.material for part in version.parts.all() if part.material.kind in COLOURED]


def duplicate_recipe(*, recipe: Recipe, name: str, submission: Submission) -> Recipe:
    """The latest version of a recipe as a new one, which makes a new material of that name.

    Raises what writing a recipe raises.
    """
    latest = latest_version(recipe)
    if latest is None:
        raise InventoryError(_("This recipe has no parts yet. Add them first."))
    parts = [(part.material, part.parts) for part in latest.parts.all()]
    return write_recipe(
        name=name,
        makes=_made_like(recipe.makes, name, colour=recipe.makes.colour),
        basis=latest.basis,
        parts=parts,
        notes=recipe.notes,
        submission=submission,
    )


def write_for_paints(*, wanted: OtherPaints, submission: Submission) -> list[tuple[Recipe, bool]]:
    """A recipe for each paint, named after it, and whether it is new: one that is equal already is not written twice.

    All of them or none. Raises what writing a recipe raises.
    """
    recipe = wanted.version.recipe
    # Whoever writes recipes holds this lock: two people at once make no recipe twice.
    with open_ledger(submission):
        known, names = by_signature(latest_versions().values()), names_taken()
        written = []
        for paint in wanted.paints:
            parts = wanted.parts_with(paint)
            signature = signature_of(wanted.version.basis, [(material.pk, part) for material, part in parts])
            is_new = signature not in known
            if is_new:
                name = _named_after(paint, wanted, names)
                names.add(name)
                makes = _made_like(recipe.makes, name, colour=guessed_colour(parts))
                draft = Recipe(name=name, makes=makes)
                known[signature] = add_recipe(draft, parts, wanted.version.basis, submission=submission)
            written.append((known[signature], is_new))
        return written


def set_colour(
    material: Material, colour: str, *, submission: Submission, seen: int | None = None
) -> Material:
    """Give what a recipe makes a colour for its swatch, or none. Raises InputError, EditConflict."""
    with transaction(submission):
        now = locked(material, seen=seen)
        now.colour = colour
        return save_row(now, submission=submission)


def free_name(wanted: str, taken: set[str]) -> str:
    """A name that neither a recipe nor a material has, shortened and numbered where it must be."""
    short = wanted[: LONGEST_NAME - 6].rstrip()
    numbered = chain([wanted[:LONGEST_NAME]], (f"{short} {number}" for number in count(2)))
    return next(name for name in numbered if name not in taken)


def _named_after(paint: Material, wanted: OtherPaints, taken: set[str]) -> str:
    """The recipe's name with the paint's in it: in the place of that which it replaces, or in front."""
    own = wanted.version.recipe.name
    before = wanted.replaced.name if wanted.replaced else ""
    if before and before in own:
        return free_name(own.replace(before, paint.name), taken)
    return free_name(_("{paint} (as {recipe})", paint=paint.name, recipe=own), taken)


def _made_like(made: Material, name: str, *, colour: str) -> Material:
    return Material(
        name=name, kind=made.kind, measure=made.measure, colour=colour, keeps_days=made.keeps_days
    )
