"""Every page that deletes a row, with a row that may be deleted there: tried by test_no_lost_rows."""

from collections.abc import Callable
from typing import Any

from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.markets.models import MarketDay
from costing.pricing.models import ChannelTerms, SalesChannel
from inventory.materials.models import Supply
from inventory.sessions.models import Flaw, Technique
from inventory.webhooks.models import Webhook
from studio.preferences.models import Rates
from tests.costing.overhead.stories import a_year
from tests.days import TODAY
from tests.making import make_material, make_plan, make_supplier, make_surface, planned_line

DELETING: dict[str, Callable[[], Any]] = {
    "costing:location-delete": lambda: Location.objects.create(name="Ebb box", kind="box"),
    "costing:contact-erase": lambda: Contact.objects.create(name="Ebb"),
    "inventory:material-delete": lambda: make_material(name="Ebb grey"),
    "inventory:technique-delete": lambda: Technique.objects.create(name="Ebb", coverage=200, source="guess"),
    "inventory:plan-delete": lambda: make_plan(planned_line(make_surface(), 1, make_material())),
    "costing:overhead-delete": lambda: a_year(first=TODAY, last=TODAY),
    "costing:overhead-line-delete": lambda: a_year(
        ("Ebb", "10.00", None), first=TODAY, last=TODAY
    ).lines.get(),
    "rates-delete": lambda: Rates.objects.create(holds_from=TODAY, wage_per_hour=9_000_000),
    "costing:terms-delete": lambda: ChannelTerms.objects.create(
        channel=SalesChannel.objects.create(name="Ebb market"), commission=100_000
    ),
    "inventory:webhook-delete": lambda: Webhook.objects.create(
        address="https://ebb.example/", events="alert.raised"
    ),
    "inventory:flaw-delete": lambda: Flaw.objects.create(name="Ebb"),
    "costing:market-delete": lambda: MarketDay.objects.create(
        name="Ebb", held_on=TODAY, cash_channel=SalesChannel.objects.create(name="Ebb market")
    ),
    "costing:channel-delete": lambda: SalesChannel.objects.create(name="Ebb market"),
    "inventory:supplier-delete": lambda: make_supplier(name="Ebb Stores"),
    "inventory:pack-delete": lambda: Supply.objects.create(
        supplier=make_supplier(), material=make_material(), pack_size=500_000, price=9_000_000
    ),
}
