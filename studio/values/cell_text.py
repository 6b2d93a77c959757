"""Text in a cell of a spreadsheet that can never run as a formula, and the same text read back."""

# A spreadsheet may take a cell that begins with one of these, plain or full-width, for a formula.
FORMULA_SIGNS = tuple("=+-@＝＋－＠\t\r\n")
SPACES = " \u00a0"


def safe_text(text: str) -> str:
    """Text as a spreadsheet may read it: behind an apostrophe where it would begin like a formula."""
    text = text.replace("\0", "")
    return f"'{text}" if looks_like_formula(text) else text


def without_apostrophe(text: str) -> str:
    """The text that was made safe, as it was."""
    return text[1:] if text.startswith("'") and looks_like_formula(text[1:]) else text


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet may take it for a formula."""
    return text.lstrip(SPACES).startswith(FORMULA_SIGNS)
