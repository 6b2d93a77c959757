"""What finishes and packs each kind of work, how long that takes, and what is asked for it. Figures from memory."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trim:
    """Finishing and packing of one surface: two thin coats, hardware, minutes; and the finished work's price."""

    coat: str
    per_cm2: int
    rings: int
    wire: int
    minutes: int
    box: str
    price: int
    alcohol: int = 0


# Varnish and resin in microlitres per cm² (two coats of about 10 m² a litre; resin 0.32 mL/cm² and its loss), wire
# in cm, alcohol in mL where silicone oil must come off first.
TRIMS = {
    "Round board 30 cm": Trim("Satin varnish", 20, 1, 0, 16, "Flat box", 62),
    "Round board 20 cm": Trim("Satin varnish", 20, 1, 0, 12, "Flat box", 38),
    "Tile 15 × 15 cm": Trim("Gloss varnish", 20, 0, 0, 6, "Flat box", 18, alcohol=4),
    "Coaster 10 cm": Trim("Clear resin, mixed", 370, 0, 0, 5, "Flat box", 42),
    "Canvas 20 × 20 cm": Trim("Satin varnish", 20, 1, 0, 14, "Flat box", 40),
    "Canvas 30 × 30 cm": Trim("Satin varnish", 20, 2, 45, 20, "Flat box", 78),
    "Canvas 40 × 50 cm": Trim("Satin varnish", 20, 2, 70, 30, "Large flat box", 155),
    "Canvas 60 × 80 cm, deep": Trim("Gloss varnish", 20, 2, 110, 45, "Large flat box", 345),
}
PAIR_PRICE = 180


def finish_of(surface: str, area: int) -> list[tuple[str, int]]:
    """Varnish or resin for an area (thousandths of a cm²), and hardware, by name in thousandths."""
    trim = TRIMS[surface]
    used = [(trim.coat, area * trim.per_cm2 // 1_000 // 500 * 500)]
    if trim.alcohol:
        used.append(("Isopropyl alcohol", trim.alcohol * 1_000))
    if trim.rings:
        used.append(("D-rings", trim.rings * 1_000))
    if trim.wire:
        used.append(("Hanging wire", trim.wire * 1_000))
    return used


def packing_of(surface: str) -> list[tuple[str, int]]:
    """What wraps one piece on this surface."""
    return [("Tissue paper", 2_000), (TRIMS[surface].box, 1_000), ("Care card", 1_000)]
