"""The spreadsheet of an invented studio, The Tide Table, as somebody kept it for years: four messy sheets.

A title stands above the headings, blank lines and totals stand between the rows, amounts are written with decimal
commas and in whatever unit the label had, cells are parted by semicolons, and each file begins with a byte order mark.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

BOM = "\ufeff"
COUNTED_ON = date(2025, 3, 1)
FIRST_POURED_ON = date(2025, 4, 5)
SHADES = ("White", "Blue", "Green", "Amber", "Grey", "Coral")
PLACES = (
    "Sail Loft",
    "Slack Tide",
    "Breakwater",
    "Lantern",
    "Saltmarsh",
    "Jetty",
    "Kelp",
    "Undertow",
    "Dune",
)
# Size as on the label, in millilitres, and what such a bottle cost.
BOTTLES = (
    ("500 ml", 500, "12,50"),
    ("0,25 l", 250, "8,40"),
    ("50 cl", 500, "11,00"),
    ("1/2 l", 500, "13,75"),
    ("120ml", 120, "5,20"),
    ("1000 ml", 1000, "21,00"),
)
LEFT = ("350 ml", "0,2 l", "40 cl", "1/4 l", "100ml", "850 ml")
LEFT_ML = (350, 200, 400, 250, 100, 850)
BOARD, BOARDS, BOARD_PRICE = "Round board 20", 60, "3,20"
GLUE, CANS = "Harbour Glue", 5


@dataclass(frozen=True, slots=True)
class Bottle:
    """One row of the shelf."""

    name: str
    left: int  # millilitres
    cost: Fraction  # of what is left


def paints() -> list[str]:
    """Fifty-four shades."""
    return [f"{place} {shade}" for place in PLACES for shade in SHADES]


def bottles() -> list[Bottle]:
    """What the sheet of bottles says, worked out by hand from the same table: the share that is left of its price."""
    found = []
    for number, name in enumerate(paints()):
        _size, whole, price = BOTTLES[number % len(BOTTLES)]
        left = LEFT_ML[number % len(LEFT)]
        found.append(Bottle(name, left, Fraction(price.replace(",", ".")) * left / whole))
    return found


def shelf() -> bytes:
    """Sixty bottles: fifty-four paints, five cans of glue and a box of boards."""
    rows = ["The Tide Table – what is on the shelf (spring);;;;;;;", ";;;;;;;"]
    rows += ["Colour name;Type;Bottle size;How much is left;Paid each;Shop;Stand;Remarks"]
    for number, name in enumerate(paints()):
        size, _whole, price = BOTTLES[number % len(BOTTLES)]
        left = LEFT[number % len(LEFT)]
        rows.append(f"{name};paint;{size};{left};{price};Gullhaven Supplies;window;")
        if number % 12 == 11:
            rows.append(";;;;;;;")
    rows += [f"{GLUE};medium;1 l;1 l;9,80;Gullhaven Supplies;floor;" for _can in range(CANS)]
    rows += [f"{BOARD};surface;20 cm round;{BOARDS};{BOARD_PRICE};Spindrift Boards;loft;boxes of one"]
    rows += ["Total;;;;;;;"]
    return (BOM + "\r\n".join(rows) + "\r\n").encode()


def recipes() -> bytes:
    """Twelve recipes, each of a shade and glue."""
    rows = ["Recipes;;", "Mix;What goes in;Remarks"]
    for number, name in enumerate(paints()[:12]):
        parts = "1,5" if number % 2 else "2"
        rows.append(f"{name} thin;{parts} {name} + 1 {GLUE};{'by eye' if number % 3 else ''}")
    return (BOM + "\n".join(rows) + "\n").encode()


def poured() -> bytes:
    """Ten evenings of four boards each."""
    rows = ["Evenings in the loft;;;;;", "Date;Pour;On what;Number;Colours;Time"]
    for evening in range(10):
        on, names = _evening(evening), paints()
        rows.append(
            f"{on:%d.%m.%Y};Ring pour;{BOARD};4;15 ml {names[evening]} + 7,5 ml {names[evening + 12]};90"
        )
        rows.append(";;;;;")
    return (BOM + "\n".join(rows) + "\n").encode()


def pieces() -> bytes:
    """Forty pieces: one of each board, every fourth sold."""
    rows = [";;;;;;", "No.;Name of the piece;Poured;Canvas size;Asking price;Date sold;Sold at"]
    for number in range(40):
        on = _evening(number // 4)
        sold = f"{on + timedelta(days=30):%d.%m.%Y};Market stall" if number % 4 == 0 else ";"
        rows.append(f"{number + 1};Low water {number + 1};{on:%d.%m.%Y};{BOARD};{50 + number},00;{sold}")
    return (BOM + "\r\n".join(rows) + "\r\n").encode()


def _evening(number: int) -> date:
    return FIRST_POURED_ON + timedelta(days=7 * number)
