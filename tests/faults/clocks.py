"""Clocks that are wrong and days that begin at odd moments: each story asserts that the order of the books stands."""

from tests.faults import clock_jobs, jobs
from tests.faults.clock_jobs import Told
from tests.faults.jobs import Scene
from tests.faults.real_databases import RealDatabase


def wrong_clocks(database: RealDatabase, *, count: int, seed: int) -> Told:
    """Two hours back, a day ahead, 1970: recorded time never falls, and what cannot be true is refused in words."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    told: Told = database.do(clock_jobs.post_by_wrong_clocks, scene=scene, count=count, seed=seed)
    database.do(jobs.look_through)
    return told


def round_the_clock(database: RealDatabase, *, step: int) -> Told:
    """Six zones, the two days on which each changes its clocks: every posting on its own day, days sum to months."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    told: Told = database.do(clock_jobs.post_round_the_clock, scene=scene, step=step)
    assert len(told.posted) == len(clock_jobs.ZONES)
    database.do(jobs.look_through)
    return told
