"""Linear programmes in which some columns are whole numbers, solved by HiGHS.

HiGHS works in floating point: whoever asks holds what it finds against exact figures.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import isfinite

# One thread and one seed give the same answer every time.
OPTIONS: tuple[tuple[str, bool | int | float], ...] = (
    ("output_flag", False),
    ("threads", 1),
    ("random_seed", 1),
    ("mip_feasibility_tolerance", 1e-9),
    ("primal_feasibility_tolerance", 1e-9),
    ("dual_feasibility_tolerance", 1e-9),
)
Row = tuple[dict[int, float], float, float]  # factors by column, least, most


@dataclass(frozen=True, slots=True)
class Programme:
    """Minimise cost·x with lower ≤ x ≤ upper, each row of factors between its least and its most.

    Columns of `whole` take whole numbers only.
    """

    cost: Sequence[float]
    lower: Sequence[float]
    upper: Sequence[float]
    whole: Sequence[bool]
    rows: Sequence[Row]


@dataclass(frozen=True, slots=True)
class Solution:
    """The best columns found, none when there was not even one answer; and a cost that no answer can be below."""

    columns: Sequence[float]
    bound: float

    @property
    def has_bound(self) -> bool:
        return isfinite(self.bound)


def solve(programme: Programme, *, seconds: float, gap: float = 0.0, gap_in_cost: float = 0.0) -> Solution:
    """The best answer to a programme; after so many seconds, or within a gap (a share, or a cost), a good one."""
    import highspy  # a large library, which few pages need

    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = len(programme.cost), len(programme.rows)
    program.col_cost_, program.col_lower_, program.col_upper_ = (
        list(programme.cost),
        list(programme.lower),
        list(programme.upper),
    )
    kinds = {True: highspy.HighsVarType.kInteger, False: highspy.HighsVarType.kContinuous}
    program.integrality_ = [kinds[is_whole] for is_whole in programme.whole]
    program.row_lower_ = [least for _row, least, _most in programme.rows]
    program.row_upper_ = [most for _row, _least, most in programme.rows]
    rows = [row for row, _least, _most in programme.rows]
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = list(accumulate((len(row) for row in rows), initial=0))
    program.a_matrix_.index_ = [column for row in rows for column in row]
    program.a_matrix_.value_ = [value for row in rows for value in row.values()]
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    limits = (("time_limit", seconds), ("mip_rel_gap", gap), ("mip_abs_gap", gap_in_cost))
    for option, value in (*OPTIONS, *limits):
        solver.setOptionValue(option, value)
    solver.passModel(program)
    solver.run()
    is_answered = solver.getSolution().value_valid
    return Solution(
        list(solver.getSolution().col_value) if is_answered else [], solver.getInfo().mip_dual_bound
    )
