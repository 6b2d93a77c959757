"""Sheets of stickers: how labels lie on a paper, and printing on them at actual size.

Presets are named by measure. They come from memory and from published template tables; makers differ by tenths of a
millimetre, so a grid of one's own can be given.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.errors import InputError
from studio.papers.frame import MM, Box, Paper, Sheet, paper_named
from studio.translation import _

LEAST_SIDE = 15.0  # mm: on less there is no room for a title
A_LITTLE = 0.05  # mm: what rounding a measure leaves over
MOST_COPIES = 50
USUAL_WIDTH, USUAL_HEIGHT = 63.5 * MM, 38.1 * MM  # of a label, which type is made for
MOST_GROWTH = 2.0

DrawLabel = Callable[[Sheet, Box], None]


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """How labels lie on one paper, in millimetres from its top left corner.

    Raises InputError, naming the measure, for a grid that does not fit its paper or whose labels overlap.
    """

    paper: Paper
    across: int
    down: int
    width: float
    height: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    def __post_init__(self) -> None:
        for name, side, pitch, count in (
            ("width", self.width, self.pitch_x, self.across),
            ("height", self.height, self.pitch_y, self.down),
        ):
            if side < LEAST_SIDE:
                raise InputError(_("A label is at least {least} mm wide and high.", least=15), field=name)
            if count > 1 and pitch < side - A_LITTLE:
                raise InputError(_("The labels would overlap: the step is less than their size."), field=name)
        right = self.left + (self.across - 1) * self.pitch_x + self.width
        bottom = self.top + (self.down - 1) * self.pitch_y + self.height
        if min(self.left, self.top) < 0 or right > self.paper.width_mm + A_LITTLE:
            raise InputError(
                _("These labels are wider than the paper. Enter a smaller width, or fewer side by side."),
                field="width",
            )
        if bottom > self.paper.height_mm + A_LITTLE:
            raise InputError(_("These labels are higher than the paper."), field="height")

    @property
    def count(self) -> int:
        return self.across * self.down

    @property
    def words(self) -> str:
        """What it is called: "21 on A4, 63.5 × 38.1 mm"."""
        measures = f"{self.width:.4g} × {self.height:.4g} mm"
        return _("{count} on {paper}, {measures}", count=self.count, paper=self.paper.name, measures=measures)

    def box(self, position: int) -> Box:
        """The label at a position counted from 0, along the rows, in points."""
        row, column = divmod(position, self.across)
        left, top = self.left + column * self.pitch_x, self.top + row * self.pitch_y
        return Box(left * MM, top * MM, (left + self.width) * MM, (top + self.height) * MM)


def _grid(paper: str, count: tuple[int, int], size: tuple[float, float], *rest: float) -> LabelGrid:
    return LabelGrid(paper_named(paper), *count, *size, *rest)


GRIDS = {
    "a4-21": _grid("A4", (3, 7), (63.5, 38.1), 7.21, 15.15, 66.04, 38.1),
    "a4-24": _grid("A4", (3, 8), (63.5, 33.9), 7.2, 12.9, 66.04, 33.9),
    "a4-24-wide": _grid("A4", (3, 8), (70, 37), 0, 0.5, 70, 37),
    "a4-40": _grid("A4", (4, 10), (52.5, 29.7), 0, 0, 52.5, 29.7),
    "a4-65": _grid("A4", (5, 13), (38.1, 21.2), 4.75, 10.7, 40.6, 21.2),
    "letter-30": _grid("US Letter", (3, 10), (66.675, 25.4), 4.7625, 12.7, 69.85, 25.4),
    "letter-10": _grid("US Letter", (2, 5), (101.6, 50.8), 3.969, 12.7, 106.3625, 50.8),
}
USUAL = {"US Letter": "letter-30"}  # the usual grid of a paper; on every other, that of A4


def usual_grid(paper: str) -> str:
    """The name of the grid that is offered first to a studio that prints on this paper."""
    return USUAL.get(paper_named(paper).name, "a4-21")


def growth(label: Box) -> float:
    """How many times as large as usual type may be on a label that is larger in both directions."""
    return min(max(min(label.width / USUAL_WIDTH, label.height / USUAL_HEIGHT), 1.0), MOST_GROWTH)


def draw_labels(
    labels: Sequence[DrawLabel],
    grid: LabelGrid,
    *,
    title: str,
    author: str,
    start: int = 1,
    copies: int = 1,
    has_cut_lines: bool = False,
) -> bytes:
    """Return the labels as a PDF, each so many times; start is the first free label of a part-used sheet, from 1.

    Raises InputError when there is nothing to print, or start or copies are out of range.
    """
    if not labels:
        raise InputError(_("Choose at least one thing to print a label for."), field="labels")
    if not 1 <= start <= grid.count:
        raise InputError(
            _("This sheet has labels 1 to {count}; start at one of those.", count=grid.count), field="start"
        )
    if not 1 <= copies <= MOST_COPIES:
        raise InputError(_("Print each label 1 to {most} times.", most=MOST_COPIES), field="copies")
    sheet = Sheet(grid.paper, title=title, author=author)
    sheet.at_actual_size()
    wanted = [draw for draw in labels for _copy in range(copies)]
    for number, draw in enumerate(wanted, start=start - 1):
        position = number % grid.count
        if position == 0 and number > 0:
            sheet.turn_page()
        box = grid.box(position)
        if has_cut_lines:
            sheet.box(box)
        draw(sheet, box)
    return sheet.finish()
