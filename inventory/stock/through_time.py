"""One material through time: what each month used, and what its receipts cost."""

from datetime import date

from django.db.models import QuerySet, Sum
from django.db.models.functions import TruncMonth

from inventory.ledger.models import Entry
from inventory.materials.models import Material
from studio.values.periods import months_after

MONTHS_ON_A_PAGE = 12
RECEIPTS_ON_A_PAGE = 30


def use_by_month(material: Material, *, on: date, months: int = MONTHS_ON_A_PAGE) -> dict[date, int]:
    """What was used in each of the months up to and including the one of `on`, oldest first, none left out.

    A month is named by its first day.
    """
    starts = [months_after(on.replace(day=1), -back) for back in reversed(range(months))]
    used = dict(
        Entry.objects.uses()
        .filter(material=material, effective_on__gte=starts[0], effective_on__lte=on)
        .order_by()
        .annotate(month=TruncMonth("effective_on"))
        .values_list("month")
        .annotate(total=-Sum("quantity"))
    )
    return {start: used.get(start, 0) for start in starts}


def latest_receipts(material: Material) -> QuerySet[Entry]:
    """What came in, newest first: the unit cost through time."""
    receipts = Entry.objects.receipts().filter(material=material, lot__isnull=False)
    return receipts.select_related("posting", "lot__material").order_by("-posting_id", "-line")[
        :RECEIPTS_ON_A_PAGE
    ]
