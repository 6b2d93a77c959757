"""Text in a cell of a spreadsheet that can never run as a formula, and the same text read back."""

import unicodedata

# A spreadsheet may take a cell that begins with one of these, plain or full-width, for a formula.
FORMULA_SIGNS = tuple("=+-@＝＋－＠\t\r\n")
# Nothing is seen of these, and some programs leave them out before they read what follows (Unicode Standard Annex 44:
# control, format and separator characters, combining marks; and letters that are drawn as nothing).
UNSEEN = ("Cc", "Cf", "Zl", "Zp", "Zs", "Mn", "Me")
BLANK_LETTERS = "\u115f\u1160\u2800\u3164\uffa0"


def safe_text(text: str) -> str:
    """Text as a spreadsheet may read it: behind an apostrophe where it would begin like a formula."""
    text = text.replace("\0", "")
    return f"'{text}" if looks_like_formula(text) else text


def without_apostrophe(text: str) -> str:
    """The text that was made safe, as it was."""
    return text[1:] if text.startswith("'") and looks_like_formula(text[1:]) else text


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet may take it for a formula."""
    for sign in text:
        if sign in FORMULA_SIGNS:
            return True
        if unicodedata.category(sign) not in UNSEEN and sign not in BLANK_LETTERS:
            return False
    return False
