"""Materials that are added on the line that first needs them: a name and a kind, the rest inferred or told later."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from inventory.materials.actions import save_material
from inventory.materials.models import Kind, Material
from inventory.materials.name_matching import fitting, is_plain_water, is_same_name
from studio.errors import InputError
from studio.imports.cells import folded
from studio.preferences.formatting import Formatter
from studio.submission import Submission, transaction
from studio.translation import _
from studio.values.allocation import MILLION
from studio.values.sizes import Size, read_size
from studio.values.units import Measure

Result = TypeVar("Result")
WATER_DENSITY = 1_000_000  # micrograms per mL

# What a name says of its kind, in English and German: common practice, no source. The first that fits counts.
_KIND_WORDS: tuple[tuple[Kind, str], ...] = (
    (Kind.PACKAGING, r"packag|wrap|tissue|postal|mailing|karton|verpack|seidenpapier"),
    (Kind.SUNDRY, r"glove|cups?\b|stick|towel|tape|apron|handschuh|becher|rührst|tuch|klebeband|schürze"),
    (Kind.SURFACE, r"canvas|board|panel|\btile|leinw[aä]nd|malgrund|platte|keilrahmen|brett"),
    (
        Kind.FINISH,
        r"varnish|resin|wax|firnis|\black|(?:klar|sprüh|glanz|matt|acryl|schutz|schluss)lack|harz|hanging|d-ring|aufhäng",
    ),
    (Kind.MEDIUM, r"medium|extender|conditioner|glue|binder|leim|kleber|malmittel|bindemittel"),
    (Kind.ADDITIVE, r"silicone|retarder|flow (?:aid|improver)|alcohol|silikon|verzögerer|alkohol"),
)
_PAINT_WORDS = r"paint|colou?r|acryl|\binks?\b|pigment|farbe|tusche"
_SIZE_IN_NAME = re.compile(
    r"\d+(?:[.,]\d+)?(?:\s*(?:cm|mm|in|inch|\"|″))?(?:\s*[x×]\s*\d+(?:[.,]\d+)?(?:\s*(?:cm|mm|in|inch|\"|″))?){0,2}",
    re.IGNORECASE,
)
_ROUND = re.compile(r"\bround|\brund", re.IGNORECASE)


def kind_in(name: str) -> Kind | None:
    """What a material of that name is by the words in it; None where they tell nothing."""
    return next((kind for kind, words in _KIND_WORDS if re.search(words, name, re.IGNORECASE)), None)


def kind_called(word: str) -> Kind | None:
    """The kind that somebody's own word for it means, such as varnish or Leinwand; None for any other word."""
    return kind_in(word) or (Kind.PAINT if re.search(_PAINT_WORDS, word, re.IGNORECASE) else None)


def guessed_kind(name: str, measure: Measure) -> Kind:
    """What a material of that name, measured so, most likely is."""
    if (kind := kind_in(name)) is not None:
        return kind
    if is_plain_water(name):
        return Kind.MEDIUM
    return Kind.SUNDRY if measure in (Measure.COUNT, Measure.LENGTH, Measure.AREA) else Kind.PAINT


def size_in(name: str, formatter: Formatter) -> Size | None:
    """The size that a surface's name tells, in centimetres where it names no unit."""
    found = _SIZE_IN_NAME.search(name)
    if found is None:
        return None
    text = f"{found[0]} round" if _ROUND.search(name) else found[0]
    try:
        return read_size(text, decimal_comma=formatter.decimal_comma)
    except InputError:
        return None


def give_size(material: Material, size: Size) -> None:
    """The measures of a surface; one with a depth has its sides painted."""
    material.height, material.width, material.depth = size.height, size.width, size.depth
    material.is_round, material.sides_painted = size.round, size.depth is not None


def size_of(material: Material) -> Size | None:
    """The measures of a surface; None for anything else."""
    if not material.height or not material.width:
        return None
    return Size(material.height, material.width, material.depth, material.is_round)


def guessed_material(
    name: str, kind: str, measure: Measure, formatter: Formatter, size: Size | None = None
) -> Material:
    """A new material that is not saved yet: of a kind or, without one, of what its name says; a surface with its size.

    Raises InputError naming `new_name`.
    """
    material = Material(name=name, kind=kind or guessed_kind(name, measure), measure=measure.value)
    if material.kind == Kind.SURFACE:
        size = size or size_in(name, formatter)
        if size is None or measure is not Measure.COUNT:
            advice = _("A surface is counted, and needs its size in its name, such as Board 30 x 40 cm.")
            raise InputError(advice, field="new_name")
        give_size(material, size)
    return material


@dataclass(slots=True)
class NewMaterials:
    """The materials that one form adds, each once however many lines name it; none where somebody may not add any."""

    offered: Mapping[int, Material]
    may_add: bool
    added: dict[str, Material] = field(default_factory=dict)

    def named(self, name: str, kind: str, amount: str, formatter: Formatter) -> Material:
        """The material of that name: one of those offered, or a new one that is not saved yet. Raises InputError."""
        known = self._known(name)
        if known is not None:
            return known
        try:
            measure = formatter.read(amount).quantity.measure
        except InputError as problem:
            raise InputError(str(problem), field="amount") from None
        return self.of_measure(name, kind, measure, formatter)

    def of_measure(self, name: str, kind: str, measure: Measure, formatter: Formatter) -> Material:
        """The same where the measure is known. Raises InputError."""
        known = self._known(name)
        if known is not None:
            return known
        if Material.objects.filter(name__iexact=name).exists():
            advice = _(
                "“{name}” exists, but cannot be chosen here: it is free, archived or another kind of thing. "
                "Change it under Materials first.",
                name=name,
            )
            raise InputError(advice, field="new_name")
        material = guessed_material(name, kind, measure, formatter)
        self.added[folded(name)] = material
        return material

    def _known(self, name: str) -> Material | None:
        return find_named(name, self.offered.values()) or self.added.get(folded(name))

    def saving_first(self, action: Callable[[], Result], submission: Submission) -> Result:
        """Save what is new, and then what the lines are about: all of it or nothing. Raises what either raises."""
        return save_first(self.added.values(), action, submission)


def save_first(materials: Iterable[Material], action: Callable[[], Result], submission: Submission) -> Result:
    """Save those that are new before the action that needs them: all of it or nothing. Raises what either raises."""
    new = [material for material in materials if material.pk is None]
    try:
        with transaction(submission):
            for material in new:
                save_material(material, submission=submission)
            return action()
    except Exception:
        for material in new:  # undone with the rest
            material.pk = None
        raise


def find_named(name: str, materials: Iterable[Material]) -> Material | None:
    """The one of that name, whatever its capitals; or the only one with just these words, as `is_same_name` says."""
    wanted = folded(name)
    others = []
    for material in materials:
        if folded(material.name) == wanted:
            return material
        if is_same_name(name, material.name):
            others.append(material)
    return others[0] if len(others) == 1 else None


def find_meant(words: str, materials: Mapping[int, Material]) -> Material | None:
    """The one of that name, the studio's own water, or the only one with all of these words in its name."""
    known = find_named(words, materials.values())
    if known is not None:
        return known
    if is_plain_water(words):
        own = [
            pk for pk, material in materials.items() if material.is_free and material.water_share == MILLION
        ]
        return materials[min(own)] if own else None
    fits = fitting(words, {pk: material.name for pk, material in materials.items()})
    return materials[fits[0]] if len(fits) == 1 else None


def make_free_water(material: Material) -> None:
    """Water from the tap counts in volumes, costs nothing and is never in stock."""
    material.is_free, material.water_share, material.density = True, MILLION, WATER_DENSITY
