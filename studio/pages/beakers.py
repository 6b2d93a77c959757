"""How much is left, as a drawing with its words: in a beaker, in a tub or as a stack.

Long lists have hundreds of them, so they are written here and not in templates.
"""

from functools import lru_cache
from html import escape

from django.template.loader import render_to_string
from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe

from studio.translation import _
from studio.values.allocation import divide_half_up

HEIGHT = 44  # of what is drawn, from empty to full
_TUB = (
    '<path class="beaker-glass" d="M3 8H41M5 8 8 47A5 5 0 0 0 13 52H31A5 5 0 0 0 36 47L39 8M5 3H39V8H5Z" />'
)
_GLASS = (
    '<path class="beaker-tick" d="M31 19H36M31 30H36M31 41H36" />'
    '<path class="beaker-glass" d="M4 4H37M8 4V46A6 6 0 0 0 14 52H30A6 6 0 0 0 36 46V9L40 4H37" />'
)
_BOARDS = (
    (1, "M8 45H40V51H8Z"),
    (21, "M8 36H40V42H8Z"),
    (41, "M8 27H40V33H8Z"),
    (61, "M8 18H40V24H8Z"),
    (81, "M8 9H40V15H8Z"),
)
_STACKS = [  # by how many of its five boards lie there; the others are outlines
    "".join(
        f'<path class="stack-board{"" if place < there else " is-gone"}" d="{board}" />'
        for place, (_least, board) in enumerate(_BOARDS)
    )
    for there in range(len(_BOARDS) + 1)
]


def beaker(
    percent: int,
    label: str,
    *,
    vessel: str = "",
    colour: str = "",
    low: bool = False,
    mark: int = 0,
    size: str = "",
    note: str = "",
) -> SafeString:
    """A level, 0–100, drawn with the words beside it; a low one carries a word, and is hatched without a colour.

    `vessel` is "tub" (what is weighed) or "stack" (what is counted), else a beaker; `mark`, 0–100, is where the reorder
    level stands; `size` is "small" or "large".
    """
    if vessel == "stack":
        drawing = _STACKS[sum(percent >= least for least, _board in _BOARDS)]
    else:
        drawing = _contents(percent, vessel, colour, low) + (_TUB if vessel == "tub" else _GLASS)
    badge = _low_badge(_("Low")) if low else ""
    quiet = f'<p class="quiet">{conditional_escape(note)}</p>' if note else ""
    return mark_safe(
        f'<div class="beaker{" is-low" if low else ""}{f" is-{escape(size)}" if size else ""}">'
        f'<svg class="beaker-drawing" viewBox="0 0 44 56" aria-hidden="true">{drawing}{_notch(mark, vessel)}</svg>'
        f'<div class="beaker-words"><p class="beaker-label">{conditional_escape(label)}</p>{badge}{quiet}</div></div>'
    )


@lru_cache(8)
def _low_badge(word: str) -> str:
    return render_to_string("parts/badge.html", {"kind": "low", "word": word})


def _contents(percent: int, vessel: str, colour: str, low: bool) -> str:
    if not percent:
        return ""
    plain = 'fill="url(#mark-low)"' if low else 'class="beaker-liquid"'
    filled = f'fill="{escape(colour)}"' if colour else plain
    return (
        f'<g clip-path="url(#mark-{"tub" if vessel == "tub" else "glass"})">'
        f'<g transform="translate(0 -{_height(percent)})"><g {filled}>'
        '<path d="M2 48.6C11.5 52.2 16 52.8 22 52.8S32.5 52.2 42 48.6V110H2Z" /></g>'
        '<path class="beaker-meniscus" d="M2 48.6C11.5 52.2 16 52.8 22 52.8S32.5 52.2 42 48.6" /></g></g>'
    )


def _notch(mark: int, vessel: str) -> str:
    """The small arrow at the reorder level."""
    if not mark:
        return ""
    shape = "M0 49 6 52 0 55Z" if vessel == "stack" else "M1 49 7 52 1 55Z"
    return f'<path class="beaker-notch" transform="translate(0 -{_height(mark)})" d="{shape}" />'


def _height(percent: int) -> int:
    return divide_half_up(percent * HEIGHT, 100)
