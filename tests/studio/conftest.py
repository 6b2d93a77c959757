"""Who is signed in at the settings pages."""

import pytest
from django.test import Client

from studio.accounts.models import Role, User
from tests.inventory.browsing import as_user


@pytest.fixture
def signed(db: None) -> Client:
    """An owner with no rights but her role."""
    return as_user(User.objects.create(username="maud", role=Role.OWNER))
