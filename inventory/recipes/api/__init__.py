"""The room's endpoints."""

from inventory.recipes.api import mixes, ratios, recipes

VIEWSETS = {**recipes.VIEWSETS, **mixes.VIEWSETS, **ratios.VIEWSETS}
