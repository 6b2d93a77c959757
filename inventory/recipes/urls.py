"""Addresses of the room's pages."""

from django.urls import URLPattern, path

from inventory.recipes.views import batches, editing, ratios, recipes, variants

urlpatterns: list[URLPattern] = [
    path("mixes/new/", batches.new, name="mix-new"),
    path("recipes/new/", editing.new, name="recipe-new"),
    path("recipes/<int:pk>/version/", editing.version, name="recipe-version"),
    path("recipes/<int:pk>/duplicate/", variants.duplicate, name="recipe-duplicate"),
    path("recipes/<int:pk>/for-paints/", variants.for_paints, name="recipe-for-paints"),
    path("recipes/<int:pk>/colour/", variants.colour, name="recipe-colour"),
    path("ratios/", ratios.ratios, name="ratios"),
    path("ratios/new/", ratios.new, name="ratio-new"),
    path("ratios/<int:pk>/edit/", ratios.edit, name="ratio-edit"),
    path("recipes/", recipes.recipes, name="recipes"),
    path("recipes/<int:pk>/favourite/", ratios.favourite_recipe, name="recipe-favourite"),
    path("recipes/<int:pk>/keep/", ratios.keep_recipe, name="recipe-keep"),
    path("recipes/<int:pk>/", recipes.recipe, name="recipe"),
]
