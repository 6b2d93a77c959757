"""What packs and orders cost in a supplier's own currency, and what that is in the studio's."""

from collections.abc import Collection, Iterable
from fractions import Fraction

from django.db.models import F

from inventory.materials.models import Supplier, Supply
from inventory.purchasing.models import Delivery
from inventory.shopping.calculations.purchases import MOST_PACKS, Offer, Price, Terms
from studio.values.allocation import MILLION


def pack_price(supply: Supply, packs: int) -> int:
    """What each pack costs when so many are bought at once, in the supplier's currency."""
    breaks = [each for each in supply.price_breaks.all() if each.from_packs <= packs]
    return max(breaks, key=lambda each: each.from_packs).price if breaks else supply.price


def has_price_break(supply: Supply, packs: int) -> bool:
    return pack_price(supply, packs) < supply.price


class Rates:
    """What one unit of each supplier's currency is in the studio's: as was typed, or as was last paid."""

    def __init__(self, home: str, currencies: Collection[str]) -> None:
        self.home = home
        foreign = {currency for currency in currencies if currency != home}
        self._paid = _last_paid(foreign) if foreign else {}

    def of(self, supplier: Supplier) -> Fraction | None:
        """None where nobody typed a rate and nothing was paid in the currency yet."""
        if supplier.currency == self.home:
            return Fraction(1)
        if supplier.exchange_rate is not None:
            return Fraction(supplier.exchange_rate, MILLION)
        return self._paid.get(supplier.currency)

    def at_home(self, amount: int, supplier: Supplier) -> int:
        """An amount in the studio's currency; as it stands where no rate is known."""
        return round(amount * (self.of(supplier) or 1))

    def terms_of(self, suppliers: Iterable[Supplier]) -> tuple[Terms, ...]:
        """What each asks for an order, in the studio's currency."""
        return tuple(
            Terms(
                each.pk,
                self.at_home(each.carriage, each),
                None if each.free_carriage_from is None else self.at_home(each.free_carriage_from, each),
                self.at_home(each.minimum_order or 0, each),
            )
            for each in sorted(suppliers, key=lambda supplier: supplier.pk)
        )

    def offer_of(self, supply: Supply, *, exactly: int | None = None) -> Offer:
        """A pack with its prices in the studio's currency."""
        breaks = [
            (each.from_packs, each.price)
            for each in supply.price_breaks.all()
            if each.from_packs > supply.minimum_packs
        ]
        steps = [(max(supply.minimum_packs, 1), pack_price(supply, supply.minimum_packs)), *breaks]
        ends = [packs - 1 for packs, _price in steps[1:]] + [MOST_PACKS]
        prices = tuple(
            Price(self.at_home(price, supply.supplier), packs, max(end, packs))
            for (packs, price), end in zip(steps, ends, strict=True)
        )
        return Offer(supply.pk, supply.supplier_id, supply.pack_size, prices, exactly)


def _last_paid(currencies: Collection[str]) -> dict[str, Fraction]:
    """The rate of the last standing delivery in each currency."""
    deliveries = (
        Delivery.objects.filter(
            currency__in=currencies, posting__reversed_by__isnull=True, invoiced__gt=0, paid__gt=0
        )
        .order_by("received_on", "pk")
        .values_list("currency", F("paid"), F("invoiced"))
    )
    return {currency: Fraction(paid, invoiced) for currency, paid, invoiced in deliveries}
