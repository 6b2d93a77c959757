"""What is asked before a mix is posted: a yield that its parts cannot give, and amounts far from the usual ones."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby
from operator import itemgetter

from django.db.models import Sum

from inventory.errors import InventoryError
from inventory.ledger.models import Entry
from inventory.ledger.questions import ask_if_unusual, latest_of_each
from inventory.ledger.usual_amounts import Amount, PastAmounts
from inventory.recipes.actions.mixes import MixFacts, most_given, yield_of
from inventory.recipes.calculations import exceeds
from inventory.recipes.models import Mix
from studio.errors import Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _


@dataclass(slots=True)
class PastMixes:
    """The latest mixes of one recipe, newest first: what they came to, what went in, and how that was to the rest."""

    yields: list[int] = field(default_factory=list)
    amounts: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    ratios: dict[int, list[Fraction]] = field(default_factory=lambda: defaultdict(list))

    def add(self, made: int, parts: dict[int, int]) -> None:
        """One more mix, older than those before; quantities in thousandths, by material."""
        self.yields.append(made)
        for material, quantity in parts.items():
            self.amounts[material].append(quantity)
            if rest := sum(parts.values()) - quantity:
                self.ratios[material].append(Fraction(quantity, rest))


def questions_about_mixes(mixes: Sequence[MixFacts], studio: Studio) -> list[Question]:
    """Everything that should be confirmed of these mixes, in a constant number of queries."""
    past, formatter = past_mixes({mix.version.recipe_id for mix in mixes}), Formatter.of(studio)
    questions: list[Question] = []
    for mix in mixes:
        # A slip is asked about once, where it is plainest.
        questions += (
            _about_yield(mix, studio, formatter)
            or _about_parts(mix, past[mix.version.recipe_id], formatter)
            or _about_amount(mix, past[mix.version.recipe_id], formatter)
        )
    return questions


def past_mixes(recipes: set[int]) -> dict[int, PastMixes]:
    """The latest mixes of each recipe that stand. What was corrected counts as it is now."""
    past: dict[int, PastMixes] = defaultdict(PastMixes)
    if not recipes:
        return past
    latest = latest_of_each(Mix.objects.standing().filter(version__recipe__in=recipes), "version__recipe")
    rows = (
        Entry.objects.filter(mix__in=latest.order_by().values("pk"))
        .order_by("-mix")
        .values_list("mix", "mix__version__recipe", "mix__lot__material", "material")
        .annotate(moved=Sum("quantity"))
    )
    for (_mix, recipe, makes), lines in groupby(rows, key=itemgetter(0, 1, 2)):
        parts = {material: quantity for *_mix, material, quantity in lines}
        made = -parts.pop(makes, 0)
        past[recipe].add(made, parts)
    return past


def _about_yield(mix: MixFacts, studio: Studio, formatter: Formatter) -> list[Question]:
    """A measured total that is more than the parts can give; without their densities nothing can be said."""
    if mix.measured is None:
        return []
    try:
        most = most_given(mix)
    except InventoryError:
        return []
    if not exceeds(mix.measured, most, tolerance=studio.measuring_tolerance):
        return []
    makes = mix.version.recipe.makes
    parts = [
        f"{formatter.short_quantity(item.quantity, item.material.measure)} {item.material.name}"
        for item in mix.ingredients
    ]
    text = _(
        "{name}: {parts} give {total}; you measured {measured}.",
        name=makes.name,
        parts=" + ".join(parts),
        total=formatter.short_quantity(most, makes.measure),
        measured=formatter.short_quantity(mix.measured, makes.measure),
    )
    return [Question("yield", text, (makes.pk, most, mix.measured))]


def _about_parts(mix: MixFacts, past: PastMixes, formatter: Formatter) -> list[Question]:
    """A part that is out of proportion to the others as well as far from its usual amount: not merely a large mix."""
    parts: dict[int, int] = defaultdict(int)
    for item in mix.ingredients:
        parts[item.material.pk] += item.quantity
    questions: list[Question] = []
    for material in dict.fromkeys(item.material for item in mix.ingredients):
        quantity = parts[material.pk]
        rest = sum(parts.values()) - quantity
        if not rest or not PastAmounts(past.ratios[material.pk]).usual_instead(Fraction(quantity, rest)):
            continue
        questions += ask_if_unusual(
            ("part", _("{material} in {name}", material=material.name, name=mix.version.recipe.makes.name)),
            quantity,
            PastAmounts(past.amounts[material.pk]),
            about=(mix.version.recipe_id, material.pk),
            write=_writer(formatter, material.measure),
        )
    return questions


def _about_amount(mix: MixFacts, past: PastMixes, formatter: Formatter) -> list[Question]:
    makes = mix.version.recipe.makes
    return ask_if_unusual(
        ("mix", _("{name}, the whole mix", name=makes.name)),
        yield_of(mix),
        PastAmounts(past.yields),
        about=(mix.version.recipe_id,),
        write=_writer(formatter, makes.measure),
    )


def _writer(formatter: Formatter, measure: str) -> Callable[[Amount], str]:
    return lambda amount: formatter.short_quantity(int(amount), measure)
