"""No update is lost: a page that edits a row refuses what it has not seen, and says what was changed meanwhile."""

import sys
from collections.abc import Iterator
from typing import Any

import pytest
from auditlog.models import LogEntry
from django.test import override_settings
from django.urls import reverse

from costing.pieces.actions.photos import store_photo
from costing.pieces.models import Piece
from inventory.ledger.models import Books, Lot
from inventory.materials.models import Material
from inventory.recipes.models import Recipe
from inventory.sessions.actions.photos import add_photo
from studio.accounts.models import User
from studio.auditing import queries as change_log
from tests.address_roles import NOBODY
from tests.address_table import TABLE
from tests.deletions import DELETING
from tests.edit_pages import EDITS, OWN_STORIES, PASSWORDS, picture, somebody, tab, two_tabs
from tests.edit_programs import API, EDITED_BY_PROGRAMS
from tests.inventory.browsing import as_user, text_of
from tests.making import make_owner, make_submission
from tests.nothing_to_lose import NOTHING_TO_LOSE
from tests.small_studio import SmallStudio
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio(built: SmallStudio, tmp_path: Any) -> Iterator[SmallStudio]:
    with override_settings(MEDIA_ROOT=tmp_path):
        yield built


# Every page


def test_every_page_that_takes_a_form_edits_safely_or_has_nothing_to_lose() -> None:
    taking = {name for name, (_get, post) in TABLE.items() if post != NOBODY and not name.startswith("api-")}
    assert taking == EDITS.keys() | DELETING.keys() | OWN_STORIES | NOTHING_TO_LOSE.keys()
    assert not EDITS.keys() & NOTHING_TO_LOSE.keys()
    programs = {name for name, (_get, post) in TABLE.items() if post != NOBODY and name.startswith("api-")}
    assert programs == EDITED_BY_PROGRAMS | API.keys()


@pytest.mark.parametrize("name", EDITS)
def test_what_has_not_seen_the_last_change_is_refused_told_of_it_and_may_be_saved_again(
    studio: SmallStudio, name: str
) -> None:
    edit = EDITS[name]
    row = edit.row(studio)
    first, second = two_tabs(name, row)
    before = edit.stored(row)
    first.send(**edit.typed[0]())
    theirs = edit.stored(row)
    assert theirs != before, "a page that has seen everything is saved"

    count = LogEntry.objects.count()
    refused = second.send(**edit.typed[1]())
    assert (edit.stored(row), LogEntry.objects.count()) == (theirs, count)
    told = text_of(refused).replace("&lt;", "<")
    assert "was changed while you were editing, so nothing was saved" in told
    assert edit.says in told
    second.back(refused)
    if edit.keeps:
        assert {key: second.fields[key] for key in edit.typed[1]()} == edit.typed[1]()

    second.send(**edit.typed[1]())
    assert edit.stored(row) not in (theirs, before)


@pytest.mark.parametrize("name", EDITS)
def test_a_page_without_the_number_of_a_change_has_seen_none(studio: SmallStudio, name: str) -> None:
    edit = EDITS[name]
    row = edit.row(studio)
    first, second = two_tabs(name, row)
    first.send(**edit.typed[0]())
    theirs = edit.stored(row)
    seen = next(key for key in second.fields if key.endswith("seen"))
    for nonsense in (None, "", "x", "-1", "9" * 40):
        second.send(**edit.typed[1](), **{seen: nonsense})
        assert edit.stored(row) == theirs


@pytest.mark.parametrize("name", EDITS)
def test_no_page_claims_to_have_seen_more_than_it_shows(
    studio: SmallStudio, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody saves just before a page that is being made asks for the last change: it must show that one."""
    edit = EDITS[name]
    row = edit.row(studio)
    first, second = two_tabs(name, row)
    ask = change_log.last_change_number
    waiting = [first]

    def save_then_ask(*args: Any, **facts: Any) -> int:
        if waiting:
            waiting.pop().send(**edit.typed[0]())
        return ask(*args, **facts)

    for asking in [name for name, module in sys.modules.items() if vars(module).get(ask.__name__) is ask]:
        monkeypatch.setattr(f"{asking}.{ask.__name__}", save_then_ask)
    shown = [tab(second.client, name, row).fields for _turn in range(2)]
    assert not waiting
    for fields in shown:
        fields.pop("csrfmiddlewaretoken")
    assert shown[0] == shown[1]


def test_a_change_that_was_taken_back_is_none(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(place="Cool box")
    tab(first.client, "inventory:lot-edit", studio.lot).send(place="")
    second.send(place="Window sill")
    assert Lot.objects.get(pk=studio.lot.pk).place == "Window sill"


def test_several_changes_to_a_field_are_told_as_one(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(place="Cool box", supplier_batch="B7")
    tab(first.client, "inventory:lot-edit", studio.lot).send(place="Loft")
    told = text_of(second.send(place="Window sill"))
    assert "Place: changed from nothing to “Loft”" in told
    assert "Cool box" not in told
    assert "Batch: changed from nothing to “B7”" in told


def test_a_refused_page_keeps_every_entry_as_it_was_typed_or_left(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(place="Cool box", supplier_batch="B7")
    refused = second.send(place="Window sill")
    second.back(refused)
    assert (second.fields["place"], second.fields["supplier_batch"]) == ("Window sill", "")
    second.send()
    lot = Lot.objects.get(pk=studio.lot.pk)
    assert (lot.place, lot.supplier_batch) == ("Window sill", "")


def test_what_is_changed_while_the_refused_page_is_looked_over_is_refused_as_well(
    studio: SmallStudio,
) -> None:
    first, second = two_tabs("inventory:lot-edit", studio.lot)
    first.send(supplier_batch="B7")
    second.back(second.send(place="Loft"))
    tab(first.client, "inventory:lot-edit", studio.lot).send(supplier_batch="B8", empty_weight="42 g")
    refused = second.send()
    assert "Batch: changed from “B7” to “B8” by first," in text_of(refused)
    second.back(refused)
    second.send()
    lot = Lot.objects.get(pk=studio.lot.pk)
    assert (lot.place, lot.supplier_batch, lot.empty_weight) == ("Loft", "", None)


def test_what_is_refused_for_another_reason_has_still_not_seen_the_change(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:material-edit", studio.paint)
    first.send(maker="Quay & Sons")
    second.back(second.send(name=""))
    refused = second.send(name="Loft white")
    assert "changed from nothing to “Quay &amp; Sons”" in text_of(refused)
    found = Material.objects.get(pk=studio.paint.pk)
    assert (found.name, found.maker) == (studio.paint.name, "Quay & Sons")


def test_what_another_part_of_the_service_changed_counts_too(studio: SmallStudio) -> None:
    page = tab(somebody("second"), "inventory:material-edit", studio.varnish)
    varnish = Material.objects.get(pk=studio.varnish.pk)
    varnish.density = 1_050_000
    varnish.save(update_fields=["density"])
    told = text_of(page.send(notes="Thin"))
    assert "Density: changed from “1.12 g/mL” to “1.05 g/mL” by a command on" in told
    assert Material.objects.get(pk=varnish.pk).density == 1_050_000


def test_only_what_a_page_edits_counts_there(studio: SmallStudio) -> None:
    page = tab(somebody("first"), "costing:piece-price", studio.for_sale)
    store_photo(piece=studio.for_sale, upload=picture(90), submission=make_submission())
    page.send(**{"price-price": "70.00"})
    assert Piece.objects.get(pk=studio.for_sale.pk).price == 70_000_000


# Photos taken away


def test_a_photo_that_was_not_seen_is_not_removed(studio: SmallStudio) -> None:
    piece = studio.for_sale
    store_photo(piece=piece, upload=picture(90), submission=make_submission())
    pages = reverse("costing:piece", args=[piece.pk]), reverse("costing:piece-photo-remove", args=[piece.pk])
    remover = Tab(somebody("first"), *pages)
    tab(somebody("second"), "costing:piece-photo-change", piece).send(**{"photo-photo": picture(200)})
    theirs = Piece.objects.get(pk=piece.pk).photo.name
    refused = remover.send()
    assert "Photo: changed by second," in text_of(refused)
    assert Piece.objects.get(pk=piece.pk).photo.name == theirs
    remover.back(refused)
    remover.send()
    assert not Piece.objects.get(pk=piece.pk).photo


def test_a_photo_of_the_bench_takes_the_place_of_none_that_was_not_seen(
    studio: SmallStudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    piece = studio.for_sale
    taken = add_photo(session=studio.session, upload=picture(30), submission=make_submission())
    adopt = tab(somebody("first"), "costing:piece-photo-adopt", piece)
    tab(somebody("second"), "costing:piece-photo-change", piece).send(**{"photo-photo": picture(200)})
    theirs = Piece.objects.get(pk=piece.pk).photo.name
    assert "already has a photo" in text_of(adopt.send(photo=taken.pk))

    # Even when both come at the same moment, so that the first look still finds none.
    monkeypatch.setattr("costing.pieces.views.photos.piece_or_404", lambda pk: studio.for_sale)
    assert not studio.for_sale.photo
    assert "Photo: changed from nothing" in text_of(adopt.send(photo=taken.pk))
    assert Piece.objects.get(pk=piece.pk).photo.name == theirs


def test_a_piece_that_was_given_a_price_meanwhile_is_not_taken_apart(studio: SmallStudio) -> None:
    apart = tab(somebody("first"), "costing:piece-split", studio.dry)
    tab(somebody("second"), "costing:piece-price", studio.dry).send(**{"price-price": "70.00"})
    refused = apart.send()
    assert "Price: changed from nothing to “£70.00” by second," in text_of(refused)
    assert Piece.objects.filter(pk=studio.dry.pk).exists()
    apart.back(refused)
    apart.send()
    assert not Piece.objects.filter(pk=studio.dry.pk).exists()


# The books


def test_a_period_that_was_closed_meanwhile_is_told_before_another_is(studio: SmallStudio) -> None:
    address = reverse("inventory:closing")
    clients = somebody("first"), somebody("second")
    opened = [Tab(client, address, address) for client in clients]
    for page, day in zip(opened, ("2025-04-30", "2025-05-15"), strict=True):
        page.back(page.send(day=day))
    opened[0].send(confirm="1")
    refused = opened[1].send(confirm="1")
    assert ": changed from nothing to “30 Apr 2025” by first," in text_of(refused)
    assert str(Books.objects.get().closed_through) == "2025-04-30"
    opened[1].back(refused)
    opened[1].back(opened[1].send())
    opened[1].send(confirm="1")
    assert str(Books.objects.get().closed_through) == "2025-05-15"


# One's own password, and recipes


def test_ones_own_password_is_set_once_by_the_old_one() -> None:
    person = make_owner()
    person.set_password(PASSWORDS[0])
    person.save()
    address = reverse("password_change")
    first, second = Tab(as_user(person), address, address), Tab(as_user(person), address, address)
    first.send(old_password=PASSWORDS[0], new_password1=PASSWORDS[1], new_password2=PASSWORDS[1])
    second.client.force_login(User.objects.get(pk=person.pk))
    second.send(old_password=PASSWORDS[0], new_password1=PASSWORDS[2], new_password2=PASSWORDS[2])
    assert User.objects.get(pk=person.pk).check_password(PASSWORDS[1])


def test_a_recipe_written_twice_says_what_its_parts_were(studio: SmallStudio) -> None:
    first, second = two_tabs("inventory:recipe-version", studio.recipe)
    first.send(**{"parts-0-parts": "3"})
    second.send(**{"parts-0-parts": "5"})
    assert Recipe.objects.get(pk=studio.recipe.pk).versions.count() == 2
    assert LogEntry.objects.filter(content_type__model="recipe", changes__has_key="parts").count() == 1
