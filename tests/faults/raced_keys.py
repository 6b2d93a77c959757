"""The same idempotency key sent by many programs at one moment: 201 once, 200 for everybody else."""

import json
import threading
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from typing import Any

from tests.days import TODAY
from tests.faults import jobs, page_jobs
from tests.faults.double_clicks import warm_up
from tests.faults.jobs import Meet, Say, Scene, Tally
from tests.faults.page_jobs import Door
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import Answer, ask, web_server
from tests.making import make_supplier


def make_a_supplier(*, scene: Scene, say: Say, meet: Meet) -> int:
    number: int = make_supplier().pk
    return number


def raced_keys(database: RealDatabase, *, keys: int, racers: int) -> Tally:
    """Half of the keys make a posting, half a row that has none. The status is told by whoever held the lock."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    supplier: int = database.do(make_a_supplier, scene=scene)
    door: Door = database.do(page_jobs.open_the_door, scene=scene)
    bodies: dict[str, tuple[str, dict[str, Any]]] = {}
    loss = {"lot": scene.lots[-1], "quantity": "0.007 mL", "reason": scene.reason, "on": str(TODAY)}
    line = {"material": scene.paint, "pack": "500 ml", "packs": 2}
    order = {"supplier": supplier, "ordered_on": str(TODAY), "lines": [line]}
    for number in range(keys):
        bodies[f"raced-{number}"] = ("write-offs", loss) if number % 2 else ("orders", order)
    ready = threading.Barrier(racers)
    with web_server(database, threads=8) as (_server, port):
        warm_up(port)

        def send(key: str) -> Answer:
            path, body = bodies[key]
            headers = {**door.program, "Idempotency-Key": key, "Content-Type": "application/json"}
            while (answer := ask(port, f"/api/{path}/", json.dumps(body), headers)).status == 429:
                time.sleep(1)
            return answer

        with ThreadPoolExecutor(racers) as pool:
            runs = list(pool.map(lambda _racer: _together(send, bodies, ready), range(racers)))
    for key in bodies:
        statuses = Counter(answers[key].status for answers in runs)
        assert statuses == {HTTPStatus.CREATED: 1, HTTPStatus.OK: racers - 1}, (key, statuses)
    return Tally(posted=keys, refused=0)


def _together(send: Callable[[str], Answer], keys: Any, ready: threading.Barrier) -> dict[str, Answer]:
    answers = {}
    for key in keys:
        ready.wait()
        answers[key] = send(key)
    return answers
