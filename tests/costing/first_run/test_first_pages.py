"""The first pages of an empty studio: what a country sets, what is ticked, what is there already."""

import pytest
from django.test import Client
from django.urls import reverse

from costing.first_run.starter_set import INCHES, METRIC, SUNDRIES, WATER
from costing.pricing.models import SalesChannel
from inventory.ledger.models import Books, Lot, Posting, Reason
from inventory.materials.models import Kind, Material
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.preferences.models import Rates, Studio
from tests.costing.pages import as_user, text_of
from tests.inventory.invariants import assert_books_hold
from tests.making import make_helper, make_material

pytestmark = pytest.mark.django_db

BEGIN, MATERIALS, STOCK = "/begin/", "/begin/materials/", "/begin/stock/"


def studio_form(**changes: str) -> dict[str, str]:
    return {"name": "Netloft Studio", "country": "GB", "costing_method": "fifo", **changes}


@pytest.mark.parametrize(
    ("country", "facts"),
    [
        ("GB", ("GBP", "en-gb", "en_GB", "A4", "imperial")),
        ("DE", ("EUR", "de", "de_DE", "A4", "us")),
        ("US", ("USD", "en-gb", "en_US", "Letter", "us")),
        ("CH", ("CHF", "de", "de_CH", "A4", "us")),
        ("JP", ("JPY", "en-gb", "ja_JP", "A4", "us")),
    ],
)
def test_a_country_sets_what_is_usual_there(country: str, facts: tuple[str, ...], signed: Client) -> None:
    assert signed.post(BEGIN, studio_form(country=country)).headers["Location"] == MATERIALS
    studio = Studio.current()
    assert (studio.currency, studio.language, studio.locale, studio.paper, studio.fluid_system) == facts
    assert studio.name == "Netloft Studio"
    assert studio.confirmed_at is not None


def test_fluid_ounces_are_named_only_where_bottles_are_marked_in_them(signed: Client) -> None:
    words = text_of(signed.post(BEGIN, studio_form(country="NL"), follow=True))
    assert "Set for your country: EUR, English, A4. Prices" in words


def test_rates_are_read_as_the_country_writes_them_and_hold_from_the_beginning(signed: Client) -> None:
    signed.post(
        BEGIN, studio_form(country="DE", wage_per_hour="12,50", tax_rate="19 %", costing_method="average")
    )
    rates = Rates.objects.get()
    assert (rates.holds_from, rates.wage_per_hour, rates.tax_rate) == (None, 12_500_000, 190_000)
    books = Books.objects.get()
    assert books.costing_method == "average"
    assert books.costing_method_chosen_at is not None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": ""}, "name"),
        ({"country": ""}, "country"),
        ({"country": "EU"}, "country"),
        ({"wage_per_hour": "much"}, "wage_per_hour"),
        ({"tax_rate": "200%"}, "tax_rate"),
        ({"costing_method": "lifo"}, "costing_method"),
    ],
)
def test_what_is_wrong_is_told_at_its_field_and_nothing_is_half_written(
    wrong: dict[str, str], field: str, signed: Client
) -> None:
    answer = signed.post(BEGIN, studio_form(**wrong))
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert Studio.current().confirmed_at is None
    assert Books.objects.get().costing_method_chosen_at is None
    assert not Rates.objects.exists()


def test_the_first_page_is_closed_once_the_settings_are_saved(signed: Client) -> None:
    signed.post(BEGIN, studio_form())
    answer = signed.post(BEGIN, studio_form(name="Another", country="US"))
    assert answer.headers["Location"] == reverse("studio-settings")
    assert Studio.current().name == "Netloft Studio"


def test_what_is_ticked_is_there_afterwards_once_in_the_studios_language(signed: Client) -> None:
    ticked = {"group0": ["water", "white"], "group1": ["canvas-30"], "group2": ["cups"], "group3": ["online"]}
    for _ in range(2):
        assert signed.post(MATERIALS, ticked).headers["Location"] == STOCK
    names = ["Canvas 30 × 30 cm", "Mixing cups", "Tap water", "White paint"]
    assert [each.name for each in Material.objects.all()] == names
    water = Material.objects.get(name="Tap water")
    assert (water.is_free, water.density, water.water_share) == (True, 1_000_000, 1_000_000)
    assert [each.name for each in SalesChannel.objects.all()] == ["Online shop"]
    assert "Tap water" not in text_of(signed.get(MATERIALS))  # it is there already


@pytest.mark.parametrize(
    ("person", "country", "names", "heading"),
    [
        ("en-gb", "DE", ["Leitungswasser", "Onlineshop", "Dirty Pour", "Geschenk"], "Where you sell"),
        ("de", "GB", ["Tap water", "Online shop", "Dirty pour", "Gift"], "Wo Sie verkaufen"),
        ("de", "DE", ["Leitungswasser", "Onlineshop", "Dirty Pour", "Geschenk"], "Wo Sie verkaufen"),
    ],
)
def test_names_are_offered_and_saved_in_the_studios_language_on_pages_in_the_readers(
    person: str, country: str, names: list[str], heading: str, owner: User
) -> None:
    owner.language = person
    owner.save()
    client = as_user(owner)
    client.post(BEGIN, studio_form(country=country))
    page = client.get(MATERIALS)
    words = text_of(page)
    assert page.headers["Content-Language"] == person
    assert all(name in words for name in (names[0], names[1], heading))
    client.post(MATERIALS, {"group0": ["water"], "group3": ["online"]})
    assert Material.objects.get().name == names[0]
    assert SalesChannel.objects.get().name == names[1]
    assert Technique.objects.filter(name=names[2]).exists()
    assert Reason.objects.filter(name=names[3]).exists()
    assert names[0] not in text_of(client.get(MATERIALS))  # it is there already


@pytest.mark.parametrize("item", [WATER, *METRIC, *INCHES, *SUNDRIES], ids=lambda item: item.code)
def test_every_starter_is_a_material_that_could_be_typed(item: object) -> None:
    material = item.material()  # type: ignore[attr-defined]
    material.full_clean()
    material.save()
    assert material.kind != Kind.SURFACE or material.height > 0


def test_surfaces_are_in_inches_where_paper_is_us_letter(signed: Client) -> None:
    signed.post(BEGIN, studio_form(country="US"))
    signed.post(MATERIALS, {"group1": ["canvas-12in"]})
    canvas = Material.objects.get()
    assert (canvas.height, canvas.width) == (30_480, 30_480)  # 12 in of 2.54 cm (ISO 31)


def test_what_she_has_becomes_opening_stock_and_blank_lines_are_left_out(signed: Client) -> None:
    white, gold = make_material(name="White"), make_material(name="Gold")
    cups = make_material(name="Cups", kind=Kind.SUNDRY, measure="count", density=None)
    page = signed.get(STOCK)
    key = page.context["form"]["key"].initial
    filled = {
        "key": key,
        "on": "2025-06-01",
        f"amount{white.pk}": "1/2 l",
        f"cost{white.pk}": "20",
        f"amount{cups.pk}": "50",
        f"cost{cups.pk}": "0",
    }
    for _ in range(2):  # sent again it is posted once
        assert signed.post(STOCK, filled).headers["Location"] == "/"
    held = {lot.material.name: (lot.balance.quantity, lot.balance.money) for lot in Lot.objects.all()}
    assert held == {"White": (500_000, 20_000_000), "Cups": (50_000, 0)}
    assert str(Posting.objects.get().effective_on) == "2025-06-01", "so that sessions since then find it"
    assert [line.material for line in signed.get(STOCK).context["form"].lines()] == [gold]
    assert_books_hold()


@pytest.mark.parametrize(
    ("amount", "cost", "field"),
    [
        ("500 ml", "", "cost"),
        ("", "5", "amount"),
        ("heaps", "5", "amount"),
        ("0 ml", "5", "amount"),
        ("2 m", "1", "amount"),
    ],
)
def test_half_a_line_is_asked_about(amount: str, cost: str, field: str, signed: Client) -> None:
    white = make_material(name="White")
    key = signed.get(STOCK).context["form"]["key"].initial
    answer = signed.post(
        STOCK, {"key": key, "on": "2025-06-01", f"amount{white.pk}": amount, f"cost{white.pk}": cost}
    )
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [f"{field}{white.pk}"]
    assert not Lot.objects.exists()


def test_an_amount_by_weight_asks_once_how_heavy_a_millilitre_is(signed: Client) -> None:
    """1 kg of glue at 1.25 g/mL is 800 mL; what was asked for stands with the material afterwards."""
    glue = make_material(name="Glue", density=None)
    key = signed.get(STOCK).context["form"]["key"].initial
    filled = {"key": key, "on": "2025-06-01", f"amount{glue.pk}": "1 kg", f"cost{glue.pk}": "8"}
    asked = signed.post(STOCK, filled)
    assert list(asked.context["form"].errors) == [f"density{glue.pk}"]
    assert f'name="density{glue.pk}"' in asked.content.decode()
    assert not Lot.objects.exists()
    assert signed.post(STOCK, {**filled, f"density{glue.pk}": "heavy"}).status_code == 422
    for _ in range(2):
        assert signed.post(STOCK, {**filled, f"density{glue.pk}": "1.25 g/ml"}).status_code == 302
    assert [lot.balance.quantity for lot in Lot.objects.all()] == [800_000]
    glue.refresh_from_db()
    assert glue.density == 1_250_000
    assert_books_hold()


def test_a_helper_has_no_part_in_it(owner: object) -> None:
    client = as_user(make_helper())
    for page in (BEGIN, MATERIALS, STOCK):
        assert client.get(page).status_code == 403
