"""Sessions kept as sets under a name: offered to be poured again on the page of a new session."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.sessions.models import Session
from inventory.sessions.queries.sets import kept_sets
from studio.accounts.models import User
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import take_back

pytestmark = pytest.mark.django_db
NEW = "inventory:session-new"


@pytest.fixture
def bench(db: None) -> Bench:
    return Bench()


def poured(client: Client, bench: Bench, key: str = "a") -> Session:
    pours = [bench.pours(alike="1", each="50 ml")]
    log(client, sent(cups=[bench.cup(0, "100 ml")], pours=pours, key=key * 32))
    return Session.objects.latest("pk")


def keep(client: Client, session: Session, name: str) -> Any:
    address = reverse("inventory:session-set", args=[session.pk])
    return client.post(address, {"set_name": name}, follow=True)


def test_a_set_is_offered_by_its_name_and_fills_in_cups_and_surfaces(signed: Client, bench: Bench) -> None:
    session = poured(signed, bench)
    keep(signed, session, "  Tuesday   tiles ")
    page = signed.get(reverse(NEW))
    assert "Tuesday tiles" in text_of(page)
    assert f'href="{reverse(NEW)}?repeat={session.pk}"' in page.content.decode()
    draft = signed.get(reverse(NEW), {"repeat": session.pk}).context["draft"]
    assert draft.cups.forms[0].words == "White, mixed, 100 mL"
    assert draft.pours.forms[0]["surface"].value() == str(bench.canvas.pk)


def test_without_a_name_it_is_offered_no_longer(signed: Client, bench: Bench) -> None:
    session = poured(signed, bench)
    keep(signed, session, "Tuesday tiles")
    assert "no longer" in text_of(keep(signed, session, " "))
    assert "Tuesday tiles" not in text_of(signed.get(reverse(NEW)))


def test_a_name_belongs_to_one_set_until_its_session_is_reversed(signed: Client, bench: Bench) -> None:
    first, second = poured(signed, bench), poured(signed, bench, "b")
    keep(signed, first, "Tuesday tiles")
    assert "Another set is called “Tuesday tiles”" in text_of(keep(signed, second, "Tuesday tiles"))
    assert list(kept_sets()) == [first]
    take_back(first.posting)
    assert not kept_sets()
    keep(signed, second, "Tuesday tiles")
    assert list(kept_sets()) == [second]


def test_too_long_a_name_is_refused_and_nothing_changes(signed: Client, bench: Bench) -> None:
    session = poured(signed, bench)
    keep(signed, session, "Tuesday tiles")
    assert "up to 60 letters" in text_of(keep(signed, session, "x" * 61))
    assert kept_sets().get().set_name == "Tuesday tiles"


def test_programs_keep_a_set_and_read_its_name(owner: User, bench: Bench) -> None:
    client = as_user(owner)
    session = poured(client, bench)
    address = reverse("api-sessions-keep-set", args=[session.pk])
    for _time in range(2):
        answer = client.post(address, {"set_name": "Tuesday tiles"}, content_type="application/json")
        assert answer.status_code == 200
        assert answer.json()["session"]["set_name"] == "Tuesday tiles"


def test_more_sets_ask_no_more_queries(signed: Client, bench: Bench) -> None:
    sessions = [poured(signed, bench, key) for key in "abc"]
    keep(signed, sessions[0], "Tuesday tiles")
    one = queries(signed, reverse(NEW))
    for number, session in enumerate(sessions[1:]):
        keep(signed, session, f"Lantern rings {number}")
    assert queries(signed, reverse(NEW)) == one
