"""Jobs that look at pages: through every layer of the service, inside the worker process that has the database.

The pages are asked for as a web server asks: a connection that failed is looked at before the next request.
"""

import logging
import random
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from html.parser import HTMLParser
from http import HTTPStatus
from typing import Any

from django.db import close_old_connections, connection
from django.test import Client

from inventory.ledger.models import Posting
from studio.accounts.models import User
from tests.days import TODAY
from tests.faults import disk_jobs
from tests.faults.jobs import Meet, Say, Scene, let_programs_in
from tests.inventory.invariants import assert_books_hold


@dataclass(frozen=True)
class Door:
    """What lets the owner's browser and a helper's program in: headers to send along."""

    browser: dict[str, str]
    program: dict[str, str]


def open_the_door(*, scene: Scene, say: Say, meet: Meet) -> Door:
    client = Client()
    client.force_login(scene.of(User, scene.owner))
    token = secrets.token_hex(16)
    cookies = f"sessionid={client.cookies['sessionid'].value}; csrftoken={token}"
    (text,) = let_programs_in(count=1, say=say, meet=meet)
    return Door({"Cookie": cookies, "X-CSRFToken": token}, {"Authorization": f"Bearer {text}"})


class Typed(HTMLParser):
    """The hidden fields of a page's form: what was typed and is to be sent again."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "input" and said.get("type") == "hidden" and said.get("name") != "csrfmiddlewaretoken":
            self.fields[str(said["name"])] = said.get("value") or ""


class Bench:
    """Somebody at the pages, who sends the same form again when it was not taken."""

    def __init__(self, owner: User, lot: int = 0, reason: int = 0) -> None:
        logging.disable(logging.CRITICAL)  # what is logged meanwhile is looked at elsewhere
        self.owner, self.lot, self.reason = owner, lot, reason
        self.client = Client(enforce_csrf_checks=True, raise_request_exception=False, SERVER_NAME="localhost")
        self.client.force_login(owner)
        self.client.cookies["csrftoken"] = self.csrf = secrets.token_hex(16)

    @classmethod
    def at(cls, scene: Scene) -> "Bench":
        """The owner's place, with the last lot of paint before her."""
        return cls(scene.of(User, scene.owner), scene.lots[-1], scene.reason)

    def get(self, path: str) -> Any:
        close_old_connections()
        return self.client.get(path)

    def send(self, path: str, fields: dict[str, str]) -> Any:
        close_old_connections()
        return self.client.post(path, fields, headers={"X-CSRFToken": self.csrf})

    def program(self, method: str, path: str) -> int:
        """What a program's request by one of the other methods is answered with."""
        answer = self.client.generic(
            method.upper(), path, "{}", "application/json", headers={"X-CSRFToken": self.csrf}
        )
        return answer.status_code

    def form(self, number: int) -> tuple[str, dict[str, str]]:
        """A form nobody sent before: paint written off, or some of it decanted."""
        fields = {"quantity": "0.007 mL", "on": str(TODAY), "key": f"{number:032x}"}
        if number % 2:
            return f"/lots/{self.lot}/decant/", {
                **fields,
                "place": 'Shelf <2> & "window"',
                "empty_weight": "",
            }
        return f"/lots/{self.lot}/write-off/", {**fields, "reason": str(self.reason), "note": "it's gone"}


def send_forms_to_a_full_disk(*, scene: Scene, failures: int, seed: int, say: Say, meet: Meet) -> list[int]:
    """Send forms until the disk is full, see what the page says, make room, and send what it kept.

    Returns the statuses that refused forms were answered with.
    """
    bench, chance, turn = Bench.at(scene), random.Random(seed), 0
    statuses: list[int] = []
    with disk_jobs.limited_disk():
        while len(statuses) < failures:
            disk_jobs.allow(chance.randrange(8))
            path, fields = bench.form(turn)
            answer = bench.send(path, fields)
            while answer.status_code == HTTPStatus.FOUND:
                turn += 1
                path, fields = bench.form(turn)
                answer = bench.send(path, fields)
            statuses.append(answer.status_code)
            _assert_kept(answer, fields, says=("The disk is full", "Nothing was saved."))
            assert not Posting.objects.filter(key=fields["key"]).exists()
            assert Posting.objects.exclude(key="").count() == turn
            assert_books_hold()
            disk_jobs.allow_everything()
            turn += 1
            again = Typed(answer.content.decode()).fields
            assert [bench.send(path, again).status_code for _ in range(2)] == [HTTPStatus.FOUND] * 2
            assert Posting.objects.exclude(key="").count() == turn
    return statuses


def look_while_out_of_reach(*, scene: Scene, rounds: int, say: Say, meet: Meet) -> list[int]:
    """Look at pages while somebody else takes the database away and gives it back. Nothing is restarted meanwhile.

    It says when it is ready for each, and `meet` waits until it is done.
    """
    bench, statuses = Bench.at(scene), []
    for turn in range(rounds):
        path, fields = bench.form(turn)
        assert bench.get("/stock/").status_code == HTTPStatus.OK
        if connection.vendor == "sqlite":
            connection.close()  # as after a minute; a file that stays open is not missed when its name is gone
        say("here")
        meet()
        pages = [bench.get("/stock/"), bench.get("/login/"), bench.send(path, fields)]
        statuses += [page.status_code for page in pages]
        _assert_kept(pages[-1], fields, says=("Send my entries again",))
        assert "Try again" in pages[0].content.decode()
        program = bench.get("/api/lots/")
        assert (program.status_code, program.headers["Retry-After"]) == (503, "30")
        health = [bench.get(f"/health/{each}").status_code for each in ("live", "ready")]
        assert health == [200, 503], health
        say("seen")
        meet()
        again = Typed(pages[-1].content.decode()).fields
        assert bench.send(path, again).status_code == HTTPStatus.FOUND
        assert Posting.objects.filter(key=fields["key"]).count() == 1
    return statuses


def _assert_kept(answer: Any, fields: dict[str, str], *, says: Sequence[str]) -> None:
    """The page tells what happened in words, nothing of our code, and holds every entry."""
    page = answer.content.decode()
    assert answer.status_code in (503, 507), page
    assert [words for words in says if words not in page] == []
    assert "Traceback" not in page
    assert "OperationalError" not in page
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert Typed(page).fields == fields
