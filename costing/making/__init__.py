"""Pieces from their pours to their finish."""
