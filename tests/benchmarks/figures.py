"""Times measured side by side, and the table that they make."""

import math
import statistics
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

Work = Callable[[], object]


@dataclass(frozen=True)
class Figure:
    """One work on one ledger: medians in seconds, ours and the floor's, measured in turn in one run."""

    work: str
    ours: float
    floor: float
    note: str = ""

    @property
    def ratio(self) -> float:
        return self.ours / self.floor


@dataclass(frozen=True)
class Row:
    """A figure with the ledger it was measured on."""

    database: str
    entries: int
    figure: Figure


def side_by_side(work: str, ours: Work, floor: Work, *, runs: int, note: str = "") -> Figure:
    """Run both in turn, so that whatever else the machine does falls on both, and take the medians."""
    times: tuple[list[float], list[float]] = ([], [])
    for run in range(runs + 1):
        for done, taken in zip((ours, floor), times, strict=True):
            started = time.perf_counter()
            done()
            if run:  # the first run only warms up
                taken.append(time.perf_counter() - started)
    return Figure(work, statistics.median(times[0]), statistics.median(times[1]), note)


def exponent(sizes: Sequence[int], times: Sequence[float]) -> float | None:
    """The power of the ledger's size that a time grows with: the slope of a straight line through the logarithms.

    0 is no growth at all, 1 is growth in proportion. Nothing for a single size.
    """
    if len(set(sizes)) < 2:
        return None
    return statistics.linear_regression(
        [math.log(size) for size in sizes], [math.log(t) for t in times]
    ).slope


def table(rows: Iterable[Row]) -> str:
    """One line for each work on each ledger; the growth of a work, ours and the floor's, stands on its last line."""
    together = list(rows)
    headings = f"{'ours':>14}{'floor':>14}{'ratio':>7}{'growth':>8}{'floor':>7}"
    lines = [f"{'database':<11}{'work':<46}{'entries':>10}{headings}  note"]
    for row in together:
        like = [r for r in together if (r.database, r.figure.work) == (row.database, row.figure.work)]
        times = f"{_milliseconds(row.figure.ours):>14}{_milliseconds(row.figure.floor):>14}{row.figure.ratio:>7.2f}"
        growth = _growth(like) if row is like[-1] else f"{'':>15}"
        work = f"{row.database:<11}{row.figure.work:<46}{row.entries:>10,}"
        lines.append(f"{work}{times}{growth}  {row.figure.note}".rstrip())
    return "\n".join(lines)


def _growth(rows: Sequence[Row]) -> str:
    sizes = [row.entries for row in rows]
    ours, floor = (
        exponent(sizes, times)
        for times in ([row.figure.ours for row in rows], [row.figure.floor for row in rows])
    )
    return f"{'':>15}" if ours is None or floor is None else f"{ours:>8.2f}{floor:>7.2f}"


def _milliseconds(seconds: float) -> str:
    return f"{seconds * 1_000:,.2f} ms"
