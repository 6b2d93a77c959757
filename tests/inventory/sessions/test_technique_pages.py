"""Pages of techniques: the paint each takes per area, and where the figure comes from."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.sessions.models import Technique
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from studio.preferences.models import Studio
from studio.submission import Submission
from tests.days import AT, TODAY
from tests.inventory.browsing import HOSTILE, as_user, queries
from tests.making import make_helper, make_owner
from tests.small_studio import small_studio
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> Client:
    return as_user(make_owner())


def form(client: Client, name: str, *keys: Any) -> Tab:
    page = reverse(f"inventory:{name}", args=keys)
    return Tab(client, page, page)


def test_a_technique_is_typed_and_changed(owner: Client) -> None:
    form(owner, "technique-new").send(name="Tide pour", coverage="0.25 mL/cm²", source="weighed in May")
    made = Technique.objects.get(name="Tide pour")
    assert (made.coverage, made.source) == (250, "weighed in May")
    form(owner, "technique-edit", made.pk).send(coverage="0.235")
    made.refresh_from_db()
    assert (made.coverage, made.source) == (235, "weighed in May")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "Ring pour"}, "name"),
        ({"coverage": "0"}, "coverage"),
        ({"coverage": "much"}, "coverage"),
        ({"coverage": "0.2205"}, "coverage"),
        ({"source": ""}, "source"),
    ],
)
def test_a_technique_that_cannot_be_comes_back_by_its_field(
    owner: Client, typed: dict[str, str], field: str
) -> None:
    count = Technique.objects.count()
    known = {"name": "Tide pour", "coverage": "0.25", "source": "guess"}
    response = form(owner, "technique-new").send(**known | typed)
    assert (response.status_code, set(response.context["form"].errors)) == (422, {field})
    assert Technique.objects.count() == count


def test_what_no_technique_takes_is_refused_by_the_action() -> None:
    submission = Submission(by=make_owner(), at=AT, on=TODAY)
    for name, coverage, field in (("Dry", 0, "coverage"), ("x" * 61, 1, "name")):
        with pytest.raises(InputError) as refused:
            save_row(Technique(name=name, coverage=coverage, source="guess"), submission=submission)
        assert refused.value.field == field


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saving_a_page_unchanged_changes_nothing(owner: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    row = Technique.objects.get(name="Ring pour")
    before = Technique.objects.filter(pk=row.pk).values().get()
    assert form(owner, "technique-edit", row.pk).send().status_code == 200
    assert Technique.objects.filter(pk=row.pk).values().get() == before


def test_only_a_technique_that_nothing_was_poured_with_is_deleted(owner: Client) -> None:
    used = small_studio().loose.technique
    unused = Technique.objects.exclude(pk=used.pk)[0]
    assert form(owner, "technique-delete", used.pk).send().status_code == 422
    assert form(owner, "technique-delete", unused.pk).send().status_code == 200
    assert Technique.objects.filter(pk=used.pk).exists()
    assert not Technique.objects.filter(pk=unused.pk).exists()


def test_the_list_is_for_all_to_read_and_for_the_owner_to_change(owner: Client) -> None:
    row = Technique.objects.create(name=HOSTILE, coverage=200, source=HOSTILE)
    page, edit = reverse("inventory:techniques"), reverse("inventory:technique-edit", args=[row.pk])
    few = queries(owner, page)
    for number in range(5):
        Technique.objects.create(name=f"Tide {number}", coverage=200, source="guess")
    assert queries(owner, page) == few
    hers, his = (client.get(page).content.decode() for client in (owner, as_user(make_helper())))
    assert HOSTILE not in hers
    assert edit in hers
    assert edit not in his
