"""An order as its supplier gets it, as a document that can be issued."""

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.purchasing.models import Order
from inventory.purchasing.order_texts import texts_of
from inventory.purchasing.papers import order_lines
from studio.issued.kinds import IssuedKind
from studio.papers.lines import Document
from studio.preferences.frames import frame_for
from studio.preferences.models import Studio
from studio.translation import _


def order_document(studio: Studio, pk: int, *, with_prices: bool = True) -> Document:
    row = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    texts = texts_of(row, studio, with_prices=with_prices)
    when = _("To {supplier}, {day}", supplier=row.supplier, day=texts.formatter.day(row.ordered_on))
    return Document(f"order-{row.number}", frame_for(studio, str(row), when), order_lines(texts.paper))


ORDER = IssuedKind(
    "order",
    gettext_lazy("Order"),
    order_document,
    lambda pk: reverse("inventory:order", args=[pk]),
    needs_money=True,
)
