"""What the rooms of the shelf let be found by the search."""

from collections.abc import Callable
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.comparisons.filters import ComparisonFilter
from inventory.comparisons.models import Comparison
from inventory.ledger.labels import read_lot_label
from inventory.ledger.models import Lot, Posting
from inventory.materials.filters import MaterialFilter
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.packs import same_gtins
from inventory.plans.filters import PlanFilter
from inventory.plans.models import Plan
from inventory.purchasing.filters import DeliveryFilter, OrderFilter
from inventory.purchasing.models import Delivery, Order
from inventory.recipes.filters import RatioFilter, RecipeFilter
from inventory.recipes.models import Ratio, Recipe
from inventory.sessions.filters import PourFilter, SessionFilter
from inventory.sessions.models import Pour, Session
from inventory.stock.models import Stocktake
from studio.pages.filters import search_of
from studio.preferences.formatting import Formatter
from studio.search.kinds import Hit, SearchKind
from studio.search.matching import contains, is_text, numbered
from studio.translation import _
from studio.values.units import Measure


def _joined(*facts: Any) -> str:
    return ", ".join(str(fact) for fact in facts if fact)


def _page(to: str, title: Callable[[Any], Any], note: Callable[[Any, Formatter], str]) -> Any:
    """How a row is shown that has a page under its own key."""
    return lambda row, formatter: Hit(
        row.pk, str(title(row)), reverse(to, args=[row.pk]), note(row, formatter)
    )


def _material(row: Material, formatter: Formatter) -> str:
    return _joined(row.get_kind_display(), row.maker, _("archived") if row.is_archived else "")


def _lot_code(text: str) -> Q | None:
    number = read_lot_label(text)
    batch = is_text("supplier_batch", text)
    return batch if number is None else batch | Q(pk=number)


def _fits_lot(word: str) -> Q:
    number = read_lot_label(word)
    fits = contains(word, "material__name", "supplier_batch", "place")
    return fits if number is None else fits | Q(pk=number)


def _lot(row: Lot, formatter: Formatter) -> str:
    held = getattr(row, "balance", None)
    is_empty = held is None or not held.quantity
    return _joined(
        formatter.day(row.received_on),
        row.place,
        _("batch {code}", code=row.supplier_batch) if row.supplier_batch else "",
        _("empty") if is_empty else "",
    )


def _pack_code(text: str) -> Q | None:
    codes = same_gtins("".join(text.split()))
    return Q(barcode__in=codes) if codes else None


def _pack(row: Supply, formatter: Formatter) -> Hit:
    size = formatter.quantity(row.pack_size, Measure(row.material.measure))
    title = _("{size} of {material}", size=size, material=row.material)
    note = _joined(row.supplier, _("barcode {digits}", digits=row.barcode))
    return Hit(row.pk, title, reverse("inventory:material", args=[row.material_id]), note)


def _on_canvas(text: str) -> Q | None:
    is_number = Pour.objects.on_canvas(text)
    return None if is_number.query.is_empty() else Q(pk__in=is_number.values("pk"))


def _order_code(text: str) -> Q | None:
    number = numbered("number", gettext_lazy("Order"))(text)
    reference = is_text("reference", text)
    return reference if number is None else reference | number


KINDS = (
    SearchKind(
        "materials",
        gettext_lazy("Materials"),
        "material",
        Material.objects.all,
        search_of(MaterialFilter),
        _page("inventory:material", str, _material),
    ),
    SearchKind(
        "packs",
        gettext_lazy("Packs"),
        "material",
        lambda: Supply.objects.exclude(barcode="").select_related("material", "supplier"),
        lambda word: contains(word, "barcode"),
        _pack,
        has_code=_pack_code,
    ),
    SearchKind(
        "lots",
        gettext_lazy("Lots"),
        "stock",
        lambda: Lot.objects.select_related("material", "balance").order_by("-received_on", "-pk"),
        _fits_lot,
        _page("inventory:lot", lambda row: f"{row.label} {row.material}", _lot),
        has_code=_lot_code,
    ),
    SearchKind(
        "recipes",
        gettext_lazy("Recipes"),
        "recipe",
        Recipe.objects.all,
        search_of(RecipeFilter),
        _page("inventory:recipe", str, lambda row, formatter: _("archived") if row.is_archived else ""),
    ),
    SearchKind(
        "ratios",
        gettext_lazy("Ratios"),
        "ratio",
        Ratio.objects.all,
        search_of(RatioFilter),
        _page("inventory:ratio-edit", str, lambda row, formatter: _("archived") if row.is_archived else ""),
        allowed=lambda user: user.may_write,
    ),
    SearchKind(
        "sessions",
        gettext_lazy("Sessions"),
        "session",
        Session.objects.all,
        search_of(SessionFilter),
        _page("inventory:session", str, lambda row, formatter: formatter.day(row.held_on)),
    ),
    SearchKind(
        "pours",
        gettext_lazy("Pours"),
        "session",
        lambda: Pour.objects.poured_here().select_related("surface", "session"),
        search_of(PourFilter),
        _page(
            "inventory:pour",
            lambda row: row.label,
            lambda row, formatter: _joined(row.surface, formatter.day(row.session.held_on)),
        ),
        has_code=_on_canvas,
        gives_way=True,
    ),
    SearchKind(
        "plans",
        gettext_lazy("Plans"),
        "plan",
        lambda: Plan.objects.order_by("-planned_on", "-pk"),
        search_of(PlanFilter),
        _page("inventory:plan", lambda row: row.name, lambda row, formatter: formatter.day(row.planned_on)),
    ),
    SearchKind(
        "comparisons",
        gettext_lazy("Comparisons"),
        "comparison",
        Comparison.objects.all,
        search_of(ComparisonFilter),
        _page(
            "inventory:comparison", lambda row: row.name, lambda row, formatter: formatter.day(row.started_on)
        ),
    ),
    SearchKind(
        "deliveries",
        gettext_lazy("Deliveries"),
        "delivery",
        lambda: Delivery.objects.select_related("supplier"),
        search_of(DeliveryFilter),
        _page(
            "inventory:delivery",
            lambda row: row.reference or row,
            lambda row, formatter: _joined(row.supplier, formatter.day(row.received_on)),
        ),
        has_code=lambda text: is_text("reference", text),
    ),
    SearchKind(
        "orders",
        gettext_lazy("Orders"),
        "order",
        lambda: Order.objects.select_related("supplier"),
        search_of(OrderFilter),
        _page(
            "inventory:order",
            str,
            lambda row, formatter: _joined(row.supplier, row.reference, formatter.day(row.ordered_on)),
        ),
        has_code=_order_code,
    ),
    SearchKind(
        "suppliers",
        gettext_lazy("Suppliers"),
        "supplier",
        Supplier.objects.all,
        lambda word: contains(word, "name", "country", "email", "customer_number", "notes"),
        _page("inventory:supplier", str, lambda row, formatter: row.country),
    ),
    SearchKind(
        "stocktakes",
        gettext_lazy("Stocktakes"),
        "stocktake",
        Stocktake.objects.all,
        lambda word: contains(word, "notes"),
        _page(
            "inventory:stocktake",
            str,
            lambda row, formatter: _joined(formatter.day(row.counted_on), row.notes[:80]),
        ),
    ),
    SearchKind(
        "postings",
        gettext_lazy("Postings"),
        "ledger",
        Posting.objects.all,
        lambda word: contains(word, "note"),
        _page(
            "inventory:posting",
            str,
            lambda row, formatter: _joined(
                row.get_kind_display(), formatter.day(row.effective_on), row.note[:80]
            ),
        ),
        has_code=numbered("number", gettext_lazy("Posting")),
        gives_way=True,
    ),
)
