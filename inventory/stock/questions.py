"""What is asked before a write-off is posted: an amount far from what was written off of that material before."""

from inventory.ledger.models import Entry, Place, PostingKind
from inventory.ledger.questions import ask_if_unusual
from inventory.ledger.usual_amounts import MOST_PAST, PastAmounts
from inventory.materials.models import Material
from studio.errors import Question
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _


def questions_about_write_off(material: Material, quantity: int) -> list[Question]:
    """What should be confirmed of writing off a quantity (thousandths) of a material."""
    formatter = Formatter.of(Studio.current())
    latest = Entry.objects.standing().filter(
        material=material, place=Place.LOSS, quantity__gt=0, posting__kind=PostingKind.WRITE_OFF
    )
    return ask_if_unusual(
        ("write-off", _("{material} written off", material=material.name)),
        quantity,
        PastAmounts(latest.order_by("-posting_id", "-line").values_list("quantity", flat=True)[:MOST_PAST]),
        about=(material.pk,),
        write=lambda amount: formatter.short_quantity(int(amount), material.measure),
    )
