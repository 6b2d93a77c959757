"""What a sales channel takes of a price on a day: its own terms, and the studio's tax."""

from dataclasses import dataclass
from datetime import date

from costing.pricing.calculations import Channel
from costing.pricing.models import ChannelTerms, SalesChannel
from studio.values.dated import held_on


@dataclass(frozen=True, slots=True)
class TermsOn:
    """A channel's terms on a day, and since when they have been just these: None from the beginning.

    Shares are millionths, the fixed fee millionths of the currency unit.
    """

    channel: SalesChannel
    commission: int
    commission_before_tax: bool
    card_rate: int
    fixed_fee: int
    since: date | None

    def charges(self, tax_rate: int) -> Channel:
        """The same for the calculations, with the tax of the day. Raises CostingError for senseless rates."""
        return Channel(
            commission=self.commission,
            card_rate=self.card_rate,
            fixed_fee=self.fixed_fee,
            vat_rate=tax_rate,
            commission_on_net=self.commission_before_tax,
        )


def terms_on(channel: SalesChannel, day: date) -> TermsOn:
    """Reads `channel.terms`: prefetch them where there are several channels."""
    entries = list(channel.terms.all())
    held = {
        name: held_on(day, ((entry.holds_from, getattr(entry, name)) for entry in entries))
        for name in ChannelTerms.values
    }
    value = {name: each.value for name, each in held.items() if each}
    since = [each.since for each in held.values() if each and each.since]
    return TermsOn(
        channel=channel,
        commission=value.get("commission", 0),
        commission_before_tax=bool(value.get("commission_before_tax", True)),
        card_rate=value.get("card_rate", 0),
        fixed_fee=value.get("fixed_fee", 0),
        since=max(since, default=None),
    )
