"""What she writes on jars and surfaces: the number of a row in the ledger, with a letter before it."""


def lot_label(number: int) -> str:
    """On the jar."""
    return f"L{number:04d}"


def pour_label(number: int) -> str:
    """On the back of the surface."""
    return f"P{number:04d}"
