"""The room's endpoints."""

from inventory.plans.api import plans, repeats

VIEWSETS = {**plans.VIEWSETS, **repeats.VIEWSETS}
