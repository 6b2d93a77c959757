"""What lots and pours hold now. Quantities are thousandths of the base unit, money millionths of the currency unit."""

from collections.abc import Iterable, Sequence
from datetime import date

from django.db import models
from django.db.models import F, Sum

from inventory.ledger import costing_methods as costflow
from inventory.ledger.models import Entry, Lot


def holdings_of(material_ids: Sequence[int]) -> list[tuple[int, costflow.Holding]]:
    """What every non-empty lot of these materials holds now."""
    rows = Lot.objects.filter(material__in=material_ids, balance__quantity__gt=0).values_list(
        "material_id", "pk", "balance__quantity", "balance__money", "best_before", "received_on"
    )
    return [
        (material, costflow.Holding(lot, quantity, money, best_before, received))
        for material, lot, quantity, money, best_before, received in rows
    ]


def moved_after(day: date, lots: Iterable[int]) -> dict[int, list[tuple[date, int, int]]]:
    """What moved in these lots on each later day, the latest day first: (day, quantity, money)."""
    rows = (
        Entry.objects.filter(lot__in=lots, effective_on__gt=day)
        .values_list("lot_id", "effective_on")
        .annotate(quantity=Sum("quantity"), money=Sum("money"))
        .order_by("-effective_on")
    )
    by_lot: dict[int, list[tuple[date, int, int]]] = {}
    for lot, on, quantity, money in rows:
        by_lot.setdefault(lot or 0, []).append((on, quantity, money))
    return by_lot


def quantities_on(day: date, lots: Sequence[Lot]) -> dict[int, int]:
    """What each of these lots, read with its balance, held at the end of a day: one query."""
    later = moved_after(day, [lot.pk for lot in lots])
    return {
        lot.pk: (lot.balance.quantity if hasattr(lot, "balance") else 0)
        - sum(quantity for _day, quantity, _money in later.get(lot.pk, ()))
        for lot in lots
    }


def in_work(pour_ids: Iterable[int]) -> dict[tuple[int, int], tuple[int, int]]:
    """What pours hold in work now: (pour, material) to (quantity, money)."""
    rows = (
        Entry.objects.filter(pour__in=list(pour_ids), place="work")
        .values("pour_id", "material_id")
        .annotate(quantity=models.Sum("quantity"), money=models.Sum("money"))
        .order_by("pour_id", F("material_id"))
    )
    return {(row["pour_id"], row["material_id"]): (row["quantity"], row["money"]) for row in rows}
