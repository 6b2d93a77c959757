"""The machine of PostgreSQL is gone, and its standby takes over: nothing acknowledged is lost, nothing is restarted."""

import json
import random
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from multiprocessing.connection import wait

from tests.days import TODAY
from tests.faults import jobs, page_jobs
from tests.faults.crashes import Diary
from tests.faults.page_jobs import Door
from tests.faults.private_cluster import PATIENCE, Pair
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import Answer, ask, web_server

Send = Callable[[str], Answer]


@dataclass
class TakeOvers:
    """What a run of take-overs came to; `answered_again` by the same web server without a restart."""

    take_overs: int = 0
    acknowledged: int = 0
    lost: int = 0
    answered_again: int = 0
    worst_seconds_from_promotion_to_answer: float = 0.0


def standby_takes_over(
    pair: Pair, database: RealDatabase, *, rounds: int, writers: int, seed: int
) -> TakeOvers:
    """Kill the primary under its writers, promote the standby, look its books through, make a new standby; again.

    The primary is stopped at once or killed with `kill -9`, in turn. A web server runs through all of it.
    """
    chance, found = random.Random(seed), TakeOvers()
    diary = Diary.begin(database, writers)
    door: Door = database.do(page_jobs.open_the_door, scene=diary.scene)
    loss = {
        "lot": diary.scene.lots[-1],
        "quantity": "0.001 mL",
        "reason": diary.scene.reason,
        "on": str(TODAY),
    }
    with tempfile.TemporaryFile() as log:
        with web_server(database, log=log.fileno()) as (_server, port):

            def send(key: str) -> Answer:
                headers = {**door.program, "Idempotency-Key": key, "Content-Type": "application/json"}
                return ask(port, "/api/write-offs/", json.dumps(loss), headers)

            for turn in range(rounds):
                _one_round(pair, database, diary, send, turn, chance, found)
        log.seek(0)
        assert b"Traceback" not in log.read()
    return found


def _one_round(
    pair: Pair,
    database: RealDatabase,
    diary: Diary,
    send: Send,
    turn: int,
    chance: random.Random,
    found: TakeOvers,
) -> None:
    _send(send, f"before-{turn}", HTTPStatus.CREATED)
    at_work = diary.set_to_work(database)
    wait([worker.pipe for worker in at_work], timeout=PATIENCE)
    time.sleep(chance.uniform(0.1, 0.6))
    pair.primary.stop("immediate") if turn % 2 else pair.primary.kill()
    _send(send, f"after-{turn}", HTTPStatus.SERVICE_UNAVAILABLE)
    pair.take_over()
    promoted = time.monotonic()
    _send(send, f"after-{turn}", HTTPStatus.CREATED)
    waited = time.monotonic() - promoted
    _send(send, f"before-{turn}", HTTPStatus.OK)  # it is still known
    for number, worker in enumerate(at_work):
        worker.answer()
        diary.note(number, worker.said)
    found.take_overs += 1
    found.answered_again += 1
    found.worst_seconds_from_promotion_to_answer = max(found.worst_seconds_from_promotion_to_answer, waited)
    _compare(database, diary, turn, found)
    pair.keep_together()


def _send(send: Send, key: str, expected: HTTPStatus) -> None:
    answer = send(key)
    assert answer.status == expected, (key, answer)


def _compare(database: RealDatabase, diary: Diary, turn: int, found: TakeOvers) -> None:
    """Hold the new primary's books against what the writers and the program were told."""
    books = database.do(jobs.look_through)
    kept = books["keys"]
    sent = {f"{when}-{number}" for when in ("before", "after") for number in range(turn + 1)}
    lost = [key for key, number in diary.postings.items() if kept.get(key) != number]
    lost += sorted(sent - kept.keys())
    unheard = kept.keys() - diary.postings.keys() - sent
    found.acknowledged, found.lost = len(diary.postings) + len(sent), found.lost + len(lost)
    assert lost == []
    assert len(unheard) <= len(diary.turns)
    sessions = len(kept) - len(sent)
    assert books["left"][diary.scene.paint] == jobs.PLENTY - sessions * jobs.PAINT_A_SESSION - len(sent)
