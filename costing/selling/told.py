"""What webhooks are told of a sale: which pieces, when and where; never who bought them."""

from django.utils.translation import gettext_lazy

from costing.selling.models import Sale
from inventory.webhooks.events import Data, Event
from studio.preferences.formatting import Formatter


def sale_data(key: int, with_money: bool, formatter: Formatter) -> Data | None:
    """A sale; what was paid for each piece, in the currency's own units, only where money may be told."""
    sale = Sale.objects.select_related("channel").filter(pk=key).first()
    if sale is None:
        return None
    pieces = []
    for line in sale.lines.select_related("piece").order_by("pk"):
        piece = {"id": line.piece_id, "title": line.piece.title}
        pieces.append(piece | ({"paid": formatter.money(line.paid)} if with_money else {}))
    return {
        "id": sale.pk,
        "receipt": sale.number,
        "sold_on": sale.sold_on.isoformat(),
        "channel": sale.channel.name,
        "pieces": pieces,
    }


PIECE_SOLD = Event("piece.sold", gettext_lazy("A piece was sold"), sale_data)
