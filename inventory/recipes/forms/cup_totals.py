"""The total of a cup, as it was planned and as its parts have come to since, read from a form that is still typed.

A cup's `planned_for` says what its parts were worked out for: "12:400000", a recipe version and an amount. Once her own
amounts come to another total, that is written into the cup and beside it, "12:400000:420000": the parts that she left
alone stay as planned, and only a total that she typed herself works them all out anew.
"""

from collections.abc import Callable
from fractions import Fraction

from inventory.materials.models import Material
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import RecipeVersion
from inventory.recipes.written_parts import typed_parts_in
from studio.constraints import LARGEST
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.values.allocation import divide_half_up
from studio.values.numbers import read_small_whole
from studio.values.quantities import input_text
from studio.values.units import Measure

TENTH = 100  # thousandths of a mL or g: what is written for her is measured out no more finely
MUCH = 5000  # of less than 5 mL or g a tenth would be more than a hundredth of it
MOST_ADDED = 9  # own choice: what comes on top of a recipe is a dash or two
Text = Callable[[str], str]  # what stands in a field of one cup


def amount_field(material: Material) -> str:
    return f"amount_{material.pk}"


def signature_of(version: RecipeVersion, amount: int) -> str:
    return f"{version.pk}:{amount}"


def planned_amount(planned_for: str, version: RecipeVersion, wanted: int) -> int:
    """What the parts are planned for: the total, unless that only followed them."""
    own, _colon, rest = planned_for.partition(":")
    amount, _colon, followed = rest.partition(":")
    planned = read_small_whole(amount)
    is_followed = own == str(version.pk) and followed == str(wanted)
    return planned if is_followed and planned and planned <= LARGEST else wanted


def amount_in_parts(text: str, item: Ingredient, version: RecipeVersion, formatter: Formatter) -> int | None:
    """So much of a part as was typed in parts of its recipe, such as "2.5 parts"; None for anything else."""
    own = {part.material_id: part.parts for part in version.parts.all()}.get(item.material.pk)
    parts = typed_parts_in(text, decimal_comma=formatter.decimal_comma)
    if parts is None or not own:
        return None
    exact = Fraction(item.quantity * parts) / own
    return divide_half_up(exact.numerator, exact.denominator)


def reading_of(text: str, item: Ingredient, formatter: Formatter) -> int:
    """The amount of a part as it was typed; as given where it cannot be read."""
    material = item.material
    try:
        reading = formatter.read(text, material.measure, density=material.density, allow_zero=True)
    except MeniscusError:
        return item.quantity
    return reading.quantity.amount


def followed_total(text: Text, form_choices: FormChoices) -> dict[str, str]:
    """What to write into a cup so that its total is what its parts come to by now; nothing while it is."""
    version, formatter = form_choices.version(text("contents")), form_choices.formatter
    wanted = text("wanted").strip()
    if version is None or not wanted:
        return {}
    makes, planned_for = version.recipe.makes, text("planned_for")
    try:
        amount = formatter.read(wanted, makes.measure, density=makes.density).quantity.amount
        signature = signature_of(version, planned := planned_amount(planned_for, version, amount))
        if planned_for not in (signature, f"{signature}:{amount}"):
            return {}  # the parts are still to be worked out
        plan = mixes.planned(version, planned)
        used = [_used(item, text, version, formatter) for item in plan]
        added = _added(text, form_choices)
        is_as_planned = used == plan and not added
        total = planned if is_as_planned else _shown(mixes.total_of([*used, *added], Measure(makes.measure)))
    except MeniscusError:
        return {}
    if total == amount or not 0 < total <= LARGEST:
        return {}
    typed = input_text(total, Measure(makes.measure), decimal_comma=formatter.decimal_comma)
    return {"wanted": typed, "planned_for": f"{signature}:{total}"}


def _shown(total: int) -> int:
    """A total as it is written into the cup. What is saved is what the parts come to, to the last figure."""
    return divide_half_up(total, TENTH) * TENTH if total >= MUCH else total


def _used(item: Ingredient, text: Text, version: RecipeVersion, formatter: Formatter) -> Ingredient:
    typed = text(amount_field(item.material))
    in_parts = amount_in_parts(typed, item, version, formatter)
    return Ingredient(item.material, reading_of(typed, item, formatter) if in_parts is None else in_parts)


def _added(text: Text, form_choices: FormChoices) -> list[Ingredient]:
    """What was added to this cup alone, as far as it can be read."""
    named = [(row, form_choices.addable_named(text(f"added_{row}"))) for row in range(1, MOST_ADDED + 1)]
    items = [(row, Ingredient(material, 0)) for row, material in named if material is not None]
    read = [
        Ingredient(item.material, reading_of(text(f"added_amount_{row}"), item, form_choices.formatter))
        for row, item in items
    ]
    return [item for item in read if item.quantity]
