"""A delivery as somebody enters it, on whatever way. Its rules live here once: facts that break one cannot be made.

Pages, the API, the import of files and the commands translate into these types, and show each refusal at the field
and on the line that it names.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.materials.models import Material, Supplier
from inventory.purchasing.models import Delivery, Order, OrderLine
from studio.constraints import LARGEST
from studio.errors import InputError, refuse_all
from studio.translation import _
from studio.values.money import checked_rate, code_of_sign, convert, minor_units, round_to_minor
from studio.values.quantities import Quantity
from studio.values.units import Measure

MOST_PACKS = 100_000


@dataclass(frozen=True, slots=True)
class PackedLine:
    """So many packs of one material, each of `pack` thousandths of its base unit; one price for the whole line.

    `typed` is the pack as it was typed. Raises InputError naming the field.
    """

    material: Material
    pack: int
    price: int = 0
    packs: int = 1
    typed: str = ""

    def __post_init__(self) -> None:
        if self.material.is_free:
            raise InputError(
                _(
                    "{material} is a free material and is never stocked. Leave this line out.",
                    material=self.material,
                ),
                field="material",
            )
        if not 0 < self.packs <= MOST_PACKS:
            raise InputError(
                _("Enter a whole number of packs from 1 to {most}.", most=f"{MOST_PACKS:,}"), field="packs"
            )
        if self.pack <= 0:
            raise InputError(_("The amount in a pack must be above zero."), field="pack")
        if self.price < 0:
            raise InputError(_("A price cannot be below zero."), field="price")
        try:
            Quantity(Measure(self.material.measure), self.quantity)
        except InputError as problem:
            raise InputError(str(problem), field="pack") from None

    @property
    def quantity(self) -> int:
        """The whole line's, in thousandths of the base unit."""
        return self.pack * self.packs


@dataclass(frozen=True, slots=True)
class LineFacts(PackedLine):
    """One line as received; its price in millionths of the invoice's currency."""

    best_before: date | None = None
    place: str = ""
    supplier_batch: str = ""
    empty_weight: int | None = None
    order_line: OrderLine | None = None


@dataclass(frozen=True, slots=True)
class DeliveryHeader:
    """What all lines of a delivery share. Carriage, duty and tax that cannot be reclaimed are in the home currency.

    Without a currency the invoice is in the supplier's own. A foreign invoice, and no other, needs either `rate`, what
    one unit of it costs at home, or `paid`, what all its lines together cost at home (millionths). Once made, currency
    and the day of the rate or the payment are filled in.
    Raises InputError with everything that is wrong.
    """

    supplier: Supplier
    received_on: date
    home_currency: str
    currency: str = ""
    rate: Decimal | None = None
    paid: int | None = None
    rate_on: date | None = None
    carriage: int = 0
    carriage_shared_by: str = Delivery.SharedBy.VALUE
    duty: int = 0
    tax: int = 0
    reference: str = ""
    order: Order | None = None
    close_order: bool = False

    def __post_init__(self) -> None:
        currency = invoice_currency(self.currency, self.supplier)
        problems = [*self._about_rate(currency), *self._about_shared_costs()]
        if self.order is not None and self.order.supplier_id != self.supplier.pk:
            problems.append(
                InputError(
                    _(
                        "{order} belongs to another supplier. Choose an order from this one.",
                        order=self.order,
                    ),
                    field="order",
                )
            )
        refuse_all(problems)
        is_foreign = currency != self.home_currency
        object.__setattr__(self, "currency", currency)
        object.__setattr__(self, "rate_on", (self.rate_on or self.received_on) if is_foreign else None)

    def _about_rate(self, currency: str) -> list[InputError]:
        home = self.home_currency
        given = [name for name in ("rate", "paid") if getattr(self, name) is not None]
        if currency == home:
            already = _("The invoice is already in {currency}. Leave this blank.", currency=home)
            return [InputError(already, field=name) for name in given]
        if not given:
            missing = _(
                "Enter the exchange rate, how much {own} one {foreign} was, or what you paid in {own}.",
                own=home,
                foreign=currency,
            )
            return [InputError(missing, field="rate")]
        if len(given) > 1:
            either = _("Enter either the exchange rate or what you paid, not both.")
            return [InputError(either, field="paid")]
        return self._about_payment() if self.rate is None else self._about_digits(self.rate)

    def _about_digits(self, rate: Decimal) -> list[InputError]:
        try:
            checked_rate(rate)
        except InputError as problem:
            return [InputError(str(problem), field="rate")]
        return []

    def _about_payment(self) -> list[InputError]:
        if not self.paid or self.paid < 0:
            return [InputError(_("What you paid must be above zero."), field="paid")]
        too_fine = finer_than(self.home_currency, self.paid)
        return [InputError(too_fine, field="paid")] if too_fine else []

    def _about_shared_costs(self) -> list[InputError]:
        problems = []
        for name in ("carriage", "duty", "tax"):
            amount: int = getattr(self, name)
            if amount < 0:
                problems.append(InputError(_("An amount cannot be below zero."), field=name))
            elif too_fine := finer_than(self.home_currency, amount):
                problems.append(InputError(too_fine, field=name))
        return problems


@dataclass(frozen=True, slots=True)
class DeliveryFacts:
    """A delivery as received: its header and its lines. Raises InputError with everything wrong, line by line."""

    header: DeliveryHeader
    lines: Sequence[LineFacts]

    def __post_init__(self) -> None:
        if not self.lines:
            raise InputError(_("A delivery needs at least one line."), field="lines")
        refuse_all(
            problem.on_line(number)
            for number, line in enumerate(self.lines, start=1)
            for problem in self._about_line(line)
        )
        if self.invoiced > LARGEST:
            raise InputError(_("That number is too large. Check the prices and the packs."), field="lines")
        if self.header.paid is not None and not self.invoiced:
            nothing = _("Every line is free, so what you paid cannot be shared. Enter the line prices.")
            raise InputError(nothing, field="paid")

    @property
    def invoiced(self) -> int:
        """What the lines cost together, in millionths of the invoice's currency."""
        return sum(line.price for line in self.lines)

    @property
    def paid(self) -> int:
        """What that cost in the home currency, in millionths: as it was paid, or at the rate, rounded once."""
        if self.header.paid is not None:
            return self.header.paid
        return self.invoiced if self.header.rate is None else convert(self.invoiced, self.header.rate)

    def _about_line(self, line: LineFacts) -> list[InputError]:
        problems, order, answered = [], self.header.order, line.order_line
        if too_fine := finer_than(self.header.currency, line.price):
            problems.append(InputError(too_fine, field="price"))
        if answered is not None and (
            order is None or answered.order_id != order.pk or answered.material_id != line.material.pk
        ):
            one_of_the_order = _(
                "An order line must belong to the order being received and be for the same material."
            )
            problems.append(InputError(one_of_the_order, field="order_line"))
        return problems


def invoice_currency(written: str, supplier: Supplier) -> str:
    """The currency of an invoice as written, or else the supplier's own. Raises InputError for an unknown one."""
    currency = (
        code_of_sign(written.strip(), supplier.currency) or written.strip().upper() or supplier.currency
    )
    try:
        minor_units(currency)
    except InputError as problem:
        raise InputError(str(problem), field="currency") from None
    return currency


def finer_than(currency: str, amount: int) -> str:
    """What to say of an amount with more decimals than its currency has; nothing where it has no more."""
    if round_to_minor(amount, currency) == amount:
        return ""
    return _(
        "{currency} has {count} decimals. Enter prices with no more than that.",
        currency=currency,
        count=minor_units(currency),
    )
