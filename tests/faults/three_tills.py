"""One piece sold at one moment in three ways, through a real web server: its page, the quick sale, a program."""

import json
import threading
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from urllib.parse import urlencode

from costing.markets.models import MarketDay
from tests.costing.markets.stories import make_market
from tests.costing.stories import make_channel
from tests.days import TODAY
from tests.faults import jobs, page_jobs
from tests.faults.double_clicks import POSTED, warm_up
from tests.faults.jobs import Meet, Say, Scene, Tally
from tests.faults.page_jobs import Door
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import Answer, ask, web_server

JSON = {"Content-Type": "application/json"}
FORM = {"Content-Type": "application/x-www-form-urlencoded"}
REFUSED = (HTTPStatus.CONFLICT, HTTPStatus.UNPROCESSABLE_ENTITY)


def open_a_stall(*, scene: Scene, say: Say, meet: Meet) -> tuple[int, int]:
    """A market day of today and the channel of its cash: their numbers."""
    market: MarketDay = make_market(on=TODAY)
    return market.pk, make_channel("Stall, cash").pk


def three_tills(database: RealDatabase, *, pieces: int) -> Tally:
    """Each piece is sold once. The other two are told, by name, that it is gone, and nothing of theirs is written."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    for_sale: list[int] = database.do(jobs.make_pieces, scene=scene, count=pieces)
    market, channel = database.do(open_a_stall, scene=scene)
    door: Door = database.do(page_jobs.open_the_door, scene=scene)
    ready = threading.Barrier(3)
    with web_server(database, threads=8) as (_server, port), ThreadPoolExecutor(3) as pool:
        warm_up(port)

        def by_page(piece: int) -> Answer:
            typed = {"channel": channel, "price": "30.00", "on": str(TODAY), "key": f"{piece:032x}"}
            return ask(port, f"/pieces/{piece}/sell/", urlencode(typed), {**door.browser, **FORM})

        def at_the_stall(piece: int) -> Answer:
            said = {"lines": [{"piece": piece, "price": "30.00"}], "paid_by": "cash"}
            headers = {**door.browser, **JSON, "Idempotency-Key": f"stall-{piece}"}
            return ask(port, f"/api/market-days/{market}/sales/", json.dumps(said), headers)

        def by_program(piece: int) -> Answer:
            said = {"piece": piece, "price": "30.00", "channel": channel, "on": str(TODAY)}
            headers = {**door.program, **JSON, "Idempotency-Key": f"program-{piece}"}
            return ask(port, "/api/sales/", json.dumps(said), headers)

        def run(till: Callable[[int], Answer]) -> list[tuple[float, Answer]]:
            answers = []
            for piece in for_sale:
                ready.wait()
                started = time.monotonic()
                answer = till(piece)
                answers.append((time.monotonic() - started, answer))
            return answers

        told = [list(each) for each in zip(*pool.map(run, (by_page, at_the_stall, by_program)), strict=True)]
    for piece, answers in zip(for_sale, told, strict=True):
        statuses = Counter(answer.status in POSTED for _wait, answer in answers)
        assert statuses == {True: 1, False: 2}, [(answer.status, answer.text[:300]) for _, answer in answers]
        refused = [answer for _wait, answer in answers if answer.status not in POSTED]
        assert all(answer.status in REFUSED and "Low water" in answer.text for answer in refused), piece
    books = database.do(jobs.look_through)
    assert (books["kinds"]["sale"], books["sold"], books["sales"]) == (pieces, pieces, pieces)
    worst = max(wait for answers in told for wait, _answer in answers)
    return Tally(posted=pieces, refused=2 * pieces, worst_wait=worst)
