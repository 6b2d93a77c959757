"""No update is lost by deleting: what was changed since the page asked is not deleted, and its change is told."""

from typing import Any

import pytest
from django.db.models import Model
from django.urls import reverse

from costing.overhead.models import OverheadYear
from costing.pricing.models import ChannelTerms
from inventory.materials.models import Supply
from inventory.webhooks.models import Webhook
from studio.preferences.models import Rates
from tests.deletions import DELETING
from tests.edit_pages import somebody
from tests.inventory.browsing import text_of
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", DELETING)
def test_what_was_changed_since_the_question_is_not_deleted(name: str) -> None:
    row = DELETING[name]()
    address = reverse(name, args=[row.pk])
    asked = Tab(somebody("second"), address, address)
    changes: dict[type[Model], dict[str, Any]] = {
        Supply: {"minimum_packs": 4},
        OverheadYear: {"hours": 4},
        Rates: {"wage_per_hour": 8_000_000},
        ChannelTerms: {"commission": 200_000},
        Webhook: {"address": "https://flood.example/"},
    }
    for column, value in changes.get(type(row), {"name": "Flood"}).items():
        setattr(row, column, value)
    row.save()
    refused = asked.send()
    assert refused.status_code == 422
    assert ": changed " in text_of(refused)
    assert type(row)._base_manager.filter(pk=row.pk).exists()
    asked.back(refused)
    assert asked.send().status_code == 200
    assert not type(row)._base_manager.filter(pk=row.pk).exists()
