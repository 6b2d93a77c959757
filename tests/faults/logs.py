"""What a service says with MENISCUS_LOG_JSON=1: one JSON object a line, whatever happens, and no secret in any."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import include, path

from tests.faults import jobs
from tests.faults.jobs import Scene
from tests.faults.real_databases import RealDatabase, use

PASSWORD = "seven-herons-over-the-slipway"
KEY = "a-key-that-nobody-may-read-in-a-log-" + "0123456789" * 4
FORGED = 'nobody\n{"event": "logged_in", "user": "nobody at all"}'
KINDS = {"login_failed", "logged_in", "permission_denied", "person_added"}


@dataclass
class Logged:
    """What came out: lines, those with a trace of an error, and how many lines said a secret."""

    lines: int = 0
    events: int = 0
    traces: int = 0
    secrets: int = 0


def json_logs(database: RealDatabase) -> Logged:
    """Log in well and badly, ask for what is not one's own, send rubbish, meet an error of ours, lose the database."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[1_000])
    command = [sys.executable, "-m", "tests.faults.logs", database.url, str(scene.owner)]
    environment = {**os.environ, "MENISCUS_LOG_JSON": "1", "MENISCUS_SECRET_KEY": KEY}
    done = subprocess.run(
        command, env=environment, cwd=settings.BASE_DIR, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    said: list[dict[str, Any]] = [json.loads(line) for line in done.stderr.splitlines()]
    assert all(isinstance(line, dict) and {"at", "level", "logger"} <= set(line) for line in said)
    events = [line["event"] for line in said if "event" in line]
    assert set(events) >= KINDS, events
    assert "nobody at all" not in {line.get("user") for line in said}
    (token,) = done.stdout.split()
    told = [word for word in (PASSWORD, KEY, token) if word in done.stderr]
    assert told == []
    traces = [line for line in said if "trace" in line]
    assert any("RuntimeError" in line["trace"] for line in traces)
    assert any(line["logger"] == "meniscus.outages" for line in said)
    return Logged(len(said), len(events), len(traces), len(told))


# What runs in the process that logs


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("a fault of ours,\non two lines")


urlpatterns = [path("broken/", broken), path("", include("studio.urls"))]
handler500 = "studio.api.plain_problems.failed"


def live(owner: str) -> None:
    """A day at the door, all of it logged to standard error. Prints the token that a program was given."""
    from django.db import connection
    from django.test import Client

    from studio.accounts.actions import add_person
    from studio.accounts.models import User
    from tests.faults.jobs import let_programs_in

    settings.ROOT_URLCONF = "tests.faults.logs"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # to spare time
    add_person(User(username="keeper", role="helper"), password=PASSWORD, submission=None)
    (token,) = let_programs_in(count=1, say=print, meet=print)
    print(token)
    client = Client(raise_request_exception=False, SERVER_NAME="localhost")
    client.post("/login/", {"username": "keeper", "password": f"{PASSWORD} not"})
    client.post("/login/", {"username": FORGED, "password": PASSWORD})
    client.post("/login/", {"username": PASSWORD, "password": "in the wrong box"})
    client.post("/login/", {"username": "keeper", "password": PASSWORD})
    client.get("/backups/")
    client.get(f"/lots/{PASSWORD[:5]}\n/", {"next": "/"})
    client.post(
        "/api/write-offs/", "rubbish", "application/json", headers={"Authorization": f"Bearer {token}"}
    )
    client.force_login(User.objects.get(pk=owner))
    client.get("/broken/")
    connection.close()
    if connection.vendor == "sqlite":
        Path(connection.settings_dict["NAME"]).rename(f"{connection.settings_dict['NAME']}-away")
    else:
        connection.settings_dict["PORT"] = "1"  # where nobody listens
    client.get("/stock/")


if __name__ == "__main__":
    use(sys.argv[1])
    live(sys.argv[2])
