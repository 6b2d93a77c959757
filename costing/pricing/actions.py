"""Sales channels: added, changed, put away when nothing is sold there any more. Sales keep theirs."""

from dataclasses import dataclass

from costing.errors import CostingError
from costing.pricing.models import SalesChannel
from studio.auditing.reference_rows import is_in_use, locked, save_facts
from studio.submission import Submission, transaction
from studio.translation import _


@dataclass(frozen=True, slots=True)
class ChannelFacts:
    """Where work is sold, and what the channel takes of a price. Rates and the fee for each sale are in millionths."""

    name: str
    commission: int = 0
    commission_before_tax: bool = True
    card_rate: int = 0
    fixed_fee: int = 0


def save_channel(
    facts: ChannelFacts,
    *,
    submission: Submission,
    channel: SalesChannel | None = None,
    seen: int | None = None,
) -> SalesChannel:
    """Add a sales channel, or change one for sales from now on. Raises InputError naming the field, EditConflict."""
    with transaction(submission):
        row = SalesChannel() if channel is None else locked(channel, seen=seen)
        save_facts(row, facts)
    return row


def activate_channel(channel: SalesChannel, *, submission: Submission, is_active: bool) -> SalesChannel:
    """Offer a channel for new sales and prices, or no longer."""
    with transaction(submission):
        row = locked(channel, seen=None)
        row.is_active = is_active
        row.save(update_fields=["is_active"])
    return row


def delete_channel(channel: SalesChannel, *, submission: Submission, seen: int | None = None) -> None:
    """Remove a channel without sales. Raises CostingError for any other, EditConflict."""
    with transaction(submission):
        row = locked(channel, seen=seen)
        if is_in_use(row):
            raise CostingError(
                _("{name} has sales, so it cannot be deleted. Deactivate it instead.", name=row.name)
            )
        row.delete()
