"""A missing density is asked for where a cup needs it: a weighed sample, saved, and back to where she was."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Material
from inventory.sessions.models import Technique
from studio.auditing.queries import last_change_number
from studio.preferences.models import Studio
from tests.inventory.browsing import text_of
from tests.making import make_lot, make_material, make_recipe, make_surface, make_water, the_technique

pytestmark = pytest.mark.django_db


@pytest.fixture
def glue(db: None) -> Material:
    """In a recipe with tap water, without a density."""
    Technique.objects.update(coverage=100)
    Studio.objects.update(reserve=0)
    glue = make_material(name="Glue", density=None)
    make_lot(material=glue)
    make_recipe(parts=[(glue, 2), (make_water(name="Tap water"), 1)], name="Loft medium")
    return glue


def question(glue: Material) -> str:
    board = make_surface(name="Board", depth=None, sides_painted=False)
    made = glue.parts_of.get().version.recipe.makes
    query = f"surface={board.pk}&count=1&technique={the_technique().pk}&colour_1={made.pk}"
    return f"{reverse('inventory:stock-check')}?{query}"


def sent(client: Client, address: str, **typed: str) -> dict[str, str]:
    """The fields of the small form on a page, with what is typed."""
    (form,) = client.get(address).context["samples"]
    return {"seen": str(form["seen"].value()), "next": str(form["next"].value()), **typed}


def test_a_sample_weighed_in_an_answer_gives_its_cup_weights(signed: Client, glue: Material) -> None:
    # 50 mL of water at 20 °C weigh 49.91 g: 0.9982 g/mL (CRC Handbook of Chemistry and Physics; Tanaka et al. 2001).
    address, there = question(glue), reverse("inventory:material-density", args=[glue.pk])
    assert "Scale shows" in text_of(signed.get(address))
    response = signed.post(there, sent(signed, address, sample="50 ml", full="49.91 g"))
    assert response["Location"] == address
    glue.refresh_from_db()
    assert glue.density == 998_200
    assert signed.get(address).context["samples"] == []
    (cup,) = signed.get(address).context["answer"].cups
    assert all(part.scale_shows for part in cup.parts)
    assert last_change_number(Material, glue.pk)


def test_what_was_changed_since_the_page_was_opened_is_not_lost(signed: Client, glue: Material) -> None:
    address, there = question(glue), reverse("inventory:material-density", args=[glue.pk])
    stale = sent(signed, address, sample="50 ml", full="54.5 g")
    assert signed.post(there, stale).status_code == 302
    refused = signed.post(there, stale | {"full": "60 g"})
    assert refused.status_code == 422
    glue.refresh_from_db()
    assert glue.density == 1_090_000
    assert 'name="next"' in refused.content.decode(), "it still leads back"


@pytest.mark.parametrize("elsewhere", ["https://example.com/", "//example.com/", "javascript:alert(1)", ""])
def test_it_leads_nowhere_but_to_our_own_pages(signed: Client, glue: Material, elsewhere: str) -> None:
    there = reverse("inventory:material-density", args=[glue.pk])
    fields = sent(signed, question(glue), sample="50 ml", full="54.5 g") | {"next": elsewhere}
    assert signed.post(there, fields)["Location"] == reverse("inventory:material", args=[glue.pk])


def test_a_wrong_weight_is_said_and_nothing_is_saved(signed: Client, glue: Material) -> None:
    there = reverse("inventory:material-density", args=[glue.pk])
    refused = signed.post(there, sent(signed, question(glue), sample="50 ml", full="54 kg"))
    assert refused.status_code == 422
    glue.refresh_from_db()
    assert glue.density is None


def test_a_cup_asks_for_it_too(signed: Client, glue: Material) -> None:
    recipe = glue.parts_of.get().version.recipe
    address = f"{reverse('inventory:cup', args=[recipe.pk])}?wanted=300+ml"
    (form,) = signed.get(address).context["samples"]
    assert (form.instance, form["next"].value()) == (glue, address)
