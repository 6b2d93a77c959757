"""The same form, or the same request of a program, sent many times at one moment through a real web server."""

import json
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from itertools import count
from urllib.parse import urlencode

from tests.days import TODAY
from tests.faults import jobs, page_jobs
from tests.faults.jobs import Scene, Tally
from tests.faults.page_jobs import Door
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import Answer, ask, web_server

Send = Callable[[str, int], Answer]
POSTED = (HTTPStatus.OK, HTTPStatus.CREATED, HTTPStatus.FOUND)


def double_clicks(database: RealDatabase, *, keys: int, racers: int) -> Tally:
    """Every racer sends every key at the same moment, half of them forms and half a program's requests.

    Each key is posted once, and everybody is told that it is. Sent again with another amount, it is refused with 422.
    A program that asks too often is told to wait, and does.
    """
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    door: Door = database.do(page_jobs.open_the_door, scene=scene)
    with web_server(database, threads=8) as (_server, port):
        return clicked(database, scene, door, ports=[port], keys=keys, racers=racers)


def clicked(
    database: RealDatabase, scene: Scene, door: Door, *, ports: Sequence[int], keys: int, racers: int
) -> Tally:
    """Race on the servers at these ports, every sending to the next of them, and look the books through."""
    names, turns = [f"{number:032x}" for number in range(keys)], count()
    for port in ports:
        warm_up(port)

    def send(key: str, amount: int) -> Answer:
        port = ports[next(turns) % len(ports)]
        return _write_off(port, scene, door, key, amount, api=int(key, 16) % 2 == 0)

    tally = _race(send, names, racers)
    changed = [send(key, 8) for key in names]
    assert [answer.status for answer in changed] == [HTTPStatus.UNPROCESSABLE_ENTITY] * keys
    assert all("already sent with other contents" in answer.text for answer in changed)
    assert (tally.errors, tally.posted) == ([], keys * racers)
    books = database.do(jobs.look_through)
    assert set(books["keys"]) == set(names)
    assert books["kinds"]["write_off"] == keys
    assert books["left"][scene.paint] == jobs.PLENTY - 7 * keys
    return Tally(posted=keys, refused=keys, worst_wait=tally.worst_wait)


def warm_up(port: int) -> None:
    """Have every worker load the service first: what is timed is the race."""
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _turn: ask(port, "/login/"), range(16)))


def _race(send: Send, names: Sequence[str], racers: int) -> Tally:
    """Have each key sent by all racers at once."""
    ready = threading.Barrier(racers)

    def run(_racer: int) -> Tally:
        tally = Tally()
        for key in names:
            ready.wait()
            started = time.monotonic()
            answer = send(key, 7)
            tally.worst_wait = max(tally.worst_wait, time.monotonic() - started)
            tally.posted += answer.status in POSTED
            tally.errors += [] if answer.status in POSTED else [f"{answer.status}: {answer.text[:300]}"]
        return tally

    with ThreadPoolExecutor(racers) as pool:
        return Tally.together(list(pool.map(run, range(racers))))


def _write_off(port: int, scene: Scene, door: Door, key: str, amount: int, *, api: bool) -> Answer:
    """Write a little paint off, as a program or by the page's form."""
    said = {"quantity": f"0.00{amount} mL", "reason": scene.reason, "on": str(TODAY)}
    if api:
        path, body = "/api/write-offs/", json.dumps({**said, "lot": scene.lots[-1]})
        headers = {**door.program, "Idempotency-Key": key, "Content-Type": "application/json"}
    else:
        path, body = f"/lots/{scene.lots[-1]}/write-off/", urlencode({**said, "key": key, "note": ""})
        headers = {**door.browser, "Content-Type": "application/x-www-form-urlencoded"}
    while (answer := ask(port, path, body, headers)).status == HTTPStatus.TOO_MANY_REQUESTS:
        time.sleep(1)
    return answer
