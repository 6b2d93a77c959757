"""Pieces for programs, one by one and several at once."""

from costing.pieces.api.pieces import VIEWSETS

__all__ = ["VIEWSETS"]
