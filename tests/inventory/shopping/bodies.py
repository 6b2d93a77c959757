"""Bodies that the endpoints of the shopping list take as they stand."""

from typing import Any

from django.utils import timezone

from inventory.shopping.models import ShoppingEntry
from inventory.shopping.queries import shopping_list
from tests.small_studio import SmallStudio


def bodies_of_shopping(studio: SmallStudio) -> dict[str, dict[str, Any]]:
    lines = [packs for line in shopping_list(timezone.localdate()).lines for packs in line.packs]
    return {
        "shopping-list/": {"material": studio.paint.pk, "quantity": "250 ml"},
        "shopping-ticks/": {"material": studio.varnish.pk, "ticked": True},
        "shopping-choices/": {"pack": studio.supply.pk, "packs": 2},
        "shopping-removals/": {"entry": ShoppingEntry.objects.get(text="Kitchen roll").pk},
        "shopping-orders/": {"lines": [{"pack": packs.supply.pk, "packs": packs.count} for packs in lines]},
    }
