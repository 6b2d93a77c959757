"""What goes into each mix at Wrackline, by parts, and which colours go together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Formula:
    """A recipe of parts. `by_mass` is mixed on the scale, the others in the jug."""

    makes: str
    parts: Mapping[str, str]
    by_mass: bool = False
    notes: str = ""


FORMULAS = [
    Formula(
        "Loft medium", {"PVA glue": "5", "Tap water": "2"}, notes="Stir slowly, leave overnight, strain."
    ),
    Formula("Clear resin, mixed", {"Clear resin, part A": "1", "Clear resin, part B": "1"}),
    Formula("Harbour White", {"Titanium White": "1", "Loft medium": "1.5", "Tap water": "0.25"}),
    Formula("Pillow White", {"White Base": "10", "Loft medium": "8", "Tap water": "1"}, by_mass=True),
    Formula(
        "Tide Blue",
        {"Ultramarine Blue": "1", "Reef Turquoise": "0.5", "Loft medium": "2.5", "Tap water": "0.5"},
    ),
    Formula(
        "Ring White",
        {"Titanium White": "1", "Slackwater pouring medium": "1.25"},
        notes="Heavier than Harbour White: rings hold their edge in it.",
    ),
    Formula(
        "Eelgrass", {"Reef Turquoise": "1", "Gorse Yellow": "0.75", "Loft medium": "3", "Tap water": "0.5"}
    ),
    Formula("Low Sun", {"Gorse Yellow": "1", "Buoy Red": "0.25", "Loft medium": "2"}),
    Formula("Rust Buoy", {"Buoy Red": "1", "Raw Umber": "0.5", "Loft medium": "2.5", "Tap water": "0.25"}),
    Formula("Mussel Violet", {"Deep Violet": "1", "Carbon Black": "0.25", "Loft medium": "2.5"}),
    Formula("Shell Pink", {"Sea Thrift Magenta": "0.25", "Titanium White": "1", "Loft medium": "2"}),
    Formula("Wrack Black", {"Carbon Black": "1", "Loft medium": "2", "Tap water": "0.25"}),
    Formula("Aqua Shallows", {"Pale Aqua": "1", "Loft medium": "1.75"}),
    Formula("Lamp Gold", {"Pearl Gold": "1", "Eelslip pouring medium": "1.5"}),
    Formula(
        "Copper Rivet",
        {"Pearl Copper": "1", "Pearl Silver": "0.25", "Eelslip pouring medium": "2"},
        notes="The silver cools it.",
    ),
]

# Written half-way through the year, after the first version crazed: less water, more medium.
SECOND_TIDE_BLUE = Formula(
    "Tide Blue",
    {"Ultramarine Blue": "1", "Reef Turquoise": "0.5", "Loft medium": "2.75", "Tap water": "0.25"},
    notes="Crazed at the rim with half a part of water. Now a quarter.",
)


# What any paint is mixed by, without a recipe of its own: name, paint : medium : water and what is added, notes.
RATIOS = [
    ("Thin, for tilting", "1 : 2 : ½", "Runs off the edge by itself. Not for rings."),
    ("Rings, a little oil", "1 : 1½ + 2 drops", "The oil goes in last, and is wiped off before the varnish."),
]


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours poured together, the ground first, with the share of the pour each takes in per cent."""

    name: str
    shares: Mapping[str, int]


PALETTES: Sequence[Palette] = [
    Palette("Harbour", {"Pillow White": 50, "Tide Blue": 30, "Aqua Shallows": 12, "Lamp Gold": 8}),
    Palette("Low sun", {"Pillow White": 46, "Low Sun": 28, "Rust Buoy": 18, "Copper Rivet": 8}),
    Palette("Mussel bed", {"Wrack Black": 38, "Mussel Violet": 24, "Shell Pink": 22, "Harbour White": 16}),
    Palette("Saltmarsh", {"Pillow White": 44, "Eelgrass": 30, "Aqua Shallows": 18, "Lamp Gold": 8}),
    Palette("Winter quay", {"Harbour White": 52, "Aqua Shallows": 20, "Wrack Black": 14, "Tide Blue": 14}),
    Palette("Shell and rust", {"Pillow White": 48, "Shell Pink": 26, "Rust Buoy": 14, "Copper Rivet": 12}),
]

WHITE_AND_BLUE = Palette("White and blue", {"Ring White": 57, "Tide Blue": 33, "Lamp Gold": 10})
