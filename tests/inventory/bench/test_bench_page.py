"""The bench view as the server makes it: every step on one page, also where no script runs."""

import json
import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.plans.models import Plan
from studio.accounts.models import User
from studio.pages.offline import WORKER
from tests.inventory.browsing import as_user
from tests.making import make_lot

pytestmark = pytest.mark.django_db


def opened(client: Client, plan: Plan) -> Any:
    return client.get(reverse("inventory:bench", args=[plan.pk]))


def steps_in(response: Any) -> list[str]:
    """The kinds of the steps, in their order."""
    return re.findall(r'class="bench-step is-(\w+)"', response.content.decode())


def test_every_step_stands_on_the_page_with_its_amount_and_its_colour(owner: User, plan: Plan) -> None:
    response = opened(as_user(owner), plan)
    assert steps_in(response)[:4] == ["ready", "zero", "add", "add"]
    assert steps_in(response)[-2:] == ["pour", "finish"]
    words = re.sub(r"<[^>]+>|\s+", " ", response.content.decode()).replace("\xa0", " ")
    assert "136 g" in " ".join(words.split())
    assert "EUH208" in words
    assert "£" not in words


def test_the_script_is_given_what_the_api_takes_back(owner: User, plan: Plan) -> None:
    response = opened(as_user(owner), plan)
    document = json.loads(response.context["document"])
    client = as_user(owner)
    assert document["work"] == client.get(f"/api/benches/{plan.pk}/").json()["work"]
    assert document["url"] == "/api/benches/"


def test_a_plan_of_too_many_surfaces_says_why_there_is_no_bench(owner: User, plan: Plan) -> None:
    plan.lines.update(count=201)
    response = opened(as_user(owner), plan)
    assert (response.status_code, steps_in(response)) == (200, [])
    assert response.context["problem"]
    assert "work" not in json.loads(response.context["document"])


def test_the_page_asks_no_more_of_the_database_for_more_surfaces(owner: User, plan: Plan) -> None:
    make_lot(material=plan.lines.get().surface, quantity=50_000)
    client = as_user(owner)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            opened(client, plan)
        return len(queries)

    before = asked()
    plan.lines.update(count=20)
    assert asked() == before


# Without a network


def test_the_worker_is_served_from_the_root_and_looked_for_again_each_time() -> None:
    response = Client().get("/worker.js")
    assert response["Content-Type"].startswith("text/javascript")
    assert response["Cache-Control"] == "no-cache"
    assert response.content == WORKER.read_bytes()


def test_a_device_learns_who_is_signed_in_and_gets_a_fresh_form_token(owner: User) -> None:
    assert Client().get("/login/state/").status_code == 401
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    state = client.get("/login/state/").json()
    assert state["user"] == owner.pk
    sent = client.post(
        "/api/benches/",
        "{}",
        content_type="application/json",
        headers={"X-CSRFToken": state["csrf"], "Idempotency-Key": "k"},
    )
    assert sent.status_code == 400  # read and refused, not forbidden


def test_the_session_form_is_filled_in_by_what_was_poured(owner: User, plan: Plan) -> None:
    page = as_user(owner).get(reverse("inventory:session-new"), {"plan": str(plan.pk), "done": "3.1"})
    (row,) = page.context["draft"].pours.forms
    assert (row["alike"].value(), row["failed"].value()) == ("3", "1")


@pytest.mark.parametrize("done", ["", "x", "1", "2.1,1.0", "9" * 30 + ".0", "²." + "1"])
def test_a_count_that_cannot_be_read_leaves_the_form_as_planned(owner: User, plan: Plan, done: str) -> None:
    page = as_user(owner).get(reverse("inventory:session-new"), {"plan": str(plan.pk), "done": done})
    (row,) = page.context["draft"].pours.forms
    assert row["alike"].value() == "4"
