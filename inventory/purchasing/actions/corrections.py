"""Putting a delivery right after it was posted: supplier, day, currency and its rate, shared costs, packs and prices.

One visible posting takes the differences to wherever the goods are by now. The rows of the delivery say what is true as
corrected; what they said before stands beside the posting.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, cast

from django.db.models import Field

from inventory.errors import InventoryError
from inventory.ledger.corrections import (
    ReceiptChange,
    correct_receipt,
    receipt_of,
    redate_lots,
    refuse_day,
    refuse_overtaken,
)
from inventory.ledger.effects import Effect, effects_of
from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.posting import PostingDraft, open_ledger, rehearsal
from inventory.purchasing.actions.deliveries import landed_costs
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts
from inventory.purchasing.actions.settling import settle_orders_of
from inventory.purchasing.models import CorrectedFigure, Delivery, DeliveryCorrection, DeliveryLine
from studio.auditing.writing import create_all
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _

Figures = dict[str, Any]


@dataclass(frozen=True, slots=True)
class CorrectionFacts:
    """What is corrected: figures of the delivery by name, and of its lines (pack, packs, price, typed) by their lots.

    Whatever is left out stays as recorded. `seen` is the last correction that these figures were entered against: a
    posting's number, 0 for the delivery as it was first recorded, None where that does not matter.
    """

    home_currency: str
    delivery: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    reason: str = ""
    seen: int | None = None


def correct_delivery(*, delivery: Delivery, facts: CorrectionFacts, submission: Submission) -> Posting:
    """Post what differs as one correction, landed costs worked out anew, and let the delivery say what is true.

    Raises InputError naming the field and the line, InventoryError when nothing differs or somebody else corrected it
    since, and BelowZeroOnDay when a lot would have been below zero on some day.
    """
    with open_ledger(submission, facts=["correct delivery", delivery, facts]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        delivery = Delivery.objects.select_related("supplier", "order", "posting").get(pk=delivery.pk)
        lines = _lines_of(delivery)
        corrected = as_corrected(delivery, lines, facts)
        draft = ledger.draft(PostingKind.CORRECTION, note=facts.reason)
        changes = _draft_changes(draft, delivery, lines, corrected, submission)
        posting = draft.seal()
        _record(delivery, lines, changes, posting)
        settle_orders_of(delivery)
        return posting


def preview_correction(*, delivery: Delivery, facts: CorrectionFacts, submission: Submission) -> list[Effect]:
    """What the correction would change, account by account. Raises what posting it would; writes nothing."""
    lines = _lines_of(delivery)
    draft = rehearsal(submission.on)
    _draft_changes(draft, delivery, lines, as_corrected(delivery, lines, facts), submission)
    return effects_of(draft)


def as_corrected(delivery: Delivery, lines: Sequence[DeliveryLine], facts: CorrectionFacts) -> DeliveryFacts:
    """The delivery as it should have been received. Raises InputError with everything that is wrong, line by line."""
    refuse_overtaken(delivery.posting, facts.seen)
    if unknown := facts.lines.keys() - {line.lot_id for line in lines}:
        numbers = ", ".join(str(number) for number in sorted(unknown))
        raise InputError(_("This delivery has no line for lot {numbers}.", numbers=numbers), field="lines")
    recorded = entered_figures(delivery)
    if facts.delivery.get("currency", delivery.currency) != delivery.currency:
        recorded |= {"rate": None, "paid": None, "rate_on": None}  # those were of the other currency
    header = DeliveryHeader(
        home_currency=facts.home_currency,
        reference=delivery.reference,
        order=delivery.order,
        **{**recorded, **facts.delivery},
    )
    made: list[LineFacts] = []
    problems: list[InputError] = []
    for number, line in enumerate(lines, start=1):
        try:
            made.append(_line_facts(line, facts.lines.get(line.lot_id, {})))
        except InputError as problem:
            problems += [each.on_line(number) for each in problem.problems]
    refuse_all(problems)
    return DeliveryFacts(header, made)


def entered_figures(delivery: Delivery) -> Figures:
    """What somebody would have entered for a delivery as recorded. Of a foreign invoice, its rate or what was paid."""
    names = (
        "supplier",
        "currency",
        "received_on",
        "rate",
        "rate_on",
        "carriage",
        "carriage_shared_by",
        "duty",
        "tax",
    )
    was_paid = delivery.rate is None and delivery.rate_on is not None
    return {name: getattr(delivery, name) for name in names} | {"paid": delivery.paid if was_paid else None}


def _line_facts(line: DeliveryLine, changes: Mapping[str, Any]) -> LineFacts:
    recorded = {
        "pack": line.quantity // line.packs,
        "packs": line.packs,
        "price": line.price,
        "typed": line.typed,
    }
    return LineFacts(line.lot.material, order_line=line.order_line, **{**recorded, **changes})


def _lines_of(delivery: Delivery) -> list[DeliveryLine]:
    return list(delivery.lines.select_related("lot__material", "order_line").order_by("pk"))


def _draft_changes(
    draft: PostingDraft,
    delivery: Delivery,
    lines: Sequence[DeliveryLine],
    facts: DeliveryFacts,
    submission: Submission,
) -> list[tuple[Delivery | DeliveryLine, Figures]]:
    """Put what differs into a draft, and return the new figures of each row that changes."""
    header = facts.header
    of_delivery = {name: getattr(header, name) for name in entered_figures(delivery) if name != "supplier"}
    of_delivery |= {"supplier_id": header.supplier.pk, "invoiced": facts.invoiced, "paid": facts.paid}
    changes: list[tuple[Delivery | DeliveryLine, Figures]] = [(delivery, of_delivery)]
    entered = [_entered(line) for line in facts.lines]
    changes += zip(lines, entered, strict=True)
    if not any(_differing(row, figures) for row, figures in changes):
        raise InventoryError(_("Nothing has changed, so there is nothing to correct."))
    receipt = receipt_of(delivery.posting)
    refuse_day(receipt, header.received_on, submission)
    for figures, cost in zip(entered, landed_costs(facts), strict=True):
        figures["landed"] = cost
    differences = [
        ReceiptChange(line.lot, figures["quantity"] - line.quantity, figures["landed"] - line.landed)
        for line, figures in zip(lines, entered, strict=True)
    ]
    correct_receipt(
        draft,
        receipt,
        differences,
        day=header.received_on,
        is_entered_anew=not any(each.quantity or each.money for each in differences),
    )
    return changes


def _entered(line: LineFacts) -> Figures:
    return {"packs": line.packs, "quantity": line.quantity, "price": line.price, "typed": line.typed}


def _differing(row: Delivery | DeliveryLine, figures: Figures) -> dict[str, tuple[Any, Any]]:
    """Each figure that is not as recorded, before and after."""
    return {
        name: (getattr(row, name), figure) for name, figure in figures.items() if getattr(row, name) != figure
    }


def _record(
    delivery: Delivery,
    lines: Sequence[DeliveryLine],
    changes: Sequence[tuple[Delivery | DeliveryLine, Figures]],
    posting: Posting,
) -> None:
    correction = DeliveryCorrection.objects.create(delivery=delivery, posting=posting)
    was_received_on = delivery.received_on
    for row, figures in changes:
        differing = _differing(row, figures)
        create_all(
            CorrectedFigure(
                correction=correction,
                line=row if isinstance(row, DeliveryLine) else None,
                name=name,
                before=_written(before),
                after=_written(after),
            )
            for name, (before, after) in differing.items()
        )
        for name in differing:
            setattr(row, name, figures[name])
        row.save()
    if delivery.received_on != was_received_on:
        redate_lots([line.lot for line in lines], delivery.received_on)


def _written(figure: Any) -> str:
    return "" if figure is None else f"{figure:f}" if isinstance(figure, Decimal) else str(figure)


def _read(row: Delivery | DeliveryLine, name: str, text: str) -> Any:
    if name == "rate":
        return Decimal(text) if text else None
    column = cast("Field[Any, Any]", row._meta.get_field(name))
    return column.to_python(text) if text or not column.null else None


def take_back_correction(posting: Posting) -> None:
    """Let a delivery say again what it said before a correction that has just been reversed."""
    correction = DeliveryCorrection.objects.filter(posting=posting).select_related("delivery").first()
    if correction is None:
        return
    delivery = correction.delivery
    lines = delivery.lines.select_related("lot").in_bulk()
    was_received_on = delivery.received_on
    for figure in correction.figures.all():
        row = lines[figure.line_id] if figure.line_id else delivery
        setattr(row, figure.name, _read(row, figure.name, figure.before))
    delivery.save()
    for line in lines.values():
        line.save()
    if delivery.received_on != was_received_on:
        redate_lots([line.lot for line in lines.values()], delivery.received_on)
