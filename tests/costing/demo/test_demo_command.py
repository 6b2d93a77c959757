"""`manage.py demo`: what it builds twice is the same, what it leaves alone, who may log in. Small builds."""

from functools import partial
from io import StringIO
from pathlib import Path
from random import Random
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from costing.demo import gallery
from costing.demo.agenda import Agenda, Hour
from costing.demo.build import build, holds_demo
from costing.demo.passwords import give_phrases
from costing.demo.people import PEOPLE
from costing.demo.pictures import View, draw_pour
from costing.management.commands import demo as command
from costing.pieces.actions.photos import store_photo
from costing.pieces.models import Piece
from inventory.ledger.keyed_records import fingerprint_of
from inventory.ledger.models import Entry, Posting
from inventory.ledger.verification import check
from inventory.materials.models import Material
from studio.accounts.actions import add_person
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests import making
from tests.days import AT, TODAY

SMALL = 0.1


@pytest.fixture
def photos(tmp_path: Path, settings: Any) -> Path:
    """Photos go to a folder of the test's own."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    return tmp_path / "photos"


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch, photos: Path) -> None:
    """The command builds a tenth of the year."""
    monkeypatch.setattr(command, "build", partial(build, scale=SMALL))


def story() -> str:
    """A fingerprint of what was posted: kinds, days, places, quantities and money, in order."""
    postings = Posting.objects.order_by("number").values_list("kind", "effective_on")
    entries = Entry.objects.order_by("posting", "line")
    moves = entries.values_list("posting", "line", "place", "material__name", "quantity", "money", "role")
    return fingerprint_of([list(postings), list(moves)])


@pytest.mark.django_db
def test_the_command_builds_a_clean_demo_once_the_same_on_the_same_day_and_progress_rises_to_the_end(
    photos: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[int] = []
    with transaction.atomic():
        build(today=TODAY, now=AT, scale=SMALL, progress=seen.append)
        first = story()
        transaction.set_rollback(True)
    assert seen == sorted(seen)
    assert (seen[0], seen[-1]) == (0, 100)

    def that_day(**facts: Any) -> None:
        build(**(facts | {"today": TODAY, "now": AT, "scale": SMALL}))

    monkeypatch.setattr(command, "build", that_day)
    out = StringIO()
    call_command("demo", build_only=True, stdout=out)
    assert "Wrackline Studio is ready" in out.getvalue()
    assert holds_demo()
    assert check().is_clean
    assert story() == first
    call_command("demo", build_only=True, stdout=out)
    assert story() == first


@pytest.mark.django_db
@pytest.mark.parametrize("make", [making.make_material, making.make_supplier, making.make_stranger])
def test_it_refuses_a_database_that_holds_somebodys_own_things(make: Any, small: None) -> None:
    make()
    before = (Material.objects.count(), User.objects.count())
    with pytest.raises(CommandError, match="Nothing was changed") as refusal:
        call_command("demo", build_only=True)
    assert refusal.value.returncode == 2
    assert (Material.objects.count(), User.objects.count()) == before
    assert not Posting.objects.exists()
    assert not holds_demo()


@pytest.mark.django_db
def test_an_interrupted_build_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch, photos: Path) -> None:
    stored: list[Piece] = []

    def interrupted(*, piece: Piece, **facts: Any) -> Piece:
        if len(stored) == 2:
            raise KeyboardInterrupt
        stored.append(piece)
        return store_photo(piece=piece, **facts)

    monkeypatch.setattr(gallery, "store_photo", interrupted)
    with pytest.raises(KeyboardInterrupt):
        build(today=TODAY, now=AT, scale=SMALL)
    assert len(stored) == 2
    assert not holds_demo()
    assert not Studio.current().is_demo
    assert not any(model._default_manager.exists() for model in (Posting, Material, User, Piece))
    assert not list(photos.rglob("*.jpg"))


def test_the_bar_shows_on_a_terminal_only() -> None:
    class Terminal(StringIO):
        def isatty(self) -> bool:
            return True

    for stream, is_seen in ((StringIO(), False), (Terminal(), True)):
        command.show_progress(stream, 50)
        assert ("50%" in stream.getvalue()) == is_seen


def test_the_agenda_goes_day_by_day_and_takes_on_what_its_acts_add() -> None:
    agenda, done = Agenda(), list[tuple[str, int]]()

    def begin(days_ago: int) -> None:
        done.append(("begin", days_ago))
        agenda.put(days_ago - 2, Hour.SHELF, lambda day: done.append(("later", day)))
        agenda.put(days_ago - 99, Hour.SHELF, lambda day: done.append(("never", day)))

    agenda.put(1, Hour.SALES, lambda day: done.append(("evening", day)))
    agenda.put(1, Hour.ORDERS, lambda day: done.append(("morning", day)))
    agenda.put(5, Hour.LAST, begin)
    agenda.live(pause=lambda day: None)
    assert done == [("begin", 5), ("later", 3), ("morning", 1), ("evening", 1)]


@pytest.mark.parametrize("technique", ["Ring pour", "Flip cup", "Dutch pour", "Swipe"])
def test_a_picture_has_the_palettes_colours_and_is_the_same_each_time(technique: str) -> None:
    blue = (20, 60, 160)
    view = View(technique, [((240, 240, 235), 60), (blue, 40)], "square")
    drawn = draw_pour(view, Random(4))
    assert drawn.tobytes() == draw_pour(view, Random(4)).tobytes()
    near = [
        colour
        for _, colour in drawn.getcolors(maxcolors=480 * 480) or []
        if isinstance(colour, tuple) and max(abs(a - b) for a, b in zip(colour, blue, strict=True)) < 12
    ]
    assert near


@pytest.mark.django_db
def test_on_the_network_nobody_logs_in_with_the_public_passwords() -> None:
    Studio.objects.update(is_demo=True)
    for each in PEOPLE:
        add_person(User(username=each.username, role=each.role), password=each.phrase, submission=None)
    public = {each.username: each.phrase for each in PEOPLE}
    secret = give_phrases(are_secret=True)
    assert secret.keys() == public.keys()
    for person in User.objects.all():
        assert not person.check_password(public[person.username])
        assert person.check_password(secret[person.username])
    assert give_phrases(are_secret=True) != secret
    assert give_phrases(are_secret=False) == public
    assert all(person.check_password(public[person.username]) for person in User.objects.all())
