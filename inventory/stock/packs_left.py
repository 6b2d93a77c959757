"""What is left, counted in packs: two and a half bottles of 250 ml."""

import re
from fractions import Fraction

from studio.errors import InputError
from studio.imports.cells import Cells
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.money import round_to_minor
from studio.values.numbers import read_number, split_number, tidy
from studio.values.units import Measure

# What headings and cells call a pack, in English and German.
_WORDS = (
    r"bottles?|packs?|packages?|packets?|jars?|tubes?|tubs?|pots?|cans?|tins?|boxes|box|cartons?|canisters?|buckets?|pieces?|"
    r"pcs?|units?|containers?|flaschen?|fl|packung(?:en)?|pckg|packg|pack|stücke?|stuck|stucke|stk|dosen?|tuben?|gläser|"
    r"glas|glaser|kartons?|kanister|eimer|gebinde|schachteln?|becher|tiegel"
)
_PACKS = re.compile(rf"(?:{_WORDS})\.?", re.IGNORECASE)
_HALF = re.compile(r"^(?:an? |eine? )?(?:half|halbe?)(?: an?)?(?: |-)", re.IGNORECASE)
_ARTICLE = re.compile(r"^(?:an?|one|eine?) ", re.IGNORECASE)
_FULL = re.compile(rf"full|voll|(?:of|from) (?:an?|the) (?:{_WORDS})", re.IGNORECASE)
MOST_PACKS = 100_000
PACK_HEADINGS = (
    "packs", "bottles", "jars", "tubes", "boxes", "pieces", "pcs", "count", "number", "number of packs", "full packs",
    "flaschen", "packungen", "stück", "stk", "anzahl", "stückzahl", "dosen", "tuben", "anzahl flaschen",
    "anzahl packungen",
)  # fmt: skip
PACK_PRICES = (
    "price per pack", "price per bottle", "bottle price", "price of a pack", "packungspreis", "flaschenpreis",
    "stückpreis", "preis packung", "preis packg", "preis flasche", "preis je packung", "preis pro packung",
    "preis je flasche", "preis pro flasche",
)  # fmt: skip


def is_pack_word(text: str) -> bool:
    """Whether a word means a pack, such as bottles or Flaschen."""
    return _PACKS.fullmatch(text.strip()) is not None


def packs_in(cells: Cells) -> Fraction | None:
    """How many packs are left: in the column for it, or in that of the amount, "2 bottles". What is wrong is noted."""
    key = "packs" if cells["packs"] else "quantity"
    if key == "quantity" and not _is_in_packs(cells):
        return None

    def read(text: str) -> Fraction:
        number, word = _parted(text)
        if not number or (word and not is_pack_word(word)):
            raise InputError(
                _(
                    "“{text}” is not a number of packs. Enter for example 2, or 1/2 for half a pack.",
                    text=text[:60],
                )
            )
        packs = read_number(number, decimal_comma=cells.numbers.decimal_comma)
        if not 0 < packs <= MOST_PACKS:
            raise InputError(_("Packs must be above zero. Leave out the row of a pack that is empty."))
        return packs

    return cells.read(key, read)


def spoken_packs(text: str, *, decimal_comma: bool) -> Fraction | None:
    """How many packs somebody says are left: "1/2 bottle", "half full", "eine halbe Flasche"; None for an amount."""
    numbered = _ARTICLE.sub("1 ", _HALF.sub("1/2 ", " ".join(text.split())))
    number, word = split_number(numbered)
    if not number or not (is_pack_word(word) or _FULL.fullmatch(word)):
        return None
    return read_number(number, decimal_comma=decimal_comma)


def _is_in_packs(cells: Cells) -> bool:
    """Whether the amount is a number of packs, each of the pack size: not "7 pieces" of what is itself counted."""
    if not cells["pack_size"] or not is_pack_word(_parted(cells["quantity"])[1]):
        return False
    size = cells.beside().quantity("pack_size")
    return size is not None and size.quantity.measure is not Measure.COUNT


def _parted(text: str) -> tuple[str, str]:
    return split_number(tidy(text, example="2")) if text else ("", "")


def times(packs: Fraction, amount: int) -> int:
    """So many times an amount, rounded half up."""
    return divide_half_up(amount * packs.numerator, packs.denominator)


def cost_of_packs(packs: Fraction, price: int, currency: str) -> int:
    """What so many packs cost at the price of one, to the currency's minor unit, half up."""
    return round_to_minor(times(packs, price), currency)
