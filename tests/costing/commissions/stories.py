"""A commission of 200.00, agreed on 2 June, and what is paid for it."""

from datetime import date
from typing import Any

from costing.commissions.actions import PaymentFacts, receive_payment
from costing.commissions.models import Commission, CommissionPayment
from costing.commissions.queries import figures_of
from costing.contacts.models import Contact
from costing.pricing.models import SalesChannel
from studio.auditing.reference_rows import save_row
from tests.costing.locations.stories import make_contact
from tests.costing.stories import LATER, make_channel
from tests.days import june
from tests.making import make_submission, money
from tests.small_studio import SmallStudio


def a_commission(*, price: str = "200.00", contact: Contact | None = None, **facts: Any) -> Commission:
    usual: dict[str, Any] = {
        "contact": contact or make_contact(),
        "wanted": "A large blue ring pour\nFor the ferry office, 60 cm across",
        "price": money(price),
        "agreed_on": june(2),
        "wanted_by": june(30),
    }
    return save_row(Commission(**usual | facts), submission=make_submission())


def paid(
    commission: Commission,
    amount: str = "60.00",
    *,
    channel: SalesChannel | None = None,
    on: date = LATER,
    key: str = "",
) -> CommissionPayment:
    return receive_payment(
        commission=commission,
        facts=PaymentFacts(money(amount), channel or make_channel()),
        submission=make_submission(on=on, key=key),
    )


def state_of(commission: Commission) -> tuple[str, int, int]:
    """Its state, what was paid for it and what of that is held."""
    [figures] = figures_of([Commission.objects.get(pk=commission.pk)])
    return figures.commission.state, figures.paid, figures.held


def order_of(studio: SmallStudio) -> Commission:
    """The commission of the small studio's contact, with a payment: the same one when it is asked for again."""
    known = Commission.objects.order_by("pk").first()
    if known is None:
        known = a_commission(contact=studio.contact)
        paid(known, channel=studio.channel)
    return known


def bodies_of_commissions(studio: SmallStudio, day: str) -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    commission = order_of(studio)
    address, channel = f"commissions/{commission.pk}/", studio.channel.pk
    agreed = {
        "contact": studio.contact.pk,
        "wanted": "Two boards for the chandler",
        "price": "90.00",
        "agreed_on": "2025-06-02",
        "wanted_by": "2025-06-20",
    }
    return {
        "commissions/": agreed,
        f"{address}change/": agreed,
        f"{address}payments/": {"amount": "5.00", "channel": channel, "on": day, "reason": "Second part"},
        f"{address}reversals/": {
            "payment": commission.payments.order_by("pk")[0].pk,
            "on": day,
            "reason": "Typed twice",
        },
        f"{address}reopen/": {"on": day},
        f"{address}cancel/": {
            "returned": "60.00",
            "channel": channel,
            "on": day,
            "reason": "It came to nothing",
        },
    }
