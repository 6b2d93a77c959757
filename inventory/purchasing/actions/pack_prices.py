"""Update a supplier's pack prices from a delivery."""

from collections.abc import Collection

from django.db.models import prefetch_related_objects

from inventory.materials.actions import save_pack
from inventory.materials.models import Supply
from inventory.purchasing.models import Delivery
from inventory.purchasing.price_changes import new_pack_prices
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _


def update_pack_prices(
    *, delivery: Delivery, submission: Submission, lots: Collection[int] = ()
) -> list[Supply]:
    """Set the supplier's pack prices to those of a delivery: of the lines that made these lots, or of all.

    A pack that is not on the list is added. Calling it again changes nothing more. Raises InputError for a lot that the
    delivery did not make.
    """
    with transaction(submission):
        prefetch_related_objects([delivery], "supplier")
        lines = list(delivery.lines.select_related("lot__material").order_by("pk"))
        if unknown := set(lots) - {line.lot_id for line in lines}:
            numbers = ", ".join(str(number) for number in sorted(unknown))
            raise InputError(_("This delivery has no line for lot {numbers}.", numbers=numbers), field="lots")
        updated = []
        for new in new_pack_prices(delivery, lines):
            if lots and new.line.lot_id not in lots:
                continue
            pack = new.supply or Supply(
                supplier=delivery.supplier, material=new.line.lot.material, pack_size=new.pack
            )
            pack.price = new.price
            updated.append(save_pack(pack, submission=submission))
        return updated
