"""The logo: put up, refused with what to do instead, and taken away."""

import base64
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from studio.accounts.models import User
from studio.photos import LARGEST_FILE
from studio.preferences.models import Studio
from tests.costing.pages import text_of
from tests.pictures import encoded, left_red_right_blue
from tests.programs import Program
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def page(client: Client) -> Tab:
    return Tab(client, reverse("logo"), reverse("logo"))


def good() -> SimpleUploadedFile:
    return SimpleUploadedFile("logo.png", encoded(left_red_right_blue(), "PNG").read())


def test_a_good_picture_is_put_up_and_shown(signed: Client) -> None:
    answer = page(signed).send(photo=good())
    assert "on every document now" in text_of(answer)
    shown = signed.get(reverse("logo-picture"))
    assert shown.status_code == 200
    assert shown.headers["Content-Type"] == "image/jpeg"
    shown.close()


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"no picture at all", "JPEG, PNG or WebP"), (b"x" * (LARGEST_FILE + 1), "larger than 10 MB")],
    ids=["no picture", "too large"],
)
def test_what_cannot_be_a_logo_is_refused_and_the_one_before_stays(
    signed: Client, content: bytes, told: str
) -> None:
    page(signed).send(photo=good())
    before = Studio.current().logo.name
    answer = page(signed).send(photo=SimpleUploadedFile("logo.png", content))
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert Studio.current().logo.name == before


def test_sent_without_a_file_it_asks_for_one(signed: Client) -> None:
    answer = page(signed).send()
    assert answer.status_code == 422
    assert not Studio.current().logo


def test_taken_away_it_is_gone_from_the_page_and_the_disk(
    signed: Client, tmp_path: Path, django_capture_on_commit_callbacks: object
) -> None:
    page(signed).send(photo=good())
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        page(signed).send(do="remove")
    assert not Studio.current().logo
    assert signed.get(reverse("logo-picture")).status_code == 404
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_program_stores_replaces_and_removes_the_logo(owner: User, helper: User) -> None:
    program = Program(owner)
    content = base64.b64encode(encoded(left_red_right_blue(), "PNG").read()).decode()
    first = program.get("logo/")
    assert first.json() == {"content": None}
    stored = program.post("logo/", {"content": content}, if_match=first.headers["ETag"])
    assert base64.b64decode(stored.json()["content"]).startswith(b"\xff\xd8")
    assert program.post("logo/", {"content": content}, if_match=first.headers["ETag"]).status_code == 412
    assert program.post("logo/", {"content": "bm8gcGljdHVyZQ=="}).status_code == 422
    assert Program(helper).read("logo/") == stored.json()
    assert Program(helper).post("logo/delete/").status_code == 403
    assert program.post("logo/delete/", if_match=stored.headers["ETag"]).json() == {"content": None}
    assert not Studio.current().logo
