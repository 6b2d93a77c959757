"""The studio's own settings: typed by the owner, whole and exact, and a currency that stays once it is used."""

from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from studio.accounts.models import User
from studio.errors import InputError
from studio.preferences.models import Studio
from studio.setup import menu
from studio.setup.actions import change_settings
from studio.submission import Submission
from studio.values.numbers import NO_BREAK_SPACE
from tests.days import AT, TODAY
from tests.making import make_lot, make_owner
from tests.programs import Program
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


def page(client: Client) -> Tab:
    address = reverse("studio-settings")
    return Tab(client, address, address)


def test_every_page_of_settings_is_linked_once_and_opens(signed: Client) -> None:
    html = signed.get(reverse("settings")).content.decode().partition("<main")[2].partition("</main>")[0]
    for item in menu.pages():
        address = reverse(item.to)
        assert html.count(f'href="{address}"') == 1, item.to
        assert signed.get(address).status_code == 200, item.to


def test_amounts_are_typed_as_people_type_them(signed: Client) -> None:
    assert page(signed).send(reserve="12.34 %", measuring_tolerance="7.5%").redirect_chain
    studio = Studio.current()
    assert (studio.reserve, studio.measuring_tolerance) == (123_400, 75_000)


def test_how_the_studio_measures_out_is_typed_with_its_units(signed: Client) -> None:
    sent = {
        "measures_by": "volume",
        "scale_step": "1 g",
        "measuring_step": "2.5 ml",
        "drop_size": "0.04 ml",
        "splash_size": "1 teaspoon",
        "stir_seconds": "90",
        "rest_seconds": "600",
        "water_limit": "40%",
        "water_reason": "Cells sink.",
    }
    assert page(signed).send(**sent).redirect_chain
    studio = Studio.current()
    assert (studio.measures_by, studio.scale_step, studio.measuring_step) == ("volume", 1000, 2500)
    assert (studio.drop_size, studio.splash_size, studio.water_limit) == (40, 5000, 400_000)
    assert (studio.stir_seconds, studio.rest_seconds) == (90, 600)
    assert studio.water_warning == "Cells sink."


def test_a_program_reads_how_the_studio_measures_out(helper: User) -> None:
    Studio.objects.update(scale_step=1000, water_limit=400_000)
    found = Program(helper).read("measuring/")
    assert (found["scale_step"]["amount"], found["drop_size"]["amount"]) == (1000, 50)
    assert (found["measures_by"], found["water_limit"]) == ("weight", "0.400000")
    assert (found["stir_seconds"], found["rest_seconds"]) == (120, 300)


def test_without_a_reason_of_its_own_the_usual_one_is_given() -> None:
    assert Studio.current().water_warning == "The film may craze or flake."


@pytest.mark.parametrize(
    "wrong",
    [{"scale_step": 0}, {"drop_size": -1}, {"measures_by": "eye"}, {"splash_size": 0}, {"rest_seconds": 0}],
)
def test_the_database_refuses_a_step_of_nothing(wrong: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Studio.objects.update(**wrong)


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_saved_as_it_was_opened_it_changes_nothing(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale, reserve=123_400)
    before = facts()
    assert page(signed).send().redirect_chain
    assert facts() | {"confirmed_at": None} == before


def test_the_currency_stays_once_anything_is_recorded(signed: Client) -> None:
    page(signed).send(currency="eur")
    assert Studio.current().currency == "EUR"
    make_lot()
    opened = page(signed)
    assert "currency" not in opened.fields, "it is shown and cannot be typed"
    opened.send(currency="USD", name="Renamed")
    assert (Studio.current().currency, Studio.current().name) == ("EUR", "Renamed")
    with pytest.raises(InputError) as refusal:
        change_settings(changed(currency="USD"), submission=Submission(make_owner(), AT, TODAY))
    assert refusal.value.field == "currency"
    assert Studio.current().currency == "EUR"


def facts() -> dict[str, Any]:
    return dict(Studio.objects.values().get())


def changed(**changes: Any) -> Studio:
    studio = Studio.current()
    for name, value in changes.items():
        setattr(studio, name, value)
    return studio


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("currency", "XXQ"),
        ("locale", "zz_zz_zz"),
        ("name", ""),
        ("language", "xx"),
        ("fluid_system", "troy"),
        ("paper", "B5"),
        ("reserve", -1),
        ("measuring_tolerance", 1_000_001),
        ("varnish_after_days", -1),
        ("measures_by", "eye"),
        ("scale_step", 0),
        ("scale_step", 10_001),
        ("measuring_step", 50_001),
        ("drop_size", 1_001),
        ("splash_size", 0),
        ("water_limit", 1_000_001),
        ("stir_seconds", 29),
        ("rest_seconds", 14_401),
    ],
)
def test_what_breaks_a_rule_is_refused_by_the_model_or_the_action(field: str, value: object) -> None:
    before = facts()
    with pytest.raises(InputError) as refusal:
        change_settings(changed(**{field: value}), submission=Submission(make_owner(), AT, TODAY))
    assert refusal.value.field == field
    assert facts() == before


@pytest.mark.parametrize(
    ("field", "typed"), [("currency", "XXQ"), ("locale", "zz_zz_zz"), ("reserve", "120")]
)
def test_a_page_with_a_wrong_entry_is_refused_at_its_field(signed: Client, field: str, typed: str) -> None:
    before = facts()
    answer: Any = signed.post(reverse("studio-settings"), page(signed).fields | {field: typed})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert facts() == before


def test_numbers_and_dates_are_chosen_from_a_list_with_examples(signed: Client) -> None:
    html = signed.get(reverse("studio-settings")).content.decode()
    assert "German (Germany): 1.234,50 £, 31.12.2026" in html.replace(NO_BREAK_SPACE, " ")
    assert '<option value="EUR">Euro</option>' in html
    page(signed).send(locale="de_DE")
    assert Studio.current().locale == "de_DE"


def test_a_format_that_no_list_names_may_stay(signed: Client) -> None:
    Studio.objects.update(locale="pt-AO")
    opened = page(signed)
    assert opened.fields["locale"] == "pt-AO"
    opened.send(name="Renamed")
    assert (Studio.current().name, Studio.current().locale) == ("Renamed", "pt-AO")
