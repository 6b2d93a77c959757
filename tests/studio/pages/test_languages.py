"""Pages speak the language of whoever reads them: their own choice, else the studio's."""

import pytest
from django.test import Client
from django.urls import reverse

from studio.preferences.models import Studio
from tests.making import make_helper, make_owner

pytestmark = pytest.mark.django_db


def speaks(client: Client, address: str = "home", **headers: str) -> str:
    return client.get(reverse(address), headers=headers).headers["Content-Language"]


def test_pages_speak_the_studios_language_to_strangers_and_to_everybody_who_has_not_chosen(
    client: Client,
) -> None:
    assert speaks(client, "login") == "en-gb"
    Studio.objects.update(language="de")
    assert speaks(client, "login") == "de"
    client.force_login(make_helper())
    assert speaks(client) == "de"


def test_one_person_may_read_another_language(client: Client) -> None:
    helper = make_helper()
    client.force_login(helper)
    assert client.post(reverse("language"), {"language": "de"}).status_code == 302
    assert speaks(client) == "de"
    client.force_login(make_owner())
    assert speaks(client) == "en-gb"
    client.force_login(helper)
    seen = client.get(reverse("language")).context["form"]["seen"].value()
    client.post(reverse("language"), {"language": "", "seen": seen})
    assert speaks(client) == "en-gb"


def test_the_page_itself_says_which_language_it_is_in(client: Client) -> None:
    Studio.objects.update(language="de")
    make_owner()  # without anybody a studio is begun instead
    assert '<html lang="de">' in client.get(reverse("login")).content.decode()


def test_an_unknown_language_is_refused(client: Client) -> None:
    client.force_login(make_helper())
    answer = client.post(reverse("language"), {"language": "xx"})
    assert answer.status_code == 422
    assert b"is not one of the available choices" in answer.content


def test_programs_name_their_language_in_a_header(client: Client) -> None:
    Studio.objects.update(language="de")
    client.force_login(make_owner())
    address = "/api/materials/"
    assert client.get(address).headers["Content-Language"] == "en-gb"
    german = client.get(address, headers={"Accept-Language": "de-DE,de;q=0.9"})
    assert german.headers["Content-Language"] == "de"
