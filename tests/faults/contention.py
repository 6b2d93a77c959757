"""Many processes writing to one ledger at once. Each story asserts its outcome and returns its figures."""

from typing import Any

from tests.faults import jobs
from tests.faults.jobs import Scene, Tally
from tests.faults.real_databases import Job, RealDatabase


def many_writers(database: RealDatabase, *, writers: int, requests: int) -> Tally:
    """Sessions and write-offs from the same few lots, so that every writer wants what the others want.

    The first lot runs out on the way, so draws cross into the lot that the write-offs take from too. Not one
    request may fail, and what is left is exactly what was there less what was taken.
    """
    sessions = writers * ((requests + 1) // 2)
    spills = writers * (requests // 2)
    used = sessions * jobs.PAINT_A_SESSION + spills
    lots = [used // 3, used]
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=lots)
    each = [{"scene": scene, "name": f"writer {number}", "count": requests} for number in range(writers)]
    tally = Tally.together(database.together(jobs.log_and_write_off, each))
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (writers * requests, 0)
    books = database.do(jobs.look_through)
    assert books["kinds"] == {"delivery": 1, "session": sessions, "write_off": spills}
    assert books["left"][scene.paint] == sum(lots) - used
    assert books["left"][scene.medium] == jobs.PLENTY - sessions * jobs.MEDIUM_IN_MIX
    assert books["left"][scene.canvas] == jobs.PLENTY - sessions * jobs.POURS_A_SESSION * 1_000
    return tally


def never_oversold(database: RealDatabase, *, takers: int, takes: int, held: int) -> Tally:
    """More is asked for than a lot holds: exactly what it holds is given, and everybody else is refused."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[held])
    tally = _all(database, jobs.take, takers, scene=scene, count=takes)
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (held, takers * takes - held)
    books = database.do(jobs.look_through)
    assert books["kinds"]["write_off"] == held
    assert books["left"][scene.paint] == 0
    return tally


def double_sends(database: RealDatabase, *, keys: int, racers: int) -> Tally:
    """The same request sent many times at one moment posts once, and everybody hears of that one posting."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[1_000_000])
    names = [f"form {number}" for number in range(keys)]
    tallies: list[Tally] = database.together(jobs.send_again, [{"scene": scene, "keys": names}] * racers)
    tally = Tally.together(tallies)
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (keys * racers, keys * racers)  # each refused with other contents
    books = database.do(jobs.look_through)
    assert set(books["keys"]) == set(names)
    assert books["kinds"]["write_off"] == keys
    assert all(racer.answers == books["keys"] for racer in tallies)
    return tally


def raced_reversals(database: RealDatabase, *, postings: int, racers: int = 2) -> Tally:
    """Several people take the same posting back at one moment: it is taken back once."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[1_000_000])
    spilled: list[int] = database.do(jobs.spill_some, scene=scene, count=postings)
    tally = _all(database, jobs.take_back, racers, scene=scene, postings=spilled)
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (postings, postings * (racers - 1))
    books = database.do(jobs.look_through)
    assert books["kinds"]["reversal"] == postings
    assert books["left"][scene.paint] == 1_000_000
    return tally


def raced_sales(database: RealDatabase, *, pieces: int, racers: int = 2) -> Tally:
    """Several people sell the same piece at one moment: it is sold once."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[1_000_000])
    for_sale: list[int] = database.do(jobs.make_pieces, scene=scene, count=pieces)
    tally = _all(database, jobs.sell_each, racers, scene=scene, pieces=for_sale)
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (pieces, pieces * (racers - 1))
    books = database.do(jobs.look_through)
    assert (books["kinds"]["sale"], books["sold"], books["sales"]) == (pieces, pieces, pieces)
    return tally


def _all(database: RealDatabase, job: Job, workers: int, **facts: Any) -> Tally:
    """Have so many workers do the same job together, and add up how it went."""
    return Tally.together(database.together(job, [facts] * workers))
