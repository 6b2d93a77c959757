"""Every page that edits a row: what two people type there, and what the second of them is told.

A page that takes a form and stands neither here nor, with a reason, in nothing_to_lose.py fails test_no_lost_updates.
"""

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.test import Client
from django.urls import reverse
from PIL import Image

from costing.commissions.models import Commission
from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.markets.models import MarketDay
from costing.overhead.models import OverheadLine, OverheadYear
from costing.pieces.models import Piece
from costing.pricing.models import ChannelTerms, PriceRules, SalesChannel
from inventory.alerts.models import DigestChoice
from inventory.comparisons.models import Comparison
from inventory.ledger.models import Lot, Reason
from inventory.materials.models import Material, Supplier, Supply
from inventory.purchasing.models import Order
from inventory.sessions.models import Flaw, Pour, Session, Technique
from inventory.webhooks.models import Webhook
from studio.accounts.models import Role, User
from studio.preferences.models import Rates, Studio
from tests.costing.commissions.stories import order_of
from tests.inventory.browsing import as_user
from tests.inventory.webhooks.hooks import some_webhook
from tests.making import make_helper
from tests.small_studio import SmallStudio
from tests.two_tabs import Tab

PASSWORDS = [
    "nine-oystercatchers-on-the-quay",
    "seven-herons-over-the-slipway",
    "four-terns-along-the-groyne",
]


def picture(shade: int) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (8, 8), (shade, 120, 130)).save(out, "PNG")
    return SimpleUploadedFile("picture.png", out.getvalue())


def password(number: int) -> dict[str, Any]:
    return {"password": PASSWORDS[number], "again": PASSWORDS[number]}


@dataclass(frozen=True)
class Edit:
    """A page that edits a row: what two people type there, what is stored, and what the second is told."""

    row: Callable[[SmallStudio], Any]
    stored: Callable[[Any], Any]
    typed: tuple[Callable[[], dict[str, Any]], Callable[[], dict[str, Any]]]
    says: str  # of the first one's change
    page: str = ""  # where the form stands, if it is not where it is sent
    keeps: bool = True  # what was typed comes back


def says(**typed: Any) -> Callable[[], dict[str, Any]]:
    return lambda: typed


def weighable(studio: SmallStudio) -> Session:
    """Its session, with a density of everything that was poured."""
    for liquid in Material.objects.filter(density=None, measure="volume"):
        liquid.density = 1_000_000
        liquid.save()
    return studio.session


EDITS = {
    "inventory:material-edit": Edit(
        lambda studio: studio.varnish,
        lambda row: Material.objects.get(pk=row.pk).notes,
        (says(notes="Thick\nand slow"), says(notes="<b>Thin</b>")),
        "Notes: changed from nothing to “Thick and slow” by first,",
    ),
    "inventory:material-density": Edit(
        lambda studio: studio.paint,
        lambda row: Material.objects.get(pk=row.pk).density,
        (says(sample="50 ml", full="60 g"), says(sample="100 ml", full="125 g")),
        "Density: changed from",
    ),
    "inventory:supplier-edit": Edit(
        lambda studio: studio.supplier,
        lambda row: Supplier.objects.get(pk=row.pk).lead_time_days,
        (says(lead_time_days="12"), says(lead_time_days="9")),
        "to “12” by first,",
    ),
    "inventory:pack-edit": Edit(
        lambda studio: studio.supply,
        lambda row: Supply.objects.get(pk=row.pk).price,
        (says(price="18.00"), says(price="19.00")),
        "Price: changed from “£17.43” to “£18.00” by first,",
    ),
    "inventory:technique-edit": Edit(
        lambda studio: Technique.objects.get(name="Ring pour"),
        lambda row: Technique.objects.get(pk=row.pk).coverage,
        (says(coverage="0.3"), says(coverage="0.4")),
        "to “0.3 mL/cm²” by first,",
    ),
    "inventory:comparison-edit": Edit(
        lambda studio: studio.comparison,
        lambda row: Comparison.objects.get(pk=row.pk).name,
        (says(name="First or last"), says(name="Before or after")),
        "to “First or last” by first,",
    ),
    "inventory:flaw-edit": Edit(
        lambda studio: Flaw.objects.get(name="Crazed"),
        lambda row: Flaw.objects.get(pk=row.pk).name,
        (says(name="Cracked"), says(name="Split")),
        "to “Cracked” by first,",
    ),
    "inventory:reason-edit": Edit(
        lambda studio: Reason.objects.get(code="spilled"),
        lambda row: Reason.objects.get(pk=row.pk).name,
        (says(name="Knocked over"), says(name="Tipped")),
        "to “Knocked over” by first,",
    ),
    "inventory:alert-email": Edit(
        lambda studio: None,
        lambda row: list(DigestChoice.objects.values_list("muted", flat=True)),
        (says(wants_digest="on", muted="near_date"), says(wants_digest="on", muted="past_date")),
        "Left out of the email: changed from nothing to “Near its date” by second,",
    ),
    "language": Edit(
        lambda studio: None,
        lambda row: User.objects.get(username="second").language,
        (says(language="en-gb"), says(language="de")),
        "Language: changed from nothing to “",
    ),
    "inventory:lot-edit": Edit(
        lambda studio: studio.lot,
        lambda row: Lot.objects.get(pk=row.pk).place,
        (says(place="Cool box", best_before="2026-03-01"), says(place="Window sill")),
        "Place: changed from nothing to “Cool box” by first,",
    ),
    "inventory:pour": Edit(
        lambda studio: studio.loose,
        lambda row: Pour.objects.get(pk=row.pk).run_off,
        (says(run_off="12 ml"), says(run_off="15 ml")),
        "Run-off: changed from nothing to “12 mL” by first,",
    ),
    "inventory:session-weigh": Edit(
        weighable,
        lambda row: [pour.run_off for pour in row.pours.order_by("number")],
        (says(drips="12 g"), says(drips="15 g")),
        "Run-off: changed from nothing to “",
    ),
    "inventory:order-edit": Edit(
        lambda studio: studio.order,
        lambda row: Order.objects.get(pk=row.pk).reference,
        (says(reference="LC-77"), says(reference="LC-78")),
        "to “LC-77” by first,",
    ),
    "inventory:plan-edit": Edit(
        lambda studio: studio.plan,
        lambda row: [line.count for line in row.lines.all()],
        (says(**{"lines-0-count": "5"}), says(**{"lines-0-count": "7"})),
        "Lines: changed from “3 Canvas 30, Ring pour (1 ",
    ),
    "inventory:recipe-version": Edit(
        lambda studio: studio.recipe,
        lambda row: [part.parts for part in row.versions.order_by("number").last().parts.all()],
        (says(**{"parts-0-parts": "3"}), says(**{"parts-0-parts": "4"})),
        "Parts: changed from “2 Sail Loft White, 1 ",
    ),
    "inventory:recipe-colour": Edit(
        lambda studio: studio.recipe,
        lambda row: Material.objects.get(pk=row.makes_id).colour,
        (says(colour="#2f5d9b"), says(colour="#1f5f6b")),
        "to “#2f5d9b” by first,",
    ),
    "inventory:ratio-edit": Edit(
        lambda studio: studio.ratio,
        lambda row: [part.amount for part in row.parts.all()],
        (says(**{"parts-0-amount": "3"}), says(**{"parts-0-amount": "4"})),
        "Parts: changed from “1 : 2 (by volume)”",
    ),
    "costing:piece-price": Edit(
        lambda studio: studio.for_sale,
        lambda row: Piece.objects.get(pk=row.pk).price,
        (says(**{"price-price": "70.00"}), says(**{"price-price": "55.00"})),
        "Price: changed from “£61.77” to “£70.00” by first,",
        page="costing:piece",
    ),
    "costing:price-rules": Edit(
        lambda studio: "the ways to a price",
        lambda row: PriceRules.current().markup,
        (says(markup="25 %"), says(markup="35 %")),
        ": changed from “30%” to “25%” by first,",
    ),
    "costing:piece-edit": Edit(
        lambda studio: studio.sold,
        lambda row: Piece.objects.get(pk=row.pk).title,
        (says(title="Leeward"), says(title="Windward")),
        "Title: changed from",
    ),
    "costing:location-edit": Edit(
        lambda studio: studio.box,
        lambda row: Location.objects.get(pk=row.pk).name,
        (says(name="Left box"), says(name="Right box")),
        "Name: changed from “Market box 1” to “Left box” by first,",
    ),
    "costing:contact-edit": Edit(
        lambda studio: studio.contact,
        lambda row: Contact.objects.get(pk=row.pk).reach,
        (says(reach="The ferry office"), says(reach="The sail loft")),
        "How to reach: changed by first,",
    ),
    "costing:commission-edit": Edit(
        order_of,
        lambda row: Commission.objects.get(pk=row.pk).price,
        (says(price="210.00"), says(price="220.00")),
        "Agreed price: changed from “£200.00” to “£210.00” by first,",
    ),
    "costing:piece-photo-change": Edit(
        lambda studio: studio.for_sale,
        lambda row: Piece.objects.get(pk=row.pk).photo.name,
        (lambda: {"photo-photo": picture(90)}, lambda: {"photo-photo": picture(200)}),
        "Photo: changed from nothing to “a file” by first,",
        page="costing:piece",
        keeps=False,
    ),
    "studio-settings": Edit(
        lambda studio: "the studio",
        lambda row: Studio.current().reserve,
        (says(reserve="15 %"), says(reserve="16.5 %")),
        ": changed from “10%” to “15%” by first,",
    ),
    "logo": Edit(
        lambda studio: "the logo",
        lambda row: Studio.current().logo.name,
        (lambda: {"photo": picture(90)}, lambda: {"photo": picture(200)}),
        "Logo: changed from nothing to “a file” by first,",
        keeps=False,
    ),
    "costing:overhead-edit": Edit(
        lambda studio: OverheadYear.objects.get(),
        lambda row: OverheadYear.objects.get(pk=row.pk).hours,
        (says(hours="480"), says(hours="500")),
        ": changed from “520” to “480” by first,",
    ),
    "inventory:webhook-edit": Edit(
        lambda studio: some_webhook(),
        lambda row: Webhook.objects.get(pk=row.pk).address,
        (
            says(address="https://ebb.example/a", events="piece.sold"),
            says(address="https://ebb.example/b", events="piece.sold"),
        ),
        " to “https://ebb.example/a” by first,",
    ),
    "costing:overhead-line-edit": Edit(
        lambda studio: OverheadLine.objects.get(name="Rent"),
        lambda row: OverheadLine.objects.get(pk=row.pk).paid,
        (says(paid="1190.00"), says(paid="1175.00")),
        ": changed from “£1,180.00” to “£1,190.00” by first,",
    ),
    "rates-edit": Edit(
        lambda studio: Rates.objects.get(),
        lambda row: Rates.objects.get(pk=row.pk).wage_per_hour,
        (says(wage_per_hour="15.00"), says(wage_per_hour="16.50")),
        ": changed from “£13.37” to “£15.00” by first,",
    ),
    "person": Edit(
        lambda studio: make_helper(),
        lambda row: User.objects.get(pk=row.pk).role,
        (says(role="bookkeeper"), says(role="owner")),
        "Role: changed from “Helper” to “Bookkeeper” by first,",
    ),
    "person-password": Edit(
        lambda studio: make_helper(),
        lambda row: User.objects.get(pk=row.pk).password,
        (lambda: password(0), lambda: password(1)),
        "Password: changed by first,",
        keeps=False,
    ),
    "costing:channel-edit": Edit(
        lambda studio: studio.channel,
        lambda row: SalesChannel.objects.get(pk=row.pk).name,
        (says(name="Ebb stall"), says(name="Flood stall")),
        " to “Ebb stall” by first,",
    ),
    "costing:terms-edit": Edit(
        lambda studio: studio.channel.terms.get(),
        lambda row: ChannelTerms.objects.get(pk=row.pk).commission,
        (says(commission="35 %"), says(commission="30 %")),
        ": changed from “40%” to “35%” by first,",
    ),
    "costing:market-edit": Edit(
        lambda studio: studio.market,
        lambda row: MarketDay.objects.get(pk=row.pk).pitch_fee,
        (says(pitch_fee="18.00"), says(pitch_fee="19.00")),
        ": changed from “£17.43” to “£18.00” by first,",
    ),
}

# Told in test_no_lost_updates.
OWN_STORIES = {
    "costing:piece-photo-remove",
    "costing:piece-photo-adopt",
    "costing:piece-split",
    "inventory:costing-method",
    "inventory:closing",
}


def somebody(name: str) -> Client:
    return as_user(User.objects.create(username=name, role=Role.OWNER))


def tab(client: Client, name: str, row: Any) -> Tab:
    page = EDITS[name].page if name in EDITS else "costing:piece"
    key = [row.pk] if isinstance(row, models.Model) else []
    return Tab(client, reverse(page or name, args=key), reverse(name, args=key))


def two_tabs(name: str, row: Any) -> tuple[Tab, Tab]:
    """The page open twice, with two people; a page about oneself with one person twice."""
    second = somebody("second")
    return tab(second if row is None else somebody("first"), name, row), tab(second, name, row)
