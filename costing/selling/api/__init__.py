"""Sales for programs, and putting one right."""

from costing.selling.api.corrections import VIEWSETS

__all__ = ["VIEWSETS"]
