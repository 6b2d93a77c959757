"""Sales channels: added, changed and deactivated by the owner; sales keep theirs."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms, SalesChannel
from studio.accounts.models import User
from studio.auditing.reference_rows import InUse, delete_row
from studio.errors import InputError
from studio.preferences.models import Studio
from studio.submission import Submission
from tests.days import AT, DAY, TODAY
from tests.inventory.browsing import HOSTILE, as_user, queries
from tests.making import money
from tests.small_studio import small_studio
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def page(client: Client, name: str, *args: Any) -> Tab:
    address = reverse(f"costing:{name}", args=args)
    return Tab(client, address, address)


def test_a_channel_is_added_with_what_it_takes(signed: Client) -> None:
    page(signed, "channel-new").send(
        name="Gallery", payment="gallery", commission="35.5 %", card_rate="1.75", fixed_fee="0.20"
    )
    made = ChannelTerms.objects.get()
    assert (made.channel.name, made.channel.is_active, made.holds_from) == ("Gallery", True, None)
    assert (made.commission, made.card_rate, made.fixed_fee, made.commission_before_tax) == (
        355_000, 17_500, money("0.20"), True,
    )  # fmt: skip


def test_a_new_channel_takes_nothing_unless_typed(signed: Client) -> None:
    page(signed, "channel-new").send(name="Stall", payment="cash", commission_before_tax=None)
    made = ChannelTerms.objects.get()
    assert (made.commission, made.card_rate, made.fixed_fee, made.commission_before_tax) == (0, 0, 0, False)


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saved_as_it_was_opened_a_channel_is_the_same(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    channel = SalesChannel.objects.create(name="Stall")
    facts: list[dict[str, Any]] = [
        {
            "commission": 355_500,
            "card_rate": 17_501,
            "fixed_fee": money("0.20"),
            "commission_before_tax": False,
        },
        {"holds_from": TODAY, "commission": 0},
        {"holds_from": TODAY + DAY, "commission_before_tax": True},
    ]
    made = [ChannelTerms.objects.create(channel=channel, **terms) for terms in facts]
    before = [*SalesChannel.objects.values(), *ChannelTerms.objects.order_by("pk").values()]
    assert page(signed, "channel-edit", channel.pk).send().redirect_chain
    for terms in made:
        assert page(signed, "terms-edit", terms.pk).send().redirect_chain
    assert [*SalesChannel.objects.values(), *ChannelTerms.objects.order_by("pk").values()] == before


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"name": ""}, "name"), ({"name": "Stall"}, "name"), ({"commission": "101"}, "commission")],
)
def test_a_wrong_entry_is_refused_at_its_field(signed: Client, typed: dict[str, str], field: str) -> None:
    SalesChannel.objects.create(name="Stall")
    sent = page(signed, "channel-new").fields | {"name": "Gallery", "payment": "gallery"} | typed
    answer: Any = signed.post(reverse("costing:channel-new"), sent)
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, [field])
    assert SalesChannel.objects.count() == 1


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "Stall"}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"commission": 1_000_001}, "commission"),
        ({"card_rate": -1}, "card_rate"),
        ({"fixed_fee": -1}, "fixed_fee"),
        ({"commission": None}, None),
    ],
)
def test_what_breaks_a_rule_is_refused_by_the_action(
    owner: User, facts: dict[str, Any], field: str | None
) -> None:
    SalesChannel.objects.create(name="Stall")
    channel = SalesChannel(name=facts.pop("name", "Gallery"))
    with pytest.raises(InputError) as refusal:
        add_channel(
            channel, ChannelTerms(**{"commission": 1, **facts}), submission=Submission(owner, AT, TODAY)
        )
    assert refusal.value.field == field
    assert (SalesChannel.objects.count(), ChannelTerms.objects.count()) == (1, 0)


def test_a_deactivated_channel_is_offered_no_longer_and_may_come_back(signed: Client) -> None:
    channel = SalesChannel.objects.create(name="Stall")
    address = reverse("costing:channel-activity", args=[channel.pk])
    for answer, is_active in (("no", False), ("yes", True), ("", False)):
        signed.post(address, {"active": answer})
        assert SalesChannel.objects.get().is_active == is_active


def test_a_channel_is_deleted_only_while_nothing_was_sold_there(signed: Client, owner: User) -> None:
    unused = SalesChannel.objects.create(name="Stall")
    page(signed, "channel-delete", unused.pk).send()
    assert not SalesChannel.objects.exists()
    used = small_studio().sale.channel
    with pytest.raises(InUse):
        delete_row(used, submission=Submission(owner, AT, TODAY))
    assert page(signed, "channel-delete", used.pk).send().status_code == 422
    assert SalesChannel.objects.filter(pk=used.pk).exists()


def test_the_list_escapes_names_and_asks_no_more_for_more_rows(signed: Client) -> None:
    SalesChannel.objects.create(name=HOSTILE, is_active=False)
    address = reverse("costing:channels")
    assert HOSTILE not in signed.get(address).content.decode()
    few = queries(signed, address)
    for number in range(8):
        SalesChannel.objects.create(name=f"Stall {number}")
    assert queries(signed, address) == few
