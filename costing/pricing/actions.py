"""Writers of sales channels."""

from costing.pricing.models import ChannelTerms, SalesChannel
from studio.auditing.reference_rows import save_row
from studio.submission import Submission, transaction


def add_channel(channel: SalesChannel, terms: ChannelTerms, *, submission: Submission | None) -> SalesChannel:
    """Add a sales channel with its first terms. Raises InputError naming the column."""
    with transaction(submission):
        save_row(channel, submission=submission)
        terms.channel = channel
        save_row(terms, submission=submission)
    return channel
