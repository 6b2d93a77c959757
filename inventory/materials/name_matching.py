"""Which of the names that a studio has somebody's words mean. No Django."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from studio.translation import _

NAMED = 3  # of the names that fit

_NUMBER = r"\d+(?:[.,]\d+)?"
_UNIT = r"(?:(cm|mm|inch(?:es)?|in)(?![^\W\d_])|[\"″])"
_MEASURES = re.compile(
    rf"({_NUMBER})\s*{_UNIT}?(?:\s*[x×]\s*({_NUMBER})\s*{_UNIT}?)?(?:\s*[x×]\s*({_NUMBER})\s*{_UNIT}?)?",
    re.IGNORECASE,
)
_UNITS = re.compile(r"cm|mm|inches|inch|in|[\"″]")
_ONE_SPELLING = dict.fromkeys(("inches", "inch", '"', "″"), "in")
_SIZE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:cm|mm|in|\"|″)?\s*[x×]\s*(?=\d)", re.IGNORECASE)
_WORD = re.compile(r"\d+(?:[.,]\d+)?(?:x\d+(?:[.,]\d+)?)*|[^\W\d_]+")
_NO_WORDS = {"cm", "mm", "in", "inch", "x", "of", "von", "the"}
_WATER = re.compile(r"(?:(?:tap|plain|clean) )?water|(?:leitungs)?wasser", re.IGNORECASE)


def is_same_name(words: str, name: str) -> bool:
    """Whether two names have just the same words, in any order; 30x30 is 30 × 30 cm, but not 30 × 30 in."""
    (own, own_unit), (other, other_unit) = _compared(words), _compared(name)
    return own == other and (own_unit == other_unit or not own_unit or not other_unit)


def is_plain_water(name: str) -> bool:
    """Whether a name says no more than water."""
    return bool(_WATER.fullmatch(" ".join(name.split())))


def fitting(words: str, names: Mapping[int, str]) -> list[int]:
    """What has all of these words in its name; where one name is just these words, that one alone."""
    wanted = words_of(words)
    if not wanted:
        return []
    read = {pk: words_of(name) for pk, name in names.items()}
    same = [pk for pk, own in read.items() if sorted(own) == sorted(wanted)]
    if len(same) == 1:
        return same
    return [pk for pk, own in read.items() if all(any(_alike(word, each) for each in own) for word in wanted)]


def could_be(words: str, fits: Sequence[int], names: Mapping[int, str]) -> str:
    """Advice to choose among several names that fit."""
    some = "; ".join(names[pk] for pk in fits[:NAMED])
    left_out = len(fits) - NAMED
    if left_out > 0:
        return _("“{words}” could be {names} or {n} more. Choose one.", words=words, names=some, n=left_out)
    return _("“{words}” could be {names}. Choose one.", words=words, names=some)


@lru_cache(maxsize=5_000)  # the names are compared with every stretch of every line
def words_of(text: str) -> tuple[str, ...]:
    """The words of a text as they are compared; a size is one of them, however it is spaced."""
    joined = _SIZE.sub(r"\1x", text.casefold())
    return tuple(word for word in _WORD.findall(joined) if word not in _NO_WORDS)


@lru_cache(maxsize=5_000)
def _compared(name: str) -> tuple[tuple[str, ...], str]:
    """The words of a whole name, sorted, each size as one word without its unit; and that unit."""
    units: list[str] = []

    def as_one_word(found: re.Match[str]) -> str:
        units.extend(_UNITS.findall(found[0].casefold()))
        numbers = [found[group] for group in (1, 3, 5) if found[group]]
        return f" {'x'.join(numbers).replace(',', '.')} " if len(numbers) > 1 or units else found[0]

    words = _MEASURES.sub(as_one_word, name.casefold()).split()
    return tuple(sorted(words)), _ONE_SPELLING.get(units[-1], units[-1]) if units else ""


def _alike(word: str, other: str) -> bool:
    """The same, or one of them the plural of the other: two letters more at most."""
    short, long = sorted((word, other), key=len)
    if short == long:
        return True
    return len(short) > 2 and short.isalpha() and long.startswith(short) and len(long) - len(short) <= 2
