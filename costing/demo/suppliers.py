"""The suppliers of Wrackline and what they sell: all invented."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Pack:
    """One pack: material, size in base units, price in the supplier's currency, and how the size is written on it.

    `breaks` are the prices of each from so many packs on. Another house's pack is not `preferred`: the year is not
    bought there, but the shopping list weighs it.
    """

    material: str
    size: str
    price: str
    written: str
    preferred: bool = True
    breaks: Sequence[tuple[int, str]] = ()


@dataclass(frozen=True, slots=True)
class House:
    """A supplier. `visits` is how many deliveries it makes in the year, the last one so many days before its end."""

    name: str
    lead_days: int
    spread_days: int
    visits: int
    last_visit: int
    packs: Sequence[Pack]
    currency: str = "GBP"
    country: str = ""
    carriage: str = "4.95"
    free_from: str = ""
    minimum: str = ""
    notes: str = ""
    email: str = ""
    address: str = ""
    customer_number: str = ""


PERIWINKLE = House(
    "Periwinkle & Bung Art Supplies",
    4,
    1,
    11,
    9,
    [
        Pack("Titanium White", "1000", "17.90", "1 L"),
        Pack("Titanium White", "500", "9.80", "500 mL", preferred=False),
        Pack("Carbon Black", "500", "9.20", "500 mL"),
        Pack("Ultramarine Blue", "500", "10.40", "500 mL"),
        Pack("Reef Turquoise", "500", "11.20", "500 mL"),
        Pack("Buoy Red", "250", "6.40", "250 mL"),
        Pack("Gorse Yellow", "250", "5.90", "250 mL"),
        Pack("Raw Umber", "250", "5.20", "250 mL"),
        Pack("Eelslip pouring medium", "1000", "13.90", "1 L"),
        Pack("Satin varnish", "500", "14.20", "500 mL"),
        Pack("Gloss varnish", "500", "14.20", "500 mL"),
        Pack("PVA glue", "1000", "5.20", "1 L", preferred=False),
    ],
    free_from="40.00",
    notes="Callers welcome; phone before noon for next-day delivery.",
)

FOGHORN = House(
    "Foghorn & Whistle Direct",
    9,
    2,
    7,
    16,
    [
        Pack("Sea Thrift Magenta", "118.294", "7.60", "4 US fl oz"),
        Pack("Sea Thrift Magenta", "473.176", "22.80", "16 US fl oz", preferred=False),
        Pack("Deep Violet", "118.294", "7.60", "4 US fl oz", breaks=[(6, "6.90")]),
        Pack("Pale Aqua", "473.176", "19.80", "16 US fl oz"),
    ],
    carriage="6.50",
    free_from="60.00",
    notes="Bottles are sized in US fluid ounces.",
    email="orders@foghorn-whistle.example",
    address="The Old Signal House\nOuter Mole",
    customer_number="FW-0417",
)

NEBELKAI = House(
    "Nebelkai Farbenkontor",
    18,
    5,
    4,
    61,
    [
        Pack("Pearl Gold", "250", "13.20", "250 mL"),
        Pack("Pearl Copper", "250", "12.60", "250 mL"),
        Pack("Pearl Silver", "250", "12.40", "250 mL"),
    ],
    currency="EUR",
    country="Over the water",
    carriage="18.40",
    minimum="50.00",
    notes="Priced in euros. Duty and import tax are due on delivery.",
)

CLAMP = House(
    "Clamp & Splinter Boards",
    7,
    2,
    11,
    12,
    [
        Pack("Round board 30 cm", "5", "19.50", "5 boards"),
        Pack("Round board 20 cm", "5", "11.40", "5 boards"),
        Pack("Canvas 20 × 20 cm", "5", "10.50", "5 canvases"),
        Pack("Canvas 30 × 30 cm", "5", "17.50", "5 canvases"),
        Pack("Canvas 30 × 30 cm", "20", "64.00", "20 canvases", preferred=False),
        Pack("Canvas 40 × 50 cm", "3", "20.70", "3 canvases"),
        Pack("Canvas 60 × 80 cm, deep", "1", "18.90", "1 canvas", breaks=[(4, "17.40")]),
    ],
    carriage="7.95",
    free_from="150.00",
    email="yard@clamp-splinter.example",
    address="Sawpit 3\nBelow the Weir",
    customer_number="118",
)

COLD_KETTLE = House(
    "Cold Kettle Tileworks",
    10,
    3,
    6,
    33,
    [
        Pack("Tile 15 × 15 cm", "10", "12.50", "10 tiles"),
        Pack("Coaster 10 cm", "12", "13.20", "12 coasters"),
        Pack("Coaster 10 cm", "48", "47.00", "48 coasters", preferred=False),
    ],
    carriage="8.50",
    email="kiln@cold-kettle.example",
    address="Cold Kettle Kilns\nClay Hard",
    customer_number="WRK",
)

BARNACLE = House(
    "Barnacle Bulk Stores",
    3,
    1,
    9,
    20,
    [
        Pack("PVA glue", "5000", "17.60", "5 L"),
        Pack("White Base", "5000", "23.50", "5 kg tub"),
        Pack("Isopropyl alcohol", "1000", "8.60", "1 L"),
        Pack("Nitrile gloves", "100", "8.40", "box of 100"),
        Pack("Paper towels", "200", "4.60", "200 sheets"),
        Pack("Paper cups", "100", "7.80", "100 cups"),
        Pack("Titanium White", "2000", "35.40", "2 L tub", preferred=False),
        Pack("Care card", "250", "17.90", "250 cards", preferred=False),
    ],
    carriage="5.50",
    free_from="35.00",
)

AMBERJELLY = House(
    "Amberjelly Resin & Finish",
    6,
    2,
    4,
    47,
    [
        Pack("Clear resin, part A", "500", "13.50", "500 mL"),
        Pack("Clear resin, part B", "500", "13.50", "500 mL"),
        Pack("Slackwater pouring medium", "1000", "21.40", "1 L"),
        Pack("Silicone oil", "100", "6.90", "100 mL"),
    ],
    carriage="5.95",
)

KNOT = House(
    "Knot & Crinkle Packaging",
    5,
    1,
    8,
    26,
    [
        Pack("D-rings", "50", "4.50", "50 rings"),
        Pack("Hanging wire", "2500", "3.80", "25 m"),
        Pack("Tissue paper", "240", "6.20", "240 sheets"),
        Pack("Flat box", "25", "21.00", "25 boxes"),
        Pack("Large flat box", "10", "18.50", "10 boxes"),
        Pack("Care card", "100", "6.50", "100 cards"),
    ],
    minimum="15.00",
)

HOUSES = [PERIWINKLE, FOGHORN, NEBELKAI, CLAMP, COLD_KETTLE, BARNACLE, AMBERJELLY, KNOT]

# What two houses sell, and she buys wherever it is cheaper.
WEIGHED = frozenset({"Titanium White", "Care card"})

# What she forgot on her last rounds, so that reorder alerts stand open on the last day.
FORGOTTEN = frozenset({"Titanium White", "Canvas 40 × 50 cm", "Deep Violet", "Care card"})

# Weight of the empty container in grams, for weighing what is left at a stocktake.
EMPTY_WEIGHTS: Mapping[str, str] = {
    "1 L": "62",
    "500 mL": "41",
    "250 mL": "26",
    "16 US fl oz": "38",
    "4 US fl oz": "17",
}


def barcode(house: int, pack: int) -> str:
    """An invented 13-digit number with its check digit, from the range that GS1 leaves to shops' own use (20 to 29)."""
    body = f"2{house:03}{pack:08}"
    total = sum(int(digit) * (3 if place % 2 else 1) for place, digit in enumerate(body))
    return f"{body}{-total % 10}"
