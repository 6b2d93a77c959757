"""What tables call the states of a piece."""

from collections.abc import Sequence

from costing.pieces.calculations import State
from studio.imports.cells import YES, folded

# What a table may say besides the words that the pages show; a heading "sold?" has a yes or a no below it.
_STATUS_WORDS = {
    "zu verkaufen": State.FOR_SALE,
    "zum verkauf": State.FOR_SALE,
    "fertig": State.FINISHED,
    "trocken": State.DRY,
    "nass": State.WET,
    "verkauft": State.SOLD,
    **dict.fromkeys(YES, State.SOLD),
}


def status_words(states: Sequence[State]) -> dict[str, State]:
    """What a table may call each of these states."""
    shown = {folded(state.words): state for state in states}
    codes = {state.value.replace("_", " "): state for state in states}
    return shown | codes | {word: state for word, state in _STATUS_WORDS.items() if state in states}
