"""One box for everything: words and codes, by role, on pages and for programs."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.contacts.models import Contact
from costing.selling.models import Sale
from inventory.materials.models import Supply
from studio.accounts.models import User
from studio.search.filters import found_pages, pages_for
from studio.search.queries import A_KIND, A_PAGE
from tests.days import TODAY
from tests.making import make_material, make_owner, make_supplier
from tests.programs import Program
from tests.small_studio import FIGURES, SmallStudio

pytestmark = pytest.mark.django_db
GTIN = "4006381333931"  # EAN-13, the example of python-stdnum's documentation and many textbooks


@pytest.fixture
def studio(built: SmallStudio) -> SmallStudio:
    return built


def found(user: User, text: str, **query: Any) -> dict[str, list[str]]:
    """What a program finds: the titles by kind."""
    answer = Program(user).read("search/", q=text, **query)
    return {kind["kind"]: [hit["title"] for hit in kind["hits"]] for kind in answer["kinds"]}


@pytest.mark.parametrize(
    ("text", "kind", "title"),
    [
        ("sail loft", "materials", "Sail Loft White"),
        ("LIMPET", "suppliers", "Limpet & Bung Colours"),
        ("white poured", "recipes", "White, poured"),
        ("slack", "pieces", "Slack tide"),
        ("wâter", "pieces", "Low water"),
    ],
)
def test_words_find_whatever_has_them_all(
    studio: SmallStudio, owner: User, text: str, kind: str, title: str
) -> None:
    assert title in found(owner, text)[kind]


def test_a_word_that_nothing_has_finds_nothing_and_says_so(
    studio: SmallStudio, client: Client, owner: User
) -> None:
    client.force_login(owner)
    assert found(owner, "sail nowhere") == {}
    answer = client.get(reverse("search"), {"q": "nowhere at all"})
    assert answer.status_code == 200
    assert answer.context["count"] == 0


def numbered_sale(studio: SmallStudio) -> Sale:
    return Sale.objects.create(channel=studio.channel, sold_on=TODAY, number=1, recorded_by=make_owner())


def code_of(studio: SmallStudio, what: str) -> tuple[str, str]:
    """What is typed, and the page that it opens."""
    Supply.objects.filter(pk=studio.supply.pk).update(barcode=GTIN)
    lot, sale = studio.lot, numbered_sale(studio)
    return {
        "piece": (studio.for_sale.number.lower(), reverse("costing:piece", args=[studio.for_sale.pk])),
        "lot": (lot.label, reverse("inventory:lot", args=[lot.pk])),
        "pour": (studio.loose.label, reverse("inventory:pour", args=[studio.loose.pk])),
        "order": ("order 1", reverse("inventory:order", args=[studio.order.pk])),
        "receipt": (f"Receipt no. {sale.number}", reverse("costing:sale", args=[sale.pk])),
        "barcode": (
            f" {GTIN[:1]} {GTIN[1:7]} {GTIN[7:]}",
            reverse("inventory:material", args=[studio.varnish.pk]),
        ),
        "long barcode": (f"0{GTIN}", reverse("inventory:material", args=[studio.varnish.pk])),
    }[what]


@pytest.mark.parametrize("what", ["piece", "lot", "pour", "order", "receipt", "barcode", "long barcode"])
def test_a_code_opens_its_page_at_once(
    studio: SmallStudio, client: Client, owner: User, helper: User, what: str
) -> None:
    text, page = code_of(studio, what)
    for person in (owner, helper):
        client.force_login(person)
        answer = client.get(reverse("search"), {"q": text})
        assert (answer.status_code, answer.headers.get("Location")) == (302, page)
        assert Program(person).read("search/", q=text)["opens"]["url"] == page


def test_a_number_that_two_things_have_opens_neither(
    studio: SmallStudio, client: Client, owner: User
) -> None:
    assert numbered_sale(studio).number == studio.order.number
    client.force_login(owner)
    answer = client.get(reverse("search"), {"q": str(studio.order.number)})
    assert answer.status_code == 200
    assert {group.kind.name for group in answer.context["found"] if group.exact} >= {"orders", "sales"}


def test_who_may_not_see_contacts_finds_none(
    studio: SmallStudio, owner: User, helper: User, bookkeeper: User
) -> None:
    Contact.objects.create(name="Quoin Ferrow")
    assert "contacts" in found(owner, "quoin")
    assert "contacts" in found(helper, "quoin")
    assert found(bookkeeper, "quoin") == {}
    refused = Program(bookkeeper).get("search/", q="quoin", kind="contacts")
    assert refused.status_code == 400


def test_nobody_finds_money(studio: SmallStudio, client: Client, helper: User) -> None:
    client.force_login(helper)
    for text in ("a", "e", "white", *FIGURES):
        shown = client.get(reverse("search"), {"q": text}, follow=True).content.decode().partition("<main")[2]
        said = str(Program(helper).read("search/", q=text)["kinds"])
        assert not [
            figure
            for figure in FIGURES
            if figure in (shown.replace(f"“{text}”", "").replace(f'value="{text}"', "") + said)
        ]


def test_every_hit_leads_to_a_page_that_its_finder_may_open(
    studio: SmallStudio, owner: User, helper: User, bookkeeper: User
) -> None:
    for person in (owner, helper, bookkeeper):
        client = Client()
        client.force_login(person)
        urls = {
            hit["url"]
            for letter in "a"
            for kind in Program(person).read("search/", q=letter)["kinds"]
            for hit in kind["hits"]
        }
        assert len(urls) > 10
        assert {url: client.get(url).status_code for url in urls} == dict.fromkeys(urls, 200)


def test_many_hits_are_shown_in_part_and_all_of_a_kind_page_by_page(
    studio: SmallStudio, client: Client, owner: User
) -> None:
    for number in range(A_PAGE + 3):
        make_material(name=f"Tidewrack {number:03}")
    client.force_login(owner)
    [group] = client.get(reverse("search"), {"q": "tidewrack"}).context["found"]
    assert (group.count, len(group.hits)) == (A_PAGE + 3, A_KIND)
    second = client.get(reverse("search"), {"q": "tidewrack", "kind": "materials", "page": "2"}).context
    assert (second["count"], [hit.title for hit in second["hits"]][-1]) == (
        A_PAGE + 3,
        f"Tidewrack {A_PAGE + 2:03}",
    )
    assert len(found(owner, "tidewrack", kind="materials")["materials"]) == A_PAGE
    assert len(found(owner, "tidewrack", kind="materials", page=2)["materials"]) == 3
    assert Program(owner).get("search/", q="tidewrack", kind="materials", page=3).status_code == 404


def test_the_number_of_queries_does_not_grow_with_what_is_found(
    studio: SmallStudio, client: Client, owner: User
) -> None:
    client.force_login(owner)

    def queries(text: str) -> int:
        client.get(reverse("search"), {"q": text})
        with CaptureQueriesContext(connection) as captured:
            client.get(reverse("search"), {"q": text})
        return len(captured)

    before = queries("low")
    for number in range(20):
        make_material(name=f"Low tide {number}")
        make_supplier(name=f"Low and sons {number}")
    assert queries("low") == before


@pytest.mark.parametrize(
    "text", ["%", "_", "'", "\\", "<script>", "P0000", "L0", "0", "١٢", "9" * 90, "a\u0301"]
)
def test_odd_texts_are_looked_for_as_they_are(
    studio: SmallStudio, client: Client, owner: User, text: str
) -> None:
    client.force_login(owner)
    assert client.get(reverse("search"), {"q": text}).status_code in (200, 302)
    assert Program(owner).get("search/", q=text).status_code == 200


def test_what_cannot_be_looked_for_is_refused(client: Client, owner: User) -> None:
    client.force_login(owner)
    assert client.get(reverse("search"), {"q": "x" * 101}).status_code == 422
    assert client.get(reverse("search"), {"q": "a\0"}).status_code == 422
    for query in ({}, {"q": " "}, {"q": "x" * 101}, {"q": "a", "kind": "nothing"}, {"q": "a", "where": "b"}):
        assert Program(owner).get("search/", **query).status_code == 400


@pytest.mark.parametrize(
    ("text", "page"),
    [
        ("decant", "inventory:stock"),
        ("sales channel", "costing:channels"),
        ("export", "backups"),
        ("close the year", "costing:year-end"),
        ("close the year", "inventory:closing"),
        ("gallery terms", "costing:channels"),
        ("opening stock", "inventory:opening-stock"),
        ("How do I DECANT", "inventory:stock"),
    ],
)
def test_what_she_wants_to_do_finds_its_page_before_anything_else(
    studio: SmallStudio, client: Client, owner: User, text: str, page: str
) -> None:
    client.force_login(owner)
    answer = client.get(reverse("search"), {"q": text})
    assert reverse(page) in [found.url for found in answer.context["found_pages"]]
    assert answer.content.decode().count('id="found-pages"') == 1
    assert reverse(page) in [found["url"] for found in Program(owner).read("search/", q=text)["pages"]]


def test_every_page_that_is_found_opens_for_who_finds_it(
    studio: SmallStudio, client: Client, owner: User, helper: User, bookkeeper: User
) -> None:
    for person in (owner, helper, bookkeeper):
        client.force_login(person)
        pages = list(pages_for(person))
        answers = {page.to: client.get(page.url).status_code for page in pages}
        assert answers == dict.fromkeys(answers, 200)
        assert all(page in found_pages(str(page.label), person) for page in pages)


def test_words_that_say_nothing_find_no_page(studio: SmallStudio, owner: User, helper: User) -> None:
    assert found_pages("how do I", owner) == found_pages("%", owner) == []
    assert found_pages("gallery terms", helper) == []
