"""Web workers killed while they answer: what a program was told stands in the books, and retries post nothing twice."""

import http.client
import json
import os
import random
import signal
import threading
import time
from dataclasses import dataclass, field

from tests.days import TODAY
from tests.faults import jobs
from tests.faults.crashes import Losses
from tests.faults.jobs import Scene
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import PATIENCE, web_server, workers_of

ANSWERED = (200, 201)


@dataclass
class Client:
    """A program that writes paint off again and again, and asks again whenever it got no answer."""

    name: str
    port: int
    token: str
    scene: Scene
    answers: dict[str, int] = field(default_factory=dict)
    refusals: list[str] = field(default_factory=list)
    stopped: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        while not self.stopped.is_set() and not self.refusals:
            key = f"{self.name}-{len(self.answers)}"
            try:
                number = self._ask(key)
            except (OSError, http.client.HTTPException):
                time.sleep(0.01)  # nobody answered: the same request again
            else:
                if number:
                    self.answers[key] = number

    def _ask(self, key: str) -> int:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        said = {
            "lot": self.scene.lots[-1],
            "quantity": "0.001 mL",
            "reason": self.scene.reason,
            "on": str(TODAY),
        }
        headers = {
            "Authorization": f"Bearer {self.token}",
            "Idempotency-Key": key,
            "Content-Type": "application/json",
        }
        try:
            connection.request("POST", "/api/write-offs/", json.dumps(said), headers)
            response = connection.getresponse()
            body = response.read()
        finally:
            connection.close()
        if response.status not in ANSWERED:
            self.refusals.append(f"{response.status}: {body[:300]!r}")
            return 0
        number: int = json.loads(body)["posting"]["number"]
        return number


def kill_web_workers(database: RealDatabase, *, kills: int, clients: int, seed: int) -> Losses:
    """`kill -9` one web worker after the other while programs post through them."""
    chance = random.Random(seed)
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    tokens: list[str] = database.do(jobs.let_programs_in, count=clients)
    with web_server(database) as (server, port):
        programs = [Client(f"program-{n}", port, token, scene) for n, token in enumerate(tokens)]
        threads = [threading.Thread(target=program.run) for program in programs]
        for thread in threads:
            thread.start()
        try:
            for _ in range(kills):
                _wait_for_more(programs)
                time.sleep(chance.uniform(0, 0.2))
                os.kill(chance.choice(workers_of(server)), signal.SIGKILL)
            _wait_for_more(programs)
        finally:
            for program in programs:
                program.stopped.set()
            for thread in threads:
                thread.join()
    books = database.do(jobs.look_through)
    told = {key: number for program in programs for key, number in program.answers.items()}
    assert [program.refusals for program in programs] == [[]] * clients
    assert books["kinds"]["write_off"] == len(books["keys"])
    assert books["left"][scene.paint] == jobs.PLENTY - len(books["keys"])
    lost = sum(books["keys"].get(key) != number for key, number in told.items())
    assert lost == 0
    return Losses(kills, len(told), lost, len(books["keys"].keys() - told.keys()))


def _wait_for_more(programs: list[Client]) -> None:
    """Wait until somebody has been answered who had not been."""
    before, until = sum(len(program.answers) for program in programs), time.monotonic() + PATIENCE
    while sum(len(program.answers) for program in programs) <= before:
        refused = [refusal for program in programs for refusal in program.refusals]
        assert not refused, refused[0]
        assert time.monotonic() < until, f"Nobody was answered for {PATIENCE} seconds."
        time.sleep(0.005)
