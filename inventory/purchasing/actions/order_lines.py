"""The lines of an order: written down, and changed while some of them may have come already."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inventory.purchasing.actions.delivery_facts import PackedLine
from inventory.purchasing.incoming import OrderState, Progress
from inventory.purchasing.models import Order, OrderLine
from studio.auditing.writing import create_all
from studio.errors import InputError, refuse_all
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _


@dataclass(frozen=True, slots=True)
class OrderLineFacts(PackedLine):
    """A line of an order that may change one of its own: `row`."""

    row: OrderLine | None = None


def refuse_lines(lines: Sequence[PackedLine]) -> Iterator[InputError]:
    """What is wrong with lines taken together."""
    seen: set[int] = set()
    for number, line in enumerate(lines, start=1):
        row = _row_of(line)
        if row is not None and row.pk in seen:
            yield InputError(_("Change each line only once."), field="order_line", line=number)
        seen |= {row.pk} if row else set()


def write_lines(order: Order, lines: Sequence[PackedLine]) -> None:
    """Add lines to an order."""
    create_all(_as_row(order, line) for line in lines)


def change_lines(state: OrderState, lines: Sequence[PackedLine]) -> None:
    """Let an order have these lines and no others. Raises InputError for what would undo what has come."""
    known = {each.line.pk: each for each in state.lines}
    changed = {row.pk: line for line in lines if (row := _row_of(line)) is not None}
    formatter = Formatter.of(Studio.current())
    refuse_all([*_about_changes(known, lines, formatter), *_about_removed(known, changed)])
    OrderLine.objects.filter(pk__in=known.keys() - changed.keys()).delete()
    for pk, line in changed.items():
        row = _as_row(state.order, line)
        row.pk = pk
        row.save()
    write_lines(state.order, [line for line in lines if _row_of(line) is None])


def _about_changes(
    known: dict[int, Progress], lines: Sequence[PackedLine], formatter: Formatter
) -> Iterator[InputError]:
    for number, line in enumerate(lines, start=1):
        row = _row_of(line)
        if row is None:
            continue
        progress = known.get(row.pk)
        if progress is None:
            missing = _("This line is no longer on the order. Reload the page and check its lines.")
            yield InputError(missing, field="order_line", line=number)
        elif progress.received and line.material.pk != progress.line.material_id:
            kept = _("Some of {material} has been received. Add a line for the other material.")
            yield InputError(kept.format(material=progress.line.material), field="material", line=number)
        elif line.quantity < min(progress.received, progress.line.quantity):
            received = formatter.quantity(progress.received, line.material.measure)
            least = _("{received} has been received already. Order at least that.", received=received)
            yield InputError(least, field="packs", line=number)


def _about_removed(known: dict[int, Progress], changed: dict[int, PackedLine]) -> Iterator[InputError]:
    for pk, progress in known.items():
        if pk not in changed and progress.received:
            yield InputError(
                _(
                    "Some of {material} has been received, so its line cannot be removed. Lower it to what has come.",
                    material=progress.line.material,
                ),
                field="lines",
            )


def _row_of(line: PackedLine) -> OrderLine | None:
    return line.row if isinstance(line, OrderLineFacts) else None


def _as_row(order: Order, line: PackedLine) -> OrderLine:
    return OrderLine(
        order=order,
        material=line.material,
        packs=line.packs,
        quantity=line.quantity,
        price=line.price,
        typed=line.typed,
    )
