"""Too much of a part went into a cup: the rest is rescaled by what the scale or measuring cup shows."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.filling import Filling, Instrument
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Rescaled:
    """What of each part is in the cup in the end, and in words what to do until then."""

    parts: Sequence[Ingredient]
    words: str


def rescaled(
    planned: Sequence[Ingredient], used: Sequence[Ingredient], *, after: str, shown: str, studio: Studio
) -> Rescaled:
    """How to go on after one part, by its material's number; `used` are the parts as the form has them.

    Raises InputError for a reading that cannot be read or falls, InventoryError without the densities to tell.
    """
    formatter, instrument = Formatter.of(studio), Instrument.for_parts(planned, studio)
    place = next((n for n, item in enumerate(planned) if str(item.material.pk) == after), None)
    if place is None:
        raise InventoryError(_("Choose the part after which it showed that."))
    part = planned[place].material
    reading = formatter.read(shown, instrument.measure, density=part.density, allow_zero=True).quantity.amount
    before = instrument.amounts(used[:place])
    amount = reading - sum(before)
    if amount < 0:
        raise InventoryError(
            _("It cannot show less than before this part went in. Check this reading and those above.")
        )
    in_cup = [*before, amount, *[0] * (len(planned) - place - 1)]
    filling = Filling(planned, instrument, instrument.amounts(planned), in_cup)
    return Rescaled(filling.contents(filling.next), _in_words(filling, formatter))


def _in_words(filling: Filling, formatter: Formatter) -> str:
    measure = filling.instrument.measure
    words = [_("Near enough: go on as planned.")] if filling.is_near_enough else []
    for part, reading in zip(filling.parts, filling.next.added, strict=True):
        if reading.amount:
            words.append(
                _(
                    "Add {amount} of {name}, until it shows {shows}.",
                    amount=formatter.quantity(reading.amount, measure),
                    name=part.material.name,
                    shows=formatter.quantity(reading.shows, measure),
                )
            )
    return " ".join(words)
