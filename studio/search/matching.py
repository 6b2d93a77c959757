"""Columns compared without case and accents, alike on SQLite and PostgreSQL."""

import re
from collections.abc import Callable
from typing import Any

from django.db.models import CharField, Q, TextField, Transform

from studio.values.folding import FIRST_MARK, LAST_MARK, LETTERS, PAIRS, SQLITE_FUNCTION, fold
from studio.values.numbers import read_small_whole

_NUMBER = re.compile(r"(?:(?P<word>.*\D)\s*)?(?P<number>\d{1,9})", re.ASCII)


class Folded(Transform):
    """A text as `fold` makes it: name__folded__contains=fold(word)."""

    lookup_name = "folded"
    function = SQLITE_FUNCTION
    output_field = TextField()

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        folded = (
            f"LOWER(REGEXP_REPLACE(NORMALIZE(%(expressions)s, NFKD), '[{FIRST_MARK}-{LAST_MARK}]', '', 'g'))"
        )
        folded = f"TRANSLATE({folded}, '{''.join(LETTERS)}', '{''.join(LETTERS.values())}')"
        for letter, pair in PAIRS.items():
            folded = f"REPLACE({folded}, '{letter}', '{pair}')"
        return self.as_sql(compiler, connection, template=folded, **extra)


CharField.register_lookup(Folded)
TextField.register_lookup(Folded)


def contains(word: str, *columns: str) -> Q:
    """Rows that have a word in one of these columns, whatever its case and accents."""
    fits = Q()
    for column in columns:
        fits |= Q(**{f"{column}__folded__contains": fold(word)})
    return fits


def is_text(column: str, text: str) -> Q:
    """Rows whose column is this text and nothing else, whatever its case and accents."""
    return Q(**{f"{column}__folded": fold(text)})


def numbered(column: str, *words: Any) -> Callable[[str], Q | None]:
    """Reads a number, alone or after one of these words: 12, Order 12, order no. 12. Other texts are None."""

    def read(text: str) -> Q | None:
        match = _NUMBER.fullmatch(text.strip())
        number = read_small_whole(match["number"]) if match else None
        if match is None or number is None:
            return None
        before = fold(match["word"] or "").strip(" #").removesuffix("no.").removesuffix("nr.").strip()
        known = {"", *(fold(str(word)) for word in words)}
        return Q(**{column: number}) if before in known else None

    return read
