"""Folders of their own for archives and photos."""

from pathlib import Path

import pytest
from pytest_django import Settings

from tests.studio.backups.test_backups import books

__all__ = ["books"]


@pytest.fixture
def own_folders(tmp_path: Path, settings: Settings) -> None:
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path / "data", tmp_path / "photos"
