"""How one person likes the pages: the bottom bar, keys, and the filters that a list keeps for her."""

import pytest
from django.test import Client
from django.urls import reverse

from studio.accounts.models import Role, User
from studio.auditing.queries import last_change_number
from studio.pages.navigation import bar, bar_choices
from tests.making import make_helper, make_owner

pytestmark = pytest.mark.django_db

PAGE = "own-pages"
USUAL = ["home", "inventory:plans", "inventory:session-new", "costing:sale-new"]


def places(*names: str, **more: str) -> dict[str, str]:
    return {f"place_{number}": name for number, name in enumerate(names, start=1)} | more


def bar_of(person: User) -> list[str]:
    return [entry.to for entry in bar(User.objects.get(pk=person.pk))]


def test_the_bottom_bar_leads_to_today_planning_logging_and_selling() -> None:
    assert bar_of(make_owner()) == USUAL


def test_who_may_not_write_finds_the_lists_there_instead_of_the_forms() -> None:
    reader = User.objects.create_user("ledgerwood", role=Role.BOOKKEEPER)
    assert bar_of(reader) == ["home", "inventory:plans", "inventory:sessions", "costing:sales"]


def test_each_person_chooses_her_own_bar(client: Client) -> None:
    owner, helper = make_owner(), make_helper()
    client.force_login(owner)
    chosen = ["inventory:stock", "home", "costing:pieces", "inventory:shopping-list"]
    assert client.post(reverse(PAGE), places(*chosen, has_keys="on")).status_code == 302
    assert bar_of(owner) == chosen
    assert bar_of(helper) == USUAL


def test_a_page_has_one_place_only(client: Client) -> None:
    owner = make_owner()
    client.force_login(owner)
    answer = client.post(reverse(PAGE), places("home", "home", "costing:pieces", "inventory:stock"))
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["place_2"]
    assert bar_of(owner) == USUAL


def test_a_page_that_she_may_not_see_can_not_be_chosen(client: Client) -> None:
    client.force_login(make_helper())
    answer = client.post(reverse(PAGE), places("settings", *USUAL[1:]))
    assert list(answer.context["form"].errors) == ["place_1"]


def test_a_page_that_she_may_no_longer_see_leaves_the_bar() -> None:
    owner = make_owner()
    owner.page_choices = {"bar": ["settings", "home"]}
    owner.role = Role.HELPER
    owner.save()
    assert bar_of(owner) == ["home"]


def test_no_two_pages_have_one_key() -> None:
    keys = [entry.key for entry in bar_choices(make_owner()) if entry.key]
    assert len(keys) == len(set(keys))


def test_keys_are_switched_off_for_one_person(client: Client) -> None:
    client.force_login(make_owner())
    assert b'id="keys"' in client.get(reverse("home")).content
    client.post(reverse(PAGE), places(*USUAL))
    assert b'id="keys"' not in client.get(reverse("home")).content


def test_a_list_opens_with_the_filters_chosen_last_until_they_are_cleared(client: Client) -> None:
    client.force_login(make_owner())
    stock = reverse("inventory:stock")
    client.get(stock, {"keep": "1", "kind": "paint", "search": ""})
    again = client.get(stock)
    assert (again.status_code, again["Location"]) == (302, f"{stock}?kind=paint&keep=1")
    assert client.get(reverse("inventory:materials")).status_code == 200
    assert client.get(stock, {"forget": "1"})["Location"] == stock
    assert client.get(stock).status_code == 200


def test_a_bar_sent_empty_forgets_too(client: Client) -> None:
    client.force_login(make_owner())
    stock = reverse("inventory:stock")
    client.get(stock, {"keep": "1", "kind": "paint"})
    client.get(stock, {"keep": "1", "kind": "", "search": ""})
    assert client.get(stock).status_code == 200


def test_a_link_to_a_part_of_a_list_and_a_filter_that_is_wrong_change_nothing(client: Client) -> None:
    client.force_login(make_owner())
    stock = reverse("inventory:stock")
    client.get(stock, {"kind": "paint"})
    client.get(stock, {"keep": "1", "as_of": "yesterday"})
    assert client.get(stock).status_code == 200


def test_filters_are_kept_for_one_person_and_all_cleared_at_once(client: Client) -> None:
    owner, stock = make_owner(), reverse("inventory:stock")
    client.force_login(owner)
    client.get(stock, {"keep": "1", "kind": "paint"})
    client.force_login(make_helper())
    assert client.get(stock).status_code == 200
    client.force_login(owner)
    assert client.get(stock).status_code == 302
    client.post(reverse(PAGE), {"forget_filters": "1"})
    assert client.get(stock).status_code == 200


def test_the_change_log_does_not_mind_how_somebody_likes_her_pages(client: Client) -> None:
    owner = make_owner()
    client.force_login(owner)
    before = last_change_number(User, owner.pk)
    client.post(reverse(PAGE), places(*USUAL))
    client.get(reverse("inventory:stock"), {"keep": "1", "kind": "paint"})
    assert last_change_number(User, owner.pk) == before
