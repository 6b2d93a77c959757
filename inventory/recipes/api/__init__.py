"""The room's endpoints."""

from inventory.recipes.api import ratios, recipes

VIEWSETS = {**recipes.VIEWSETS, **ratios.VIEWSETS}
