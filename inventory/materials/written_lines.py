"""Lines about what was bought, as somebody writes them: "Sail Loft White 500 ml £7.20 x2". No Django.

Read from the surest sign to the least sure: a total, a price with its currency, packs, an amount with its unit; what
is left is the name. What can be meant in two ways is said, never guessed: nothing is saved from here unseen.

Its patterns take longer to make ready than any other module, so it is imported where a line is read.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from inventory.materials.written_facts import (
    EACH_SIGN,
    LONGEST_LINE,
    MOST_PACKS_WRITTEN,
    ONE_PIECE,
    Doubt,
    PriceIs,
    WrittenLine,
)

_NUMBER = r"(?:\d+(?:[.,]\d+)*(?: \d+/\d+)?|\d+/\d+|\d*[½⅓⅔¼¾⅛])"
_UNITS = (
    r"fl\.? ?oz\.?|fluid ounces?|floz|millilit(?:er|re)s?|mls?|cls?|cc|lit(?:er|re)s?|ltr?s?|l|"
    r"grams?|gramm|gr|g|kilos?|kgs?|kilograms?|pounds?|lbs?|ounces?|oz|pints?|pts?|quarts?|qts?|gallons?|gals?|met(?:er|re)s?|m"
)
_PIECES = r"each|ea|pcs?|pieces?|sheets?|rolls?|pairs?|stk?\.?|stück|blatt|rollen?|paar"
_EXTRA = re.compile(
    r"^\W*(?:postage|p ?& ?p|carriage|shipping|delivery|freight|vat|sales tax|tax|discount|voucher|"
    r"sub-?total|total|versand(?:kosten)?|porto|fracht|mwst\.?|ust\.?|rabatt|zwischensumme|summe|gesamt)\b",
    re.IGNORECASE,
)
_CARRIAGE = re.compile(
    r"^\W*(?:postage|p ?& ?p|carriage|shipping|delivery|freight|versand(?:kosten)?|porto|fracht)\b",
    re.IGNORECASE,
)
_MONEY_NUMBER = r"\d[\d.,]*"
_SIGNS = r"(?:£|€|\$|(?:GBP|EUR|USD|CHF|CAD|AUD|NZD|SEK|NOK|DKK|PLN|CZK|JPY)\b)"
_SIGN_OF_FIGURE = re.compile(rf"(?<![A-Z])({_SIGNS})\s*\d|\d\s*({_SIGNS})(?!\s*\d)", re.IGNORECASE)
_EACH = r"(?:each|ea\b|apiece|a piece|per \w+|/ ?\w+\.?|je\b|pro \w+\.?|das stück)"
_IN_ALL = r"(?:in all|in total|total|altogether|together|for all|zusammen|insgesamt|gesamt)"
_TOTAL_SIGN = re.compile(rf"=\s*{_SIGNS}?\s*({_MONEY_NUMBER})\s*{_SIGNS}?", re.IGNORECASE)
_SO_MANY_FOR = re.compile(
    rf"\b(\d{{1,3}}) (?:for|für) (?:{_SIGNS}\s*({_MONEY_NUMBER})|({_MONEY_NUMBER})\s*{_SIGNS}(?!\s*\d))",
    re.IGNORECASE,
)
_SIGNED = re.compile(
    rf"(@\s*|à\s*|at\s+|je\s+)?(?:{_SIGNS}\s*({_MONEY_NUMBER})|({_MONEY_NUMBER})\s*{_SIGNS}(?!\s*\d))"
    rf"(?:\s*({_EACH})|\s*({_IN_ALL}))?",
    re.IGNORECASE,
)
_UNSIGNED_EACH = re.compile(
    rf"(?:@|\bà|\bje)\s*({_MONEY_NUMBER})(?![\d.,]|\s*(?:{_UNITS})(?!\w))(?:\s*{_SIGNS})?", re.IGNORECASE
)
_SIZE = re.compile(
    r"\d+(?:[.,]\d+)?\s*(?:cm|mm|in|\"|″)?\s*[x×]\s*\d+(?:[.,]\d+)?"
    r"(?:\s*(?:cm|mm|in|\"|″)?\s*[x×]\s*\d+(?:[.,]\d+)?)?\s*(?:cm|mm|in\b(?! all| total)|inch(?:es)?|\"|″)|"
    r"\b\d{2,3}\s*[x×]\s*\d{2,3}(?:\s*[x×]\s*\d+(?:[.,]\d+)?)?\b(?!\s*(?:ml|l|g|kg)\b)|"
    r"\b\d+(?:[.,]\d+)?\s*(?:cm|mm|in\b(?! all| total)|inch(?:es)?|″)",
    re.IGNORECASE,
)
_PACKED = (
    r"(?:packs?|pks?\.?|pkts?\.?|box(?:es)?|sets?|kits?|bags?|packets?|pads?|packung(?:en)?|pckg\.?|pkg\.?|"
    r"beutel|kartons?|schachteln?|ve)"
)
_PACK_OF = tuple(  # how many packs, and what is in one
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"\b(?:(\d{{1,3}})\s*)?{_PACKED} (?:of|mit|à|zu) (\d{{1,5}})(?!\s*(?:ml|l|g|kg)\b)(?:\s*(?:{_PIECES})(?!\w))?",
        rf"\b(?:(\d{{1,3}})\s*)?{_PACKED} (\d{{1,5}})\s*(?:{_PIECES})(?!\w)",
        rf"(?:\b(\d{{1,3}})\s*[x×]?\s+)?\b(\d{{1,4}})(?:er(?:[ -]?{_PACKED})?(?![\w-])|-{_PACKED}(?![\w-])|\s?pks?\b)",
        r"(?:\b(\d{1,3})\s*[x×]\s*)?\b(\d{1,3})(?:[ -]?teilig\w*|\s?-?tlg\.?|-piece)(?: set\b)?",
        r"\bpk\.? (\b)(\d{1,4})(?![\d.,]|\s*(?:ml|l|g|kg)\b)",
        r"\b(?:(\d{1,3})\s*)?ve(?::| à)? (\d{1,4})(?![\d.,]|\s*(?:ml|l|g|kg)\b)",  # German for one sales unit
    )
)
_PACKS_OF_AMOUNTS = re.compile(  # "2 packs of 6 x 20 ml", "2er-Pack 2x750 ml"
    rf"\b(?:(\d{{1,3}})\s*[x×]?\s*)?{_PACKED} (?:of|mit|à|zu) (\d{{1,3}})\s*[x×]\s*({_NUMBER}\s*(?:{_UNITS}))(?!\w)",
    re.IGNORECASE,
)
# What is sold in a set of so many bottles, unless the amount says how much an empty thing holds.
_HOLDS = re.compile(
    r"cup|beaker|becher|jar|bottle|flasche|glas|gläs|tub\b|tubs\b|dose|pot\b|pots\b|schale|eimer|bucket|syringe|spritze|pipet",
    re.IGNORECASE,
)
MOST_BOTTLES_IN_A_SET = 24  # own choice: more of one size are empty cups rather than paint
_NUMBER_WORDS = {
    "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "ten": 10, "twelve": 12,
    "zwei": 2, "drei": 3, "vier": 4, "fünf": 5, "sechs": 6, "zehn": 10, "zwölf": 12,
}  # fmt: skip
_IN_WORDS: tuple[
    tuple[re.Pattern[str], str], ...
] = (  # amounts that are written out, and the same in figures
    (
        re.compile(
            r"\b(?:an? |eine?n? )?(?:half(?: an?)?|halbe[rsnm]?) (lit(?:er|re)s?|pints?|gallons?|kilos?|pounds?)\b",
            re.IGNORECASE,
        ),
        r"1/2 \1",
    ),
    (re.compile(r"\btwin[ -]pack\b|\bdoppelpack(?:ung)?\b", re.IGNORECASE), "pack of 2"),
    (re.compile(r"\b(?:(?:1|an?|ein) )?(?:dozen|dutzend)\b", re.IGNORECASE), "pack of 12"),
    *(
        (re.compile(rf"\b({_PACKED} (?:of|mit|à|zu)) {word}\b", re.IGNORECASE), rf"\g<1> {number}")
        for word, number in _NUMBER_WORDS.items()
    ),
)
_TIMES_AMOUNT = re.compile(rf"\b(\d{{1,3}})\s*[x×*]\s*({_NUMBER}\s*(?:{_UNITS}))(?!\w)", re.IGNORECASE)
_AMOUNT = re.compile(rf"(?<![\w.,])({_NUMBER}\s*(?:{_UNITS}))(?!\w)", re.IGNORECASE)
_AMOUNT_OF_EACH = re.compile(
    rf"(?:(?:\bje|\bà|@)\s*)?(?<![\w.,])({_NUMBER}\s*(?:{_UNITS}))(?!\w)(?:\s*(?:on )?{_EACH})?",
    re.IGNORECASE,
)
_COUNTED = re.compile(rf"(?<![\w.,])(\d{{1,5}})\s*(?:{_PIECES})(?!\w)", re.IGNORECASE)
_PACKS = (
    re.compile(r"(?<![\w.,])[x×]\s*(\d{1,3})(?![\w.,]*\d)\b", re.IGNORECASE),
    re.compile(r"(?<![\w.,])(\d{1,3})\s*[x×](?!\w)", re.IGNORECASE),
    re.compile(r"\b(?:qty|quantity|anzahl|menge):?\s*(\d{1,3})\b", re.IGNORECASE),
    re.compile(
        r"(?<![\w.,])(\d{1,3})\s*(?:bottles?|tubs?|jars?|tubes?|cans?|pots?|packs?|boxes|flaschen?|dosen?|tuben?|gläser)\b"
        r"(?: of\b| à\b)?",
        re.IGNORECASE,
    ),
)
_LONE_PRICE = re.compile(
    rf"(?<![\w.,/])(\d{{1,5}}[.,]\d{{2}})(?![\w.,/])(?:\s*({_EACH})|\s*({_IN_ALL}))?", re.IGNORECASE
)
_LONE_COUNT = re.compile(r"(?:^(\d{1,2})(?=\s+[^\W\d])|(?<=\s)(\d{1,2})$)")
_BARE_OUNCES = re.compile(r"(?<!fl)(?<!fl\.)(?<!fl )(?<!fl\. )\boz\b|(?<!fluid )\bounces?\b", re.IGNORECASE)
_SIZE_STANDS_HERE = "\x00"
_BULLET = re.compile(r"^\s*(?:[-*•–·]|\d{1,2}[.)](?=\s))\s*")
_PART_LEFT = re.compile(
    r"(?<!\w)(?:(?:half|part|nearly|almost)[ -](?:a |full |empty |used )?(?:bottle|tub|jar|tube|can|pot)s?(?: of)?|"
    r"half[ -](?:full|empty)|halbe? (?:flasche|dose|tube|glas)|halb ?(?:voll|leer)|angebrochen\w*|opened)(?!\w)",
    re.IGNORECASE,
)
_IN_BRACKETS = re.compile(r"\([^()]*(?:%|\boff\b|\bstatt\b|\brabatt\b)[^()]*\)|\(\s*\)", re.IGNORECASE)
_LOOSE_END = re.compile(r"^[\s,;:|@=/\-–]+|[\s,;:|@=/\-–]+$|\s+(?:at|for|je|à|zu|für)\s*$", re.IGNORECASE)


@dataclass(slots=True)
class _Rest:
    """What is still unread of a line; each sign that is taken leaves a gap, so that no two run together."""

    text: str
    doubts: list[Doubt] = field(default_factory=list)

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        found = pattern.search(self.text)
        if found:
            self.text = f"{self.text[: found.start()]}  {self.text[found.end() :]}"
        return found


def read_lines(text: str) -> Iterator[WrittenLine]:
    """Every line of a text that is not blank, as it is understood."""
    for line in text.splitlines():
        if line.strip():
            yield read_line(line)


def read_line(text: str) -> WrittenLine:
    """One line. What cannot be found is left blank and named among its doubts."""
    found = _SIGN_OF_FIGURE.search(text[:LONGEST_LINE])
    return replace(_read_line(text), sign=(found[1] or found[2]).upper() if found else "")


def _read_line(text: str) -> WrittenLine:
    written = " ".join(text.replace("\t", "  ").split())[:LONGEST_LINE]
    rest = _Rest(f" {_BULLET.sub('', text[:LONGEST_LINE]).replace(';', '  ').replace(chr(9), '  ').strip()} ")
    if _EXTRA.match(rest.text):
        is_carriage, price = bool(_CARRIAGE.match(rest.text)), _last_number(rest.text)
        return WrittenLine(written, rest.text.strip(), price=price, is_extra=True, is_carriage=is_carriage)
    if rest.take(_PART_LEFT):
        rest.doubts.append(Doubt.PART_LEFT)
    for pattern, figures in _IN_WORDS:
        rest.text = pattern.sub(figures, rest.text)
    several = rest.take(_PACKS_OF_AMOUNTS)
    # Before prices, because "pack à 5" is none.
    pack = None if several else next(filter(None, map(rest.take, _PACK_OF)), None)
    total = rest.take(_TOTAL_SIGN)
    many_for = rest.take(_SO_MANY_FOR)
    each = rest.take(_UNSIGNED_EACH) if not total and not many_for else None
    price, price_is, packs = _signed_price(rest)
    amount, said_packs = _amount_and_packs(rest, pack)
    if several:
        rest.doubts.append(Doubt.PACKS)
        amount, said_packs = several[3], int(several[1] or 1) * int(several[2])
    packs = said_packs or packs
    if many_for:
        packs, price, price_is = int(many_for[1]), many_for[2] or many_for[3], PriceIs.TOTAL
    if each and not price:
        price, price_is = each[1], PriceIs.EACH
    if total:
        price, price_is = total[1], PriceIs.TOTAL
    if not price:
        price, price_is = _lone_price(rest)
    bare = 0 if packs else _lone_count(rest)
    if bare and not price:  # "500 ml 7": a price rather than a count, and asked about
        price, bare = str(bare), 0
        rest.doubts.append(Doubt.BARE_NUMBER)
    return _judged(rest, written, amount, packs or bare or 1, price, price_is)


def take_amount(text: str) -> tuple[str, str]:
    """A text without the first amount in it, and that amount as it is written; nothing where there is none."""
    rest = _Rest(text)
    found = rest.take(_AMOUNT_OF_EACH)
    return rest.text, found[1] if found else ""


def _signed_price(rest: _Rest) -> tuple[str, PriceIs | None, int]:
    """The price with a currency, what it is for, and the packs when a second price says how many."""
    found = rest.take(_SIGNED)
    if not found:
        return "", None, 0
    price = found[2] or found[3]
    other = rest.take(_SIGNED)
    if other:
        packs, left_over = divmod(_as_hundredths(other[2] or other[3]), _as_hundredths(price) or 1)
        if packs > 1 and not left_over:  # one of them and all of them
            return price, PriceIs.EACH, packs
        rest.doubts.append(Doubt.TWO_PRICES)
    if found[1] or found[4]:
        return price, PriceIs.EACH, 0
    return price, PriceIs.TOTAL if found[5] else None, 0


def _as_hundredths(price: str) -> int:
    whole, _mark, part = price.rstrip(".,").replace(",", ".").rpartition(".")
    return int(f"{whole.replace('.', '') or 0}{part:0<2.2}") if whole else int(part) * 100


def _amount_and_packs(rest: _Rest, pack: re.Match[str] | None) -> tuple[str, int]:
    """The amount in one pack as it is written, and how many packs; 0 where nothing says so."""
    size = _SIZE.search(rest.text)  # a canvas's size belongs to its name
    if size:
        rest.text = f"{rest.text[: size.start()]}{_SIZE_STANDS_HERE}{rest.text[size.end() :]}"
    if pack and (bottles := _bottles(rest, pack)):
        amount, packs = bottles
    elif pack:
        amount, packs = f"{pack[2]} {EACH_SIGN}", int(pack[1] or 0)
    elif times := rest.take(_TIMES_AMOUNT):
        rest.doubts.append(Doubt.PACKS)
        amount, packs = times[2], int(times[1])
    else:
        found = rest.take(_AMOUNT)
        amount, packs = (found[1] if found else ""), 0
    packs = packs or _packs(rest)
    if pieces := rest.take(_COUNTED):
        amount, packs = (amount, packs or int(pieces[1])) if amount else (f"{pieces[1]} {EACH_SIGN}", packs)
    amount = amount or (ONE_PIECE if size or packs else "")
    if amount and _BARE_OUNCES.search(amount):
        rest.doubts.append(Doubt.OUNCES)
    rest.text = rest.text.replace(_SIZE_STANDS_HERE, size[0].strip() if size else "")
    return amount, packs


def _bottles(rest: _Rest, pack: re.Match[str]) -> tuple[str, int] | None:
    """What one bottle of a set holds, and how many there are; nothing where the set is not one of bottles."""
    in_one = int(pack[2])
    if in_one > MOST_BOTTLES_IN_A_SET or _HOLDS.search(rest.text):
        return None
    times = rest.take(_TIMES_AMOUNT)
    found = None if times else rest.take(_AMOUNT_OF_EACH)
    if times is None and found is None:
        return None
    rest.doubts.append(Doubt.PACKS)
    if times:
        return times[2], int(times[1]) * int(pack[1] or 1)
    return found[1] if found else "", in_one * int(pack[1] or 1)


def _packs(rest: _Rest) -> int:
    for pattern in _PACKS:
        if found := rest.take(pattern):
            return int(found[1])
    return 0


def _lone_price(rest: _Rest) -> tuple[str, PriceIs | None]:
    """The last number with two decimals that nothing else has taken."""
    found = list(_LONE_PRICE.finditer(rest.text))
    if not found:
        return "", None
    if len(found) > 1:
        rest.doubts.append(Doubt.TWO_PRICES)
    last = found[-1]
    rest.text = f"{rest.text[: last.start()]}  {rest.text[last.end() :]}"
    return last[1], PriceIs.EACH if last[2] else PriceIs.TOTAL if last[3] else None


def _lone_count(rest: _Rest) -> int:
    rest.text = rest.text.strip()
    found = rest.take(_LONE_COUNT)
    return int(found[1] or found[2]) if found else 0


def _last_number(text: str) -> str:
    """The number with a currency, else the last one."""
    if signed := _SIGNED.search(text):
        return signed[2] or signed[3]
    numbers = re.findall(_MONEY_NUMBER, text)
    return numbers[-1].rstrip(".,") if numbers else ""


def _judged(
    rest: _Rest, written: str, amount: str, packs: int, price: str, price_is: PriceIs | None
) -> WrittenLine:
    name = _IN_BRACKETS.sub(" ", rest.text)
    while _LOOSE_END.search(name):
        name = _LOOSE_END.sub("", name)
    name = " ".join(name.split()).replace(" ,", ",").removeprefix("of ")
    doubts = list(rest.doubts)
    missing = ((name, Doubt.NO_NAME), (amount, Doubt.NO_AMOUNT), (price, Doubt.NO_PRICE))
    doubts += [doubt for said, doubt in missing if not said]
    if price and packs > 1 and price_is is None:
        doubts.append(Doubt.EACH_OR_TOTAL)
    if packs == 1:
        price_is = PriceIs.TOTAL
    packs = max(1, min(packs, MOST_PACKS_WRITTEN))
    return WrittenLine(written, name, amount, packs, price.rstrip(".,"), price_is, False, tuple(doubts))
