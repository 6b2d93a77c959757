"""Titles for the pieces: invented, plain and a little wet."""

from collections.abc import Iterator
from random import Random

WATERS = [
    "Slow water",
    "Late light",
    "Thin ice",
    "First frost",
    "Blown foam",
    "Loose rope",
    "Green weather",
    "Small hours",
    "Wet slate",
    "Warm stones",
    "Long shadow",
    "Half tide",
    "Spring rain",
    "Grey wind",
    "Bright shoal",
    "Still reeds",
    "Far bell",
    "Low cloud",
]
PLACES = [
    "at the sluice",
    "over the marsh",
    "by the net loft",
    "past the beacon",
    "under the quay",
    "beyond the bar",
    "on the mudflats",
    "behind the groyne",
    "in the boatyard",
    "along the sea wall",
    "off the slipway",
    "near the ferry steps",
    "after the storm",
    "above the oyster beds",
    "between two moorings",
    "before the fair",
]
# Letters of other alphabets, for papers and sorting.
UNUSUAL = ["Ήσυχο νερό", "Тихая вода", "Lågvatten & after", "Αλμυρός άνεμος", "Солёный ветер"]
PAIRS = ["Ebb and flood, diptych", "Two lamps, diptych", "Both banks, diptych"]


def titles(rng: Random, count: int) -> Iterator[str]:
    """Titles without end, each once. Of the first `count`, the unusual ones come late but not last."""
    plain = [f"{water} {place}" for water in WATERS for place in PLACES]
    rng.shuffle(plain)
    places = {max(count - 30 - 6 * number, number): title for number, title in enumerate(UNUSUAL)}
    for number, title in enumerate(plain):
        if number in places:
            yield places[number]
        yield title
    for number, title in enumerate(plain, start=2):
        yield f"{title} ({number})"
