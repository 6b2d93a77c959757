"""Comparisons, counts on photos, and how pours turned out, for programs."""

from inventory.comparisons.api.comparisons import ComparisonViewSet
from inventory.comparisons.api.outcomes import OutcomesViewSet
from inventory.comparisons.api.photo_counts import PhotoCountViewSet

VIEWSETS = {"comparisons": ComparisonViewSet, "photo-counts": PhotoCountViewSet, "outcomes": OutcomesViewSet}
