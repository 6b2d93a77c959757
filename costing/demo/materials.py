"""The shelf of Wrackline: some forty materials and a palette of mixed colours. Makers are invented."""

from collections.abc import Iterator
from datetime import date, timedelta

from costing.demo.figures import millionths, thousandths
from inventory.materials.models import Kind, Material, MeasureChoice

MARRAM = "Marram & Mizzle Colour Works"
FOGHORN = "Foghorn & Whistle Fluid Colours"
NEBELKAI = "Nebelkai Farben"

# name, maker, colour, density in g/mL
PAINTS = [
    ("Titanium White", MARRAM, "#f4f3ee", "1.32"),
    ("Carbon Black", MARRAM, "#1d1d20", "1.12"),
    ("Ultramarine Blue", MARRAM, "#27338f", "1.18"),
    ("Reef Turquoise", MARRAM, "#0f7f8c", "1.14"),
    ("Buoy Red", MARRAM, "#b4282c", "1.15"),
    ("Gorse Yellow", MARRAM, "#e8b317", "1.17"),
    ("Raw Umber", MARRAM, "#5b4030", "1.2"),
    ("Sea Thrift Magenta", FOGHORN, "#b3246e", "1.1"),
    ("Deep Violet", FOGHORN, "#3f2463", "1.1"),
    ("Pale Aqua", FOGHORN, "#a5d6d3", "1.16"),
    ("Pearl Gold", NEBELKAI, "#c29a3f", "1.08"),
    ("Pearl Copper", NEBELKAI, "#b0693f", "1.08"),
    ("Pearl Silver", NEBELKAI, "#b9bdc2", "1.08"),
]

# name, kind, maker, density in g/mL, days it keeps once opened, notes
BOTTLES = [
    ("PVA glue", Kind.MEDIUM, "Barnacle Bulk", "1.09", None, "Keep from frost."),
    ("Eelslip pouring medium", Kind.MEDIUM, MARRAM, "1.04", None, ""),
    ("Slackwater pouring medium", Kind.MEDIUM, "Amberjelly", "1.05", None, ""),
    ("Satin varnish", Kind.FINISH, MARRAM, "1.03", 730, ""),
    ("Gloss varnish", Kind.FINISH, MARRAM, "1.03", 730, ""),
    ("Silicone oil", Kind.ADDITIVE, "Amberjelly", "0.97", None, "Drops only. Clean it off before varnish."),
]

# name, height and width and depth in cm, round
SURFACES = [
    ("Round board 30 cm", "30", "30", "0.9", True),
    ("Round board 20 cm", "20", "20", "0.9", True),
    ("Tile 15 × 15 cm", "15", "15", "0.8", False),
    ("Coaster 10 cm", "10", "10", "0.5", True),
    ("Canvas 20 × 20 cm", "20", "20", "1.8", False),
    ("Canvas 30 × 30 cm", "30", "30", "1.8", False),
    ("Canvas 40 × 50 cm", "40", "50", "1.8", False),
    ("Canvas 60 × 80 cm, deep", "60", "80", "3.8", False),
]

# name, kind, measure
SUNDRIES = [
    ("Nitrile gloves", Kind.SUNDRY, MeasureChoice.COUNT),
    ("Paper towels", Kind.SUNDRY, MeasureChoice.COUNT),
    ("Paper cups", Kind.SUNDRY, MeasureChoice.COUNT),
    ("D-rings", Kind.SUNDRY, MeasureChoice.COUNT),
    ("Hanging wire", Kind.SUNDRY, MeasureChoice.LENGTH),
    ("Tissue paper", Kind.PACKAGING, MeasureChoice.COUNT),
    ("Flat box", Kind.PACKAGING, MeasureChoice.COUNT),
    ("Large flat box", Kind.PACKAGING, MeasureChoice.COUNT),
    ("Care card", Kind.PACKAGING, MeasureChoice.COUNT),
]

# The mixed colours: name, colour. recipes.py says what goes into them.
MIXED = [
    ("Harbour White", "#eef0ec"),
    ("Pillow White", "#f1efe7"),
    ("Tide Blue", "#2a5a9c"),
    ("Ring White", "#f2f2ee"),
    ("Eelgrass", "#4f8f5b"),
    ("Low Sun", "#e0822a"),
    ("Rust Buoy", "#93372b"),
    ("Mussel Violet", "#43305c"),
    ("Shell Pink", "#dba3b4"),
    ("Wrack Black", "#26262a"),
    ("Aqua Shallows", "#9fd0cc"),
    ("Lamp Gold", "#bf9640"),
    ("Copper Rivet", "#ad6a44"),
]

# Levels she set herself, in thousandths; everything else follows from use and lead time.
OWN_LEVELS = {
    "Titanium White": 1_000_000,
    "Canvas 40 × 50 cm": 3_000,
    "Deep Violet": 180_000,
    "Care card": 150_000,
}

INVENTED_SHEET = (
    "Copied from the supplier's safety data sheet, which is invented like the supplier. "
    "For your own materials copy your own supplier's sheet."
)
FLAMMABLE = (
    "H225 Highly flammable liquid and vapour\n"
    "H319 Causes serious eye irritation\n"
    "H336 May cause drowsiness or dizziness"
)
RESIN = (
    "H315 Causes skin irritation\n"
    "H317 May cause an allergic skin reaction\n"
    "H319 Causes serious eye irritation"
)
HARDENER = (
    "H302 Harmful if swallowed\n"
    "H314 Causes severe skin burns and eye damage\n"
    "H317 May cause an allergic skin reaction"
)


def the_materials(today: date) -> Iterator[Material]:
    """Every material, not yet saved. Safety sheets are dated back from the last day of the demo."""
    yield from _paints()
    yield from _media()
    yield from _with_data_sheets(today - timedelta(days=400))
    yield from _surfaces()
    for name, kind, measure in SUNDRIES:
        yield Material(name=name, kind=kind, measure=measure, reorder_level=OWN_LEVELS.get(name))
    for name, colour in MIXED:
        yield Material(name=name, kind=Kind.MIX, measure=MeasureChoice.VOLUME, colour=colour, keeps_days=60)


def _paints() -> Iterator[Material]:
    for name, maker, colour, density in PAINTS:
        yield Material(
            name=name,
            kind=Kind.PAINT,
            measure=MeasureChoice.VOLUME,
            maker=maker,
            colour=colour,
            density=millionths(density),
            keeps_days=5 * 365,
            reorder_level=OWN_LEVELS.get(name),
        )
    yield Material(
        name="White Base",
        kind=Kind.PAINT,
        measure=MeasureChoice.MASS,
        maker="Barnacle Bulk",
        colour="#f3f1ea",
        density=millionths("1.35"),
        keeps_days=2 * 365,
        notes="Sold by the kilogram. Density from a weighed 100 mL.",
    )


def _media() -> Iterator[Material]:
    volume, water = MeasureChoice.VOLUME, 1_000_000
    yield Material(
        name="Tap water", kind=Kind.MEDIUM, measure=volume, density=water, water_share=water, is_free=True
    )
    yield Material(
        name="Loft medium",
        kind=Kind.MEDIUM,
        measure=volume,
        keeps_days=30,
        notes="Home-made. Look at it and smell it after 14 days; use it up within 30.",
    )
    yield Material(
        name="Clear resin, mixed",
        kind=Kind.FINISH,
        measure=volume,
        keeps_days=1,
        notes="Mix only what is used within the time on its label.",
    )
    for name, kind, maker, density, keeps_days, notes in BOTTLES:
        yield Material(
            name=name,
            kind=kind,
            measure=volume,
            maker=maker,
            density=millionths(density),
            keeps_days=keeps_days,
            notes=notes,
        )


def _with_data_sheets(dated: date) -> Iterator[Material]:
    sheets = [
        ("Isopropyl alcohol", Kind.ADDITIVE, "786000", "Danger", FLAMMABLE),
        ("Clear resin, part A", Kind.FINISH, "1130000", "Warning", RESIN),
        ("Clear resin, part B", Kind.FINISH, "1010000", "Danger", HARDENER),
    ]
    for name, kind, density, signal_word, hazards in sheets:
        yield Material(
            name=name,
            kind=kind,
            measure=MeasureChoice.VOLUME,
            maker="Barnacle Bulk" if kind == Kind.ADDITIVE else "Amberjelly",
            density=int(density),
            signal_word=signal_word,
            hazards=hazards,
            safety_sheet_dated=dated,
            keeps_days=None if kind == Kind.ADDITIVE else 730,
            notes=INVENTED_SHEET,
        )


def _surfaces() -> Iterator[Material]:
    for name, height, width, depth, is_round in SURFACES:
        yield Material(
            name=name,
            kind=Kind.SURFACE,
            measure=MeasureChoice.COUNT,
            height=thousandths(height),
            width=thousandths(width),
            depth=thousandths(depth),
            is_round=is_round,
            reorder_level=OWN_LEVELS.get(name),
        )
