"""Pages of reasons: added and renamed; the ledger refers to them, so kind and code stay and none is deleted."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Reason
from inventory.ledger.reasons import save_reason
from studio.errors import InputError
from studio.submission import Submission
from tests.days import AT, TODAY
from tests.inventory.browsing import HOSTILE, as_user, queries
from tests.making import make_helper, make_owner, the_reason
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> Client:
    return as_user(make_owner())


def form(client: Client, name: str, *keys: Any) -> Tab:
    page = reverse(f"inventory:{name}", args=keys)
    return Tab(client, page, page)


def test_a_reason_is_added_and_its_code_made_of_its_name(owner: Client) -> None:
    for name in ("Käsebrot & Ölfleck", "Kasebrot  Olfleck!", "漆"):
        form(owner, "reason-new").send(name=name, kind="loss")
    made = Reason.objects.filter(kind="loss").order_by("-pk")[:3]
    assert [row.code for row in made] == ["reason", "kasebrot-olfleck-2", "kasebrot-olfleck"]


def test_a_reason_is_renamed_and_keeps_its_kind_and_code(owner: Client) -> None:
    row = the_reason("spilled")
    form(owner, "reason-edit", row.pk).send(name="Knocked over", kind="gift", code="other")
    row.refresh_from_db()
    assert (row.name, row.code, row.kind) == ("Knocked over", "spilled", "loss")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"name": "Gift"}, "name"),
        ({"kind": "theft"}, "kind"),
    ],
)
def test_a_reason_that_cannot_be_comes_back_by_its_field(
    owner: Client, typed: dict[str, str], field: str
) -> None:
    count = Reason.objects.count()
    response = form(owner, "reason-new").send(**{"name": "Mice", "kind": "loss"} | typed)
    assert (response.status_code, set(response.context["form"].errors)) == (422, {field})
    assert Reason.objects.count() == count


def test_the_writer_changes_no_kind() -> None:
    row = the_reason("gift")
    row.kind = "loss"
    with pytest.raises(InputError) as refused:
        save_reason(row, submission=Submission(by=make_owner(), at=AT, on=TODAY))
    assert refused.value.field == "kind"
    assert the_reason("gift").kind == "gift"


def test_the_list_is_for_all_to_read_and_for_the_owner_to_change(owner: Client) -> None:
    row = Reason.objects.create(name=HOSTILE, code="mice", kind="loss")
    page, edit = reverse("inventory:reasons"), reverse("inventory:reason-edit", args=[row.pk])
    few = queries(owner, page)
    for number in range(5):
        Reason.objects.create(name=f"Tide {number}", code=f"tide-{number}", kind="loss")
    assert queries(owner, page) == few
    hers, his = (client.get(page).content.decode() for client in (owner, as_user(make_helper())))
    assert HOSTILE not in hers
    assert edit in hers
    assert edit not in his
