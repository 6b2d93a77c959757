"""Favourite ratios, recipes and techniques are offered first, then what was used last."""

import pytest
from django.urls import reverse

from inventory.materials.models import Kind
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import Ratio, Recipe
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, text_of
from tests.inventory.recipe_stories import make_ratio
from tests.making import make_batch, make_lot, make_material, make_recipe, units
from tests.programs import Program

pytestmark = pytest.mark.django_db


def test_favourites_are_offered_first_and_then_what_was_used_last(owner: User) -> None:
    glue, paint = make_material(name="Glue", kind=Kind.MEDIUM), make_material(name="Blue")
    mixed_last, liked = (
        make_recipe(name=name, parts=[(paint, 1), (glue, part)]) for name, part in (("Ebb", 1), ("Neap", 2))
    )
    make_lot(material=paint)
    make_lot(material=glue)
    make_batch(version=mixed_last, quantity=units(100))
    make_ratio(name="Thick"), make_ratio(name="Thin")
    favourite_technique = Technique.objects.order_by("-name")[0]
    program = Program(owner)
    ratio = Ratio.objects.get(name="Thin")
    body = {"name": "Thin", "is_favourite": True, "parts": [{"role": "paint", "amount": "1"}]}
    program.send(f"ratios/{ratio.pk}/change/", body, status=200)
    program.send(f"recipes/{liked.recipe_id}/favourite/", {"is_favourite": True}, status=200)
    program.send(f"techniques/{favourite_technique.pk}/favourite/", {"is_favourite": True}, status=200)
    form_choices = FormChoices(Studio.current())
    assert [row.name for row in form_choices.ratios.values()] == ["Thin", "Thick"]
    groups = [[value for value, _name in group] for _label, group in form_choices.recipe_choices]
    assert groups == [[f"r{liked.recipe_id}"], [f"r{mixed_last.recipe_id}"]]
    colours = [[value for value, _name in group] for _label, group in form_choices.colour_choices[1:3]]
    assert colours == [[str(liked.recipe.makes_id)], [str(mixed_last.recipe.makes_id)]]
    _label, first = form_choices.technique_choices[1]
    assert first == [(str(favourite_technique.pk), favourite_technique.name)]


def test_a_recipe_becomes_a_favourite_on_its_page_and_is_one_no_longer(helper: User) -> None:
    recipe = make_recipe(parts=[(make_material(name="Blue"), 1)], name="Neap").recipe
    client, path = as_user(helper), reverse("inventory:recipe-favourite", args=[recipe.pk])
    for said, shown in (("yes", "Remove from favourites"), ("no", "Add to favourites")):
        page = client.post(path, {"is_favourite": said}, follow=True)
        assert Recipe.objects.get(pk=recipe.pk).is_favourite is (said == "yes")
        assert shown in text_of(page)
