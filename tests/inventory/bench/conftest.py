"""A plan to be carried out: four boards, half in a blue of which a jar holds some, half in a white from the bottle."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.materials.models import Material
from inventory.plans.models import Plan
from inventory.sessions.models import Technique
from studio.preferences.models import Studio
from tests.making import (
    make_batch,
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_surface,
    planned_line,
    units,
)


@pytest.fixture
def blue(db: None) -> Material:
    """Two parts of paint (1.2 g/mL) and one of medium (1 g/mL), 60 mL of it mixed before."""
    Technique.objects.update(coverage=100)
    Studio.objects.update(reserve=0)
    paint = make_material(
        name="Harbour Blue", density=1_200_000, hazards="EUH208: may produce an allergic reaction."
    )
    medium = make_material(name="Pouring medium", density=1_000_000, kind="medium")
    for each in (paint, medium):
        make_lot(material=each)
    version = make_recipe(
        parts=[(paint, 2), (medium, 1)], makes=make_material(name="Tide Blue", kind="mix", has_density=False)
    )
    make_batch(version=version, quantity=units(60))
    return version.recipe.makes


@pytest.fixture
def plan(blue: Material) -> Plan:
    white = make_material(name="Chalk White", density=1_500_000)
    make_lot(material=white)
    day = timezone.localdate() + timedelta(days=3)
    return make_plan(planned_line(make_surface(sides_painted=False), 4, blue, white), on=day)
