"""What every room of costing's tests has on its shelf."""

import pytest

from inventory.materials.models import Material
from tests.costing.pages import make_varnish


@pytest.fixture
def varnish(db: None) -> Material:
    return make_varnish()
