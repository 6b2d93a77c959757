"""Two people who save the same row at the same moment, each from a page of the service that has seen everything.

Exactly one is saved, the other is told what was changed, and what is stored is the winner's.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from auditlog.models import LogEntry
from django.test import Client
from django.urls import reverse

from studio.accounts.models import Role, User
from tests.edit_pages import EDITS
from tests.faults.jobs import Meet, Say, Tally
from tests.faults.real_databases import RealDatabase
from tests.inventory.browsing import text_of
from tests.making import make_owner
from tests.small_studio import small_studio
from tests.two_tabs import Tab

Typed = Callable[[int], dict[str, Any]]
# What is typed where: another thing by each racer in each round.
PAGES: dict[str, Typed] = {
    "inventory:lot-edit": lambda number: {"place": f"Shelf {number}"},
    "inventory:pour": lambda number: {"run_off": f"{number} ml"},
    "inventory:recipe-version": lambda number: {"parts-0-parts": str(number + 5)},
    "costing:piece-price": lambda number: {"price-price": f"{number}.50"},
    "inventory:material-edit": lambda number: {"notes": f"Note {number}"},
    "inventory:supplier-edit": lambda number: {"country": f"Country {number}"},
    "inventory:pack-edit": lambda number: {"price": f"{number}.50"},
    "inventory:reason-edit": lambda number: {"name": f"Tipped {number}"},
    "person": lambda number: {"last_name": f"Quay {number}"},
}


@dataclass(frozen=True)
class Race:
    """A page, the row that it edits, and who races: plain values, so that it can be handed to any process."""

    name: str
    row: int
    people: tuple[int, ...]


def set_the_scene(*, racers: int, say: Say, meet: Meet) -> list[Race]:
    """A small studio, and one race for every page."""
    make_owner()
    studio = small_studio()
    people = tuple(
        User.objects.create(username=f"racer{number}", role=Role.OWNER).pk for number in range(racers)
    )
    return [Race(name, EDITS[name].row(studio).pk, people) for name in PAGES]


def run(*, races: list[Race], racer: int, rounds: int, say: Say, meet: Meet) -> Tally:
    """Open each page, wait for the others, save: again and again. A refusal is told on the page."""
    tally = Tally()
    client = Client(SERVER_NAME="localhost")
    for race in races:
        client.force_login(User.objects.get(pk=race.people[racer]))
        page = reverse(EDITS[race.name].page or race.name, args=[race.row])
        for turn in range(rounds):
            tab = Tab(client, page, reverse(race.name, args=[race.row]))
            meet()
            _save(tally, tab, **PAGES[race.name](turn * len(race.people) + racer + 1))
            meet()
    return tally


def _save(tally: Tally, tab: Tab, **typed: Any) -> None:
    """Save, and note how it went; nothing may be raised, or the others would wait for ever."""
    try:
        told = text_of(tab.send(**typed))
    except Exception as error:
        tally.errors.append(f"{tab.to}: {error!r}")
        return
    refused = "so nothing was saved" in told
    tally.refused += refused
    tally.posted += not refused
    if refused and ": changed " not in told:
        tally.errors.append(f"{tab.to}: told nothing of what was changed")


def look(*, say: Say, meet: Meet) -> dict[tuple[str, str], int]:
    """How often each row was changed by somebody."""
    counts: dict[tuple[str, str], int] = {}
    entries = LogEntry.objects.filter(actor__username__startswith="racer")
    for kind, row in entries.values_list("content_type__model", "object_pk"):
        counts[kind, row] = counts.get((kind, row), 0) + 1
    return counts


def raced_edits(database: RealDatabase, *, rounds: int, racers: int = 2) -> Tally:
    """Of all who save at once one is saved, in every round and on every page, and each save is one change."""
    races: list[Race] = database.do(set_the_scene, racers=racers)
    each = [{"races": races, "racer": racer, "rounds": rounds} for racer in range(racers)]
    tally = Tally.together(database.together(run, each))
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (len(races) * rounds, len(races) * rounds * (racers - 1))
    changes: dict[tuple[str, str], int] = database.do(look)
    assert sum(changes.values()) == len(races) * rounds
    return tally


def edit_each_other(*, people: list[int], racer: int, rounds: int, say: Say, meet: Meet) -> Tally:
    """Change the person after oneself, as often as asked."""
    tally = Tally()
    client = Client(SERVER_NAME="localhost")
    client.force_login(User.objects.get(pk=people[racer]))
    page = reverse("person", args=[people[(racer + 1) % len(people)]])
    for turn in range(rounds):
        tab = Tab(client, page, page)
        meet()
        _save(tally, tab, last_name=f"Quay {turn}")
        meet()
    return tally


def owners_who_change_each_other(database: RealDatabase, *, rounds: int, racers: int = 3) -> Tally:
    """Owners who save each other's accounts at one moment wait for one another, and never in a circle."""
    races: list[Race] = database.do(set_the_scene, racers=racers)
    each = [{"people": list(races[0].people), "racer": racer, "rounds": rounds} for racer in range(racers)]
    tally = Tally.together(database.together(edit_each_other, each))
    assert tally.errors == []
    assert (tally.posted, tally.refused) == (racers * rounds, 0)
    return tally
