"""Text as it is compared when somebody looks for it: without case, accents and ligatures."""

import unicodedata

# Letters that have no accent to take off, but are typed without it. The databases use the same table.
LETTERS = {"ø": "o", "ł": "l", "đ": "d", "ħ": "h", "ŧ": "t", "ı": "i"}
PAIRS = {"ß": "ss", "æ": "ae", "œ": "oe"}
FIRST_MARK, LAST_MARK = "\u0300", "\u036f"  # the Unicode block Combining Diacritical Marks
SQLITE_FUNCTION = "STUDIO_FOLD"  # its name in SQL on SQLite; PostgreSQL has functions of its own for it
_TABLE = str.maketrans({**LETTERS, **PAIRS})


def fold(text: str) -> str:
    """“Émeraude Über” and “emeraude uber” are the same text folded (Unicode normalization form KD)."""
    if text.isascii():
        return text.lower()
    bare = "".join(
        letter for letter in unicodedata.normalize("NFKD", text) if not FIRST_MARK <= letter <= LAST_MARK
    )
    return bare.lower().translate(_TABLE)
