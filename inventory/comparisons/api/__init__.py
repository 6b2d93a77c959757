"""Comparisons and counts on photos for programs."""

from inventory.comparisons.api.comparisons import ComparisonViewSet
from inventory.comparisons.api.photo_counts import PhotoCountViewSet

VIEWSETS = {"comparisons": ComparisonViewSet, "photo-counts": PhotoCountViewSet}
