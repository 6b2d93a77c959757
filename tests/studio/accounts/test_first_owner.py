"""The first owner of an empty studio: made once, in the browser, by whoever is at the studio's own machine."""

from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection
from django.test import Client, override_settings
from django.urls import reverse

from studio.accounts import first_owner
from studio.accounts.first_owner import NotEmpty, add_first_owner, make_code
from studio.accounts.models import Role, User
from tests.making import make_helper

PHRASE = "eleven-canvases-by-noon"
HERE = "/start/"


def sent(**changes: str) -> dict[str, str]:
    return {"username": "wren", "password": PHRASE, "again": PHRASE, **changes}


@pytest.fixture(autouse=True)
def no_code(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_owner._door, "code", "")


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["/", "/stock/", "/settings/", "/login/", "/price-list/"])
def test_in_an_empty_studio_every_page_leads_to_the_first_one(page: str, client: Client) -> None:
    answer = client.get(page, follow=True)
    assert answer.redirect_chain[-1] == (HERE, 302)
    assert answer.status_code == 200
    assert "15 characters" in answer.content.decode()  # the rules, before anything is typed


@pytest.mark.django_db
def test_the_owner_is_made_logged_in_and_led_on(client: Client) -> None:
    answer = client.post(HERE, sent())
    assert answer.headers["Location"] == reverse("begin")
    owner = User.objects.get()
    assert (owner.username, owner.role, owner.check_password(PHRASE)) == ("wren", Role.OWNER, True)
    assert client.get(reverse("begin")).status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"username": ""}, "username"),
        ({"username": "no blanks"}, "username"),
        ({"password": "short", "again": "short"}, "password"),
        ({"again": "another-phrase-altogether"}, "again"),
        (
            {"username": "eleven-canvases", "password": "eleven-canvases", "again": "eleven-canvases"},
            "password",
        ),
    ],
)
def test_what_will_not_do_comes_back_with_why_and_makes_nobody(
    wrong: dict[str, str], field: str, client: Client
) -> None:
    answer = client.post(HERE, sent(**wrong))
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not User.objects.exists()


@pytest.mark.django_db
def test_it_is_closed_as_soon_as_somebody_can_log_in(client: Client) -> None:
    make_helper()
    for answer in (client.get(HERE), client.post(HERE, sent())):
        assert (answer.status_code, answer.headers["Location"]) == (302, "/login/")
    assert client.get("/login/").status_code == 200
    assert User.objects.count() == 1
    with pytest.raises(NotEmpty):
        add_first_owner(username="late", password=PHRASE, code=None)


@pytest.mark.django_db
def test_from_another_machine_it_takes_the_code_of_the_terminal(client: Client) -> None:
    from_afar: dict[str, Any] = {"REMOTE_ADDR": "192.168.1.30"}
    page = client.get(HERE, **from_afar)
    assert page.context["form"] is None
    assert "add_person" in page.content.decode()
    assert client.post(HERE, sent(), **from_afar).status_code == 200
    code = make_code()
    for wrong in ("", "AAAA-AAAA", code[:-1]):
        assert client.post(HERE, sent(code=wrong), **from_afar).status_code == 422
    assert not User.objects.exists()
    assert client.post(HERE, sent(code=f" {code.lower().replace('-', ' ')}"), **from_afar).status_code == 302
    User.objects.all().delete()
    assert client.post(HERE, sent(code=code), **from_afar).status_code in (200, 302)
    assert not User.objects.exists()  # it counted once


@pytest.mark.django_db
@pytest.mark.parametrize("setting", [{"PRODUCTION": True}, {"PROXIES": 1}])
def test_a_server_behind_a_proxy_takes_nobody_for_the_one_at_the_machine(
    setting: dict[str, Any], client: Client
) -> None:
    with override_settings(**setting):
        assert client.get(HERE).context["form"] is None
        client.post(HERE, sent())
    assert not User.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_at_once_one_becomes_the_owner() -> None:
    start, told = Barrier(2), list[str]()

    def try_it(name: str) -> None:
        try:
            start.wait()
            add_first_owner(username=name, password=PHRASE, code=None)
            told.append("made")
        except NotEmpty:
            told.append("late")
        finally:
            connection.close()

    both = [Thread(target=try_it, args=[name]) for name in ("wren", "heron")]
    for each in both:
        each.start()
    for each in both:
        each.join()
    assert User.objects.count() == 1
    if connection.vendor == "postgresql":  # threads share no database in memory
        assert sorted(told) == ["late", "made"]


@pytest.mark.django_db
def test_pages_are_in_the_language_of_the_browser_and_the_owner_keeps_it(client: Client) -> None:
    page = client.get(HERE, HTTP_ACCEPT_LANGUAGE="de-AT")
    assert b'lang="de"' in page.content
    client.post(HERE, sent(), HTTP_ACCEPT_LANGUAGE="de-AT")
    assert User.objects.get().language == "de"
