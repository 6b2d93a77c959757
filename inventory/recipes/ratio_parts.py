"""Ratios: parts by role, additives by the hundred or by the drop, turned into the parts of a recipe.

Parts and drops are thousandths, shares of the cup millionths, densities micrograms per mL. "Of the cup" means of what
is in it at the end, the additive included.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.recipes.calculations import ONE_PART, Basis, DensityNeededError, MixingError
from studio.errors import InputError
from studio.translation import _, ngettext
from studio.values.allocation import MILLION, divide_half_up
from studio.values.numbers import format_scaled, in_own_mark, read_number, tidy

# Thousandths of a mL. A drop of water from the medicine dropper of USP 32, chapter 1101, weighs 45 to 55 mg.
USUAL_DROP = 50
HUNDRED_MILLILITRES = 100_000
# Beside an additive of a few drops, parts are written a thousand times as large, so that it is not rounded away.
FINE = 1_000
LARGEST_PART = 100_000_000
_QUARTERS = {250: "¼", 500: "½", 750: "¾"}
_DROPS = re.compile(r"(.*?) ?(?:drops?|tropfen)", re.IGNORECASE)


class Role(StrEnum):
    """What a part of a ratio is for."""

    PAINT = "paint"
    MEDIUM = "medium"
    WATER = "water"
    ADDITIVE = "additive"


class RatioUnit(StrEnum):
    """What a part of a ratio is counted in."""

    PARTS = "parts"
    PERCENT = "percent"
    DROPS = "drops"


@dataclass(frozen=True, slots=True)
class RolePart:
    """So much of one role: thousandths of a part or of a drop in 100 mL, or millionths of the cup."""

    role: Role
    amount: int
    unit: RatioUnit = RatioUnit.PARTS


@dataclass(frozen=True, slots=True)
class Measured:
    """One part of a ratio with the material that it is of, whose density may not be known."""

    material: int
    amount: int
    unit: RatioUnit = RatioUnit.PARTS
    density: int | None = None


def parts_of(ratio: Sequence[Measured], basis: Basis, *, drop: int = USUAL_DROP) -> list[int]:
    """What each part of a ratio is in the parts of a recipe (thousandths), in the same order.

    Parts stay as they are written; with an additive by the hundred or the drop all are larger in the same
    proportion. Raises MixingError where additives leave no room for the rest, and DensityNeededError for drops in a
    ratio by weight.
    """
    parts = sum(each.amount for each in ratio if each.unit is RatioUnit.PARTS)
    if not parts:
        raise MixingError(_("Enter at least one part beside the additives."))
    if all(each.unit is RatioUnit.PARTS for each in ratio):
        return [each.amount for each in ratio]
    shares = _shares(ratio, basis, Fraction(drop, HUNDRED_MILLILITRES * ONE_PART))
    rest = 1 - sum(shares)
    if rest <= 0:
        raise MixingError(_("The additives alone fill the cup. Enter less of them."))
    largest = max(each.amount for each in ratio if each.unit is RatioUnit.PARTS)
    scale = max(1, min(FINE, LARGEST_PART // largest))
    scaled = []
    for each, share in zip(ratio, shares, strict=True):
        exact = share / rest * parts * scale
        added = max(divide_half_up(exact.numerator, exact.denominator), 1)
        scaled.append(each.amount * scale if each.unit is RatioUnit.PARTS else added)
    return scaled


def _shares(ratio: Sequence[Measured], basis: Basis, drop: Fraction) -> list[Fraction]:
    """What each additive by the hundred or the drop is of the whole cup, in the ratio's own basis; 0 for parts.

    `drop` is what a thousandth of a drop in 100 mL is of the cup by volume.
    """
    by_volume = [each.amount * drop if each.unit is RatioUnit.DROPS else Fraction(0) for each in ratio]
    if basis is Basis.MASS and any(by_volume):
        volume = _volume_of_one_gram(ratio, by_volume)
        by_volume = [
            share * volume * _density(each) if share else share
            for each, share in zip(ratio, by_volume, strict=True)
        ]
    return [
        Fraction(each.amount, MILLION) if each.unit is RatioUnit.PERCENT else share
        for each, share in zip(ratio, by_volume, strict=True)
    ]


def _volume_of_one_gram(ratio: Sequence[Measured], drops: Sequence[Fraction]) -> Fraction:
    """The volume (mL) of one gram of the cup whose additives by the drop are `drops` of its volume.

    Mass and volume both add up: 1 = R + Q + V·Σfρ and V = R·s + q + V·Σf, where R is the mass of the parts and s the
    volume of a gram of them, Q and q mass and volume of what is added by the hundred, f and ρ share and density of
    drops.
    """
    parts = [each for each in ratio if each.unit is RatioUnit.PARTS]
    hundreds = [each for each in ratio if each.unit is RatioUnit.PERCENT]
    whole = sum(each.amount for each in parts)
    volume = sum((each.amount / _density(each) for each in parts), Fraction(0)) / whole
    added = sum((Fraction(each.amount, MILLION) for each in hundreds), Fraction(0))
    added_volume = sum((Fraction(each.amount, MILLION) / _density(each) for each in hundreds), Fraction(0))
    dripped = [(share, _density(each)) for each, share in zip(ratio, drops, strict=True) if share]
    room = 1 - sum(share for share, _density_ in dripped)
    weight = sum((share * density for share, density in dripped), Fraction(0))
    result = (volume * (1 - added) + added_volume) / (room + volume * weight)
    if room <= 0 or result <= 0:
        raise MixingError(_("The additives alone fill the cup. Enter less of them."))
    return result


def _density(part: Measured) -> Fraction:
    if part.density is None:
        raise DensityNeededError(part.material)
    return Fraction(part.density, MILLION)


def notation(parts: Sequence[RolePart], *, decimal_comma: bool = False) -> str:
    """A ratio as it is written, paint : medium : water, then what is added: "1 : 2 : ½ + 3 drops"."""
    plain = [part for part in parts if part.unit is RatioUnit.PARTS]
    numbers: list[str] = []
    for role in Role:
        amounts = [
            written_number(part.amount, decimal_comma=decimal_comma) for part in plain if part.role is role
        ]
        is_last = all(list(Role).index(part.role) <= list(Role).index(role) for part in plain)
        numbers += amounts or ([] if is_last else ["0"])
    added = [written_amount(part, decimal_comma=decimal_comma) for part in parts if part not in plain]
    return " + ".join([" : ".join(numbers), *added])


def written_amount(part: RolePart, *, decimal_comma: bool = False) -> str:
    """One part as it is written: "½", "2%", "3 drops"."""
    if part.unit is RatioUnit.PERCENT:
        return f"{format_scaled(part.amount, 4, decimal_comma=decimal_comma)}%"
    number = written_number(part.amount, decimal_comma=decimal_comma)
    if part.unit is RatioUnit.PARTS:
        return number
    return ngettext("{n} drop", "{n} drops", 1 if part.amount == ONE_PART else 2, n=number)


def written_number(thousandths: int, *, decimal_comma: bool) -> str:
    """So many parts as people write them: "2", "½", "1.75"."""
    whole, rest = divmod(thousandths, ONE_PART)
    if rest in _QUARTERS:
        return f"{whole or ''}{_QUARTERS[rest]}"
    return format_scaled(thousandths, 3, decimal_comma=decimal_comma)


def read_notation(text: str, *, decimal_comma: bool) -> list[RolePart]:
    """Read "1 : 2 : ½ + 3 drops": paint, medium, water, additive, and what is added beside them. 0 leaves one out.

    Raises InputError saying how to write it.
    """
    tidied = tidy(text, example="1 : 2 : ½")
    plain, *added = (piece.strip() for piece in tidied.split("+"))
    numbers = [piece.strip() for piece in plain.split(":")]
    if not 2 <= len(numbers) <= len(Role):
        raise InputError(
            _(
                "Write a ratio as paint : medium : water, such as 1 : 2 : ½. An additive may follow: + 3 drops."
            )
        )
    read = [
        (role, *read_amount(number, decimal_comma=decimal_comma))
        for role, number in [*zip(Role, numbers, strict=False), *((Role.ADDITIVE, piece) for piece in added)]
    ]
    return [RolePart(role, amount, unit) for role, amount, unit in read if amount]


def read_amount(text: str, *, decimal_comma: bool) -> tuple[int, RatioUnit]:
    """Read "½", "2%" (of the cup) or "3 drops" (in 100 mL of it); raises InputError when it is none of them.

    1,5 and 1.5 are the same here, because a ratio has no thousands.
    """
    tidied = tidy(text, example=_("2, 5% or 3 drops"))
    drops = _DROPS.fullmatch(tidied)
    if tidied.endswith("%"):
        number, scale, unit = tidied[:-1].strip(), 10_000, RatioUnit.PERCENT
    else:
        number, scale = drops[1] if drops else tidied, ONE_PART
        unit = RatioUnit.DROPS if drops else RatioUnit.PARTS
    number = in_own_mark(number, decimal_comma=decimal_comma)
    exact = read_number(number, decimal_comma=decimal_comma) * scale
    if exact.denominator != 1 or exact > LARGEST_PART:
        raise InputError(_("“{text}” has too many decimals or is too large for a ratio.", text=tidied))
    return int(exact), unit
