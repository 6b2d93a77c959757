"""Why something is on the shopping list, and why it is bought there, in words."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property

from inventory.materials.models import Material
from inventory.reordering.covers import covers
from inventory.reordering.queries import Level
from inventory.shopping.needs import Need
from inventory.shopping.queries import Line, Part, ShoppingList
from inventory.stock.availability import Cover
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext, quoted
from studio.values.allocation import THOUSANDTHS
from studio.values.units import Measure


class ShoppingWords:
    """One shopping list in words, the studio's way. `sees_money` leaves out what would tell a price."""

    def __init__(self, listed: ShoppingList, formatter: Formatter, *, sees_money: bool) -> None:
        self.listed, self.formatter, self.sees_money = listed, formatter, sees_money

    @cached_property
    def covers(self) -> Mapping[int, Cover]:
        """How long what is on the list lasts, by material. Two queries, however much it is."""
        needs = [*(line.need for part in (*self.listed.parts, *self.listed.later) for line in part.lines)]
        found = [need.level for need in (*needs, *self.listed.unsold) if need.level is not None]
        return covers(found, self.listed.needs.on)

    def packs(self, line: Line) -> str:
        """So many of each pack: "2 × 500 mL, 1 × 1 L", "3 packs of 5", "4"."""
        return ", ".join(self.pack(each.count, each.supply.pack_size, line.material) for each in line.packs)

    def pack(self, count: int, size: int, material: Material) -> str:
        amount = self.formatter.short_quantity(size, material.measure)
        if material.measure != Measure.COUNT:
            return f"{count} × {amount}"
        if size == THOUSANDTHS:
            return str(count)
        return ngettext("{n} pack of {size}", "{n} packs of {size}", count, n=count, size=amount)

    def money(self, amount: int, part: Part) -> str:
        """An amount in the supplier's currency."""
        return replace(self.formatter, currency=part.supplier.currency).money(amount)

    def origin(self, need: Need) -> str:
        """What it is needed for."""
        measure = need.material.measure
        reasons = []
        if need.level is not None and need.is_low:
            reasons.append(self._low(need.level))
        if need.plans:
            reasons.append(
                _(
                    "Short by {amount} for {plans}.",
                    amount=self.formatter.short_quantity(need.missing, measure),
                    plans=", ".join(quoted(plan) for plan in need.plans),
                )
            )
        if need.added:
            amount = self.formatter.short_quantity(need.added, measure)
            reasons.append(_("Added by hand: {amount}.", amount=amount))
        if need.is_chosen and not reasons:
            reasons.append(_("Chosen by hand."))
        reasons.append(self._timing(need))
        return " ".join(filter(None, reasons))

    def _timing(self, need: Need) -> str:
        """How long a low material lasts, and by when one that comes along would have to be ordered by itself."""
        cover = self.covers.get(need.material.pk)
        if not need.is_needed:
            if cover is None or cover.order_by is None:
                return _("Due within four weeks: cheaper in the same order.")
            due = self.formatter.day(cover.order_by)
            return _("To be ordered by {day} in any case: cheaper in the same order.", day=due)
        if cover is None or not need.is_low:
            return ""
        return _("Lasts until about {day}.", day=self.formatter.day(cover.lasts_until))

    def _low(self, level: Level) -> str:
        measure = level.material.measure
        left, reserved, reorder_at = (
            self.formatter.short_quantity(amount, measure)
            for amount in (level.stock, level.due, level.level or 0)
        )
        if level.due:
            return _(
                "Low: {left} left, {reserved} of it reserved, reorder at {level}.",
                left=left,
                reserved=reserved,
                level=reorder_at,
            )
        return _("Low: {left} left, reorder at {level}.", left=left, level=reorder_at)

    def why(self, line: Line) -> str:
        """Why this pack, from this supplier."""
        sold = self.listed.needs.supplies[line.material.pk]
        suppliers = {supply.supplier_id for supply in sold}
        if line.need.is_chosen:
            reason = _("You chose this pack.")
        elif len(suppliers) == 1:
            reason = _("The only supplier recorded.")
        elif any(supply.is_preferred and supply.supplier_id == line.supplier.pk for supply in sold):
            reason = _("Your preferred supplier.")
        else:
            reason = ngettext(
                "Cheapest of {n} supplier.", "Cheapest of {n} suppliers.", len(suppliers), n=len(suppliers)
            )
        if any(each.has_price_break for each in line.packs):
            reason += " " + _("The price for more packs is reached.")
        if self.sees_money and _is_more_than_added(line):
            reason += " " + _(
                "More than was added, because of the minimum order, the carriage or the price for more packs."
            )
        return reason

    def terms(self, part: Part) -> list[str]:
        """What carriage and minimum come to, and what to do about them. Nothing without sight of money."""
        if not self.sees_money:
            return []
        terms = []
        if part.is_carriage_free:
            free_from = self.money(part.supplier.free_carriage_from or 0, part)
            terms.append(_("Free carriage from {sum} is reached.", sum=free_from))
        elif part.to_free_carriage is not None:
            more = self.money(part.to_free_carriage, part)
            terms.append(_("Carriage is free with {sum} more of goods.", sum=more))
        if part.short_of_minimum:
            terms.append(
                _(
                    "{sum} short of the minimum order of {least}: add something, or buy it elsewhere.",
                    sum=self.money(part.short_of_minimum, part),
                    least=self.money(part.supplier.minimum_order or 0, part),
                )
            )
        elif part.only_just_enough:
            least = self.money(part.supplier.minimum_order or 0, part)
            terms.append(_("The minimum order of {least} is reached.", least=least))
        if not part.has_rate:
            terms.append(
                _(
                    "No exchange rate is known. Enter one on the supplier's page, so that prices can be compared."
                )
            )
        return terms

    def elsewhere(self, part: Part) -> str:
        """What the next best costs."""
        if not self.sees_money or not part.has_rate:
            return ""
        more = self.listed.dearer_elsewhere(part)
        if more is None or more <= 0:
            return ""
        return _(
            "Bought elsewhere, as far as others sell it, all would cost {sum} more.",
            sum=self.formatter.money(more),
        )


def _is_more_than_added(line: Line) -> bool:
    """Whether fewer packs would do for what was added by hand, and nothing else is needed of it."""
    need = line.need
    if not need.added or need.is_low or need.missing or need.is_chosen:
        return False
    return line.quantity - min(each.supply.pack_size for each in line.packs) >= need.added
