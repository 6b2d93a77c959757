"""Factories for the plain things a story needs: people, materials, suppliers, recipes; names invented."""

# factory-boy ships no types for its declarations.
# mypy: disable-error-code="no-untyped-call"

from typing import Any, TypeVar

from django.db import transaction
from django.db.models import Model
from factory.declarations import LazyAttribute, Maybe, Sequence, SubFactory, Trait
from factory.django import DjangoModelFactory

from inventory.materials.models import Kind, Material, MeasureChoice, Supplier
from inventory.recipes.models import Recipe, RecipePart, RecipeVersion
from studio.accounts.models import Role, User
from studio.auditing.chain import sealing
from tests.days import TODAY

Row = TypeVar("Row", bound=Model)


class RowFactory(DjangoModelFactory[Row]):
    """Makes a row, and those that it refers to, in one transaction with one seal, as actions do."""

    class Meta:
        abstract = True

    @classmethod
    def create(cls, **facts: Any) -> Row:
        with transaction.atomic(), sealing():
            return super().create(**facts)


class UserFactory(RowFactory[User]):
    class Meta:
        model = User
        django_get_or_create = ("username",)

    username = Sequence(lambda number: f"person{number}")
    role = Role.HELPER
    password = "!"  # cannot sign in by password; tests sign in with force_login


class SupplierFactory(RowFactory[Supplier]):
    class Meta:
        model = Supplier

    name = Sequence(lambda number: f"Merchant {number}")


class MaterialFactory(RowFactory[Material]):
    class Meta:
        model = Material

    name = Sequence(lambda number: f"Material {number}")
    kind = Kind.PAINT
    measure = MeasureChoice.VOLUME
    density = Maybe("has_density", 1_120_000, None)

    class Params:
        has_density = LazyAttribute(lambda made: made.measure in (MeasureChoice.VOLUME, MeasureChoice.MASS))
        surface = Trait(
            kind=Kind.SURFACE,
            measure=MeasureChoice.COUNT,
            has_density=False,
            height=30_000,
            width=30_000,
            depth=1_800,
        )
        water = Trait(kind=Kind.MEDIUM, density=1_000_000, is_free=True, water_share=1_000_000)


class RecipeFactory(RowFactory[Recipe]):
    class Meta:
        model = Recipe

    name = Sequence(lambda number: f"Recipe {number}")
    makes = SubFactory(MaterialFactory, kind=Kind.MIX, has_density=False)


class RecipeVersionFactory(RowFactory[RecipeVersion]):
    class Meta:
        model = RecipeVersion

    recipe = SubFactory(RecipeFactory)
    number = 1
    written_on = TODAY


class RecipePartFactory(RowFactory[RecipePart]):
    class Meta:
        model = RecipePart

    version = SubFactory(RecipeVersionFactory)
    material = SubFactory(MaterialFactory)
    parts = 1_000
    line = 1
