"""Series that several tests look at: invented ones, and one open series of real demand."""

from inventory.reordering.calculations.demand import Series

A = Series.of([0, 0, 3, 0, 0, 0, 5, 0, 2, 0, 0, 4, 0, 0, 0, 0, 1, 0, 6, 0])
B = Series.of([2, 0, 0, 1, 0, 4, 0, 0, 0, 3])
DYING = Series.of([4, 0, 4, 0, 4, 0, 0, 0, 0, 0, 0, 0])
# Monthly prescriptions of immune sera in Australia, July 1991 to June 2008, as sktime gives them (load_PBS_dataset).
SERA_BY_MONTH = """
    1 1 1 0 0 1 3 1 1 1 1 1 2 1 1 0 0 2 0 0 1 2 0 1 0 0 1 1 1 1 0 0 2 1 0 0 0 1 0 3 3 2 4 1 1 3 3 1 0 4
    1 3 0 1 2 5 14 2 0 0 3 6 2 2 2 5 1 6 3 3 2 0 1 1 0 0 0 1 4 12 4 0 7 0 2 1 4 1 3 1 0 6 9 3 1 3 1 7 1
    3 3 3 5 6 10 5 1 3 1 1 1 2 1 3 7 11 10 5 5 2 2 1 0 3 6 5 8 9 1 1 0 0 0 1 2 2 0 0 0 0 1 0 0 0 2 1 1 0
    1 0 0 0 0 0 0 0 0 0 0 0 0 0 1 0 1 3 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0
    0 0 0 0 0 0
"""
SERA = Series.of(map(int, SERA_BY_MONTH.split()))
