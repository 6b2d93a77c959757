"""Backups: making, proving and restoring them on either database."""
