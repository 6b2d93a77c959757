"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.recipes.views import batches, editing, recipes

urlpatterns: list[URLPattern] = [
    path("mixes/new/", batches.new, name="mix-new"),
    path("recipes/new/", editing.new, name="recipe-new"),
    path("recipes/<int:pk>/version/", editing.version, name="recipe-version"),
    path("recipes/", recipes.recipes, name="recipes"),
    path("recipes/<int:pk>/", recipes.recipe, name="recipe"),
]
