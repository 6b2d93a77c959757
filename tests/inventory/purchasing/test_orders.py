"""Orders: numbered, changed, chased, received in parts, closed by themselves and by hand, opened again."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from inventory.materials.models import Supplier
from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts, PackedLine
from inventory.purchasing.actions.order_lines import OrderLineFacts
from inventory.purchasing.actions.orders import (
    ChaseFacts,
    OrderFacts,
    OrderIsClosed,
    change_order,
    chase_order,
    close_order,
    mark_sent,
    place_order,
    reopen_order,
)
from inventory.purchasing.incoming import on_order, progress_of
from inventory.purchasing.models import Delivery, Order, OrderChase, OrderLine
from inventory.purchasing.order_history import order_times
from studio.auditing.edit_conflicts import EditConflict
from studio.auditing.queries import last_change_number
from studio.errors import InputError
from studio.preferences.models import Studio
from tests import making
from tests.days import TODAY, june
from tests.making import (
    make_helper,
    make_material,
    make_order,
    make_submission,
    make_supplier,
    money,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db


def receive(order: Order, *amounts: tuple[OrderLine | None, int], on: Any = TODAY, **head: Any) -> Delivery:
    """So much of each line comes in one delivery; without a line, of the order's first material."""
    first = order.lines.order_by("pk")[0].material
    lines = [
        LineFacts(line.material if line else first, amount, money(1), order_line=line)
        for line, amount in amounts
    ]
    facts = making.delivery_facts(lines=lines, supplier=order.supplier, order=order, received_on=on, **head)
    return receive_delivery(facts=facts, submission=make_submission(on=on))


def as_facts(order: Order, *lines: PackedLine, **changes: Any) -> OrderFacts:
    return OrderFacts(
        **{"supplier": order.supplier, "ordered_on": order.ordered_on, "lines": lines, **changes}
    )


def kept(line: OrderLine, **changes: Any) -> OrderLineFacts:
    facts = {"material": line.material, "pack": line.pack, "price": line.price, "packs": line.packs}
    return OrderLineFacts(**{**facts, **changes, "row": line})


def now(order: Order) -> Order:
    return Order.objects.get(pk=order.pk)


def due(order: Order) -> list[int]:
    return [each.to_come for each in progress_of([order])[0].lines]


# Placing


def test_orders_are_numbered_one_after_the_other_and_keep_their_currency_and_address() -> None:
    Studio.objects.filter(pk=1).update(delivery_address="Net loft\nSlipway")
    supplier = make_supplier(currency="EUR")
    first = make_order((make_material(), 1000), supplier=supplier)
    second = make_order((make_material(), 1000), deliver_to="Boathouse")
    assert (first.number, second.number) == (1, 2)
    assert (first.currency, first.deliver_to, second.deliver_to) == ("EUR", "Net loft\nSlipway", "Boathouse")
    Supplier.objects.filter(pk=supplier.pk).update(currency="USD")
    assert now(first).currency == "EUR"


def test_learned_days_give_the_expected_day_but_do_not_tell_one_submission_from_another() -> None:
    facts = OrderFacts(make_supplier(lead_time_days=5), june(1), [PackedLine(make_material(), units(1))])
    first = place_order(facts=facts, submission=make_submission(key="a"), usual_days=9)
    again = place_order(facts=facts, submission=make_submission(key="a"), usual_days=12)
    assert (first.pk, again.expected_on) == (again.pk, june(10))


def test_how_it_was_sent_needs_the_day() -> None:
    with pytest.raises(InputError) as refused:
        OrderFacts(make_supplier(), TODAY, [PackedLine(make_material(), 1000)], sent_by="email")
    assert refused.value.field == "sent_on"
    order = mark_sent(
        order=make_order((make_material(), 1000)), sent_by="phone", submission=make_submission()
    )
    assert (order.sent_on, order.sent_by) == (TODAY, "phone")


@pytest.mark.parametrize(
    ("model", "columns"),
    [
        (Order, {"number": 0}),
        (Order, {"rest_cancelled": True}),
        (Order, {"sent_by": "pigeon"}),
        (OrderLine, {"packs": 0}),
    ],
)
def test_the_database_refuses_what_no_writer_would_write(model: type[Any], columns: dict[str, Any]) -> None:
    make_order((make_material(), 1000))
    with pytest.raises(IntegrityError), transaction.atomic():
        model.objects.update(**columns)


# Changing


def test_lines_are_changed_added_and_removed_while_nothing_has_come() -> None:
    white, teal, black = (make_material() for _each in range(3))
    order = make_order((white, units(500), money(9)), (teal, units(250), money(5)))
    line = order.lines.get(material=white)
    facts = as_facts(order, kept(line, packs=3, price=money(27)), PackedLine(black, units(100), money(4)))
    change_order(order=order, facts=facts, submission=make_submission())
    assert list(order.lines.order_by("pk").values_list("material", "packs", "quantity", "price")) == [
        (white.pk, 3, units(1500), money(27)),
        (black.pk, 1, units(100), money(4)),
    ]
    assert order.lines.get(material=white).pk == line.pk


def test_what_has_come_can_neither_be_removed_nor_ordered_less_nor_become_another_material() -> None:
    order = make_order((make_material(), units(500)), (make_material(), units(500)))
    came, other = order.lines.order_by("pk")
    receive(order, (came, units(200)))
    for lines, field in (
        ([kept(other)], "lines"),
        ([kept(came, pack=units(199)), kept(other)], "packs"),
        ([kept(came, material=make_material()), kept(other)], "material"),
    ):
        with pytest.raises(InputError) as refused:
            change_order(order=order, facts=as_facts(order, *lines), submission=make_submission())
        assert refused.value.field == field
        assert due(order) == [units(300), units(500)]
    change_order(
        order=order, facts=as_facts(order, kept(came, pack=units(200))), submission=make_submission()
    )
    assert now(order).is_closed  # nothing more is due


def test_a_change_made_since_is_told_and_prices_only_to_who_may_see_them() -> None:
    order = make_order((make_material(), units(500), money(9)))
    line, seen = order.lines.get(), last_change_number(Order, order.pk)
    dearer = as_facts(order, kept(line, price=money(10)))
    change_order(order=order, facts=dearer, submission=make_submission(), seen=seen)
    with pytest.raises(EditConflict, match=r"10\.00"):
        change_order(order=order, facts=as_facts(order, kept(line)), submission=make_submission(), seen=seen)
    helper = make_submission(by=make_helper())
    change_order(order=order, facts=dearer, submission=helper, seen=seen)
    more = as_facts(order, kept(line, packs=2, price=money(20)))
    change_order(order=order, facts=more, submission=make_submission())
    with pytest.raises(EditConflict, match="Lines: changed from") as refused:
        change_order(order=order, facts=dearer, submission=helper, seen=seen)
    assert "20.00" not in str(refused.value)


def test_a_line_of_another_order_and_another_supplier_are_refused() -> None:
    order, other = make_order((make_material(), 1000)), make_order((make_material(), 1000))
    with pytest.raises(InputError) as refused:
        change_order(
            order=order, facts=as_facts(order, kept(other.lines.get())), submission=make_submission()
        )
    assert refused.value.field == "order_line"
    facts = as_facts(order, kept(order.lines.get()), supplier=make_supplier())
    with pytest.raises(InputError) as refused:
        change_order(order=order, facts=facts, submission=make_submission())
    assert refused.value.field == "supplier"
    twice = kept(order.lines.get())
    with pytest.raises(InputError) as refused:
        as_facts(order, twice, twice)
    assert refused.value.line == 2


# Chasing


def test_a_chase_keeps_what_was_promised_before_and_moves_the_expected_day() -> None:
    order = make_order((make_material(), 1000), on=june(1), expected_on=june(8))
    on = june(9)
    for promised in (june(15), None, june(20)):
        facts = ChaseFacts(on, promised, "Kiln relined")
        chase_order(order=order, facts=facts, submission=make_submission(on=on))
    kept_days = OrderChase.objects.order_by("pk").values_list("expected_before", "promised_on")
    assert list(kept_days) == [(june(8), june(15)), (june(15), None), (june(15), june(20))]
    [times] = order_times()
    assert (times.first_promised_on, times.expected_on, times.chases) == (june(8), june(20), 3)
    assert (times.days_promised, times.days_late(june(18))) == (7, 10)


def test_the_same_chase_sent_twice_is_recorded_once() -> None:
    order = make_order((make_material(), 1000), on=june(1))
    facts = ChaseFacts(june(2), june(9))
    first, second = (
        chase_order(order=order, facts=facts, submission=make_submission(key="a")) for _each in range(2)
    )
    assert first.pk == second.pk


def test_a_chase_is_refused_on_impossible_days_and_on_a_closed_order() -> None:
    order = make_order((make_material(), 1000), on=june(3))
    with pytest.raises(InputError) as refused:
        ChaseFacts(june(9), june(8))
    assert refused.value.field == "promised_on"
    for day in (june(2), TODAY + timedelta(days=5)):
        with pytest.raises(InputError) as refused:
            chase_order(order=order, facts=ChaseFacts(day), submission=make_submission())
        assert refused.value.field == "asked_on"
    close_order(order=order, submission=make_submission())
    with pytest.raises(OrderIsClosed):
        chase_order(order=order, facts=ChaseFacts(june(4)), submission=make_submission())
    assert not OrderChase.objects.exists()


# Receiving in parts, closing, opening again


def test_an_order_received_in_two_parts_closes_by_itself_with_the_second() -> None:
    order = make_order((make_material(), units(1000)), (make_material(), units(10)), on=june(1))
    paint, cups = order.lines.order_by("pk")
    receive(order, (paint, units(400)), on=june(5))
    assert (due(order), now(order).is_closed) == ([units(600), units(10)], False)
    receive(order, (paint, units(600)), (cups, units(10)), on=june(9))
    assert (due(order), now(order).is_closed, now(order).rest_cancelled) == ([0, 0], True, False)
    assert order_times()[0].days_taken == [4, 8]


def test_an_order_opens_again_when_what_closed_it_is_reversed_or_corrected() -> None:
    order = make_order((make_material(), units(1000)))
    whole = receive(order, (order.lines.get(), units(1000)))
    line = whole.lines.get()
    facts = CorrectionFacts("GBP", lines={line.lot_id: {"pack": units(900)}}, reason="Miscounted")
    correction = correct_delivery(delivery=whole, facts=facts, submission=make_submission())
    assert (now(order).is_closed, due(order)) == (False, [units(100)])
    take_back(correction)
    assert now(order).is_closed
    take_back(whole.posting)
    assert (now(order).is_closed, due(order)) == (False, [units(1000)])


def test_closed_by_hand_the_rest_is_no_longer_due_whatever_is_taken_back() -> None:
    order = make_order((make_material(), units(1000)))
    part = receive(order, (order.lines.get(), units(100)), close_order=True)
    assert (now(order).is_closed, now(order).rest_cancelled, on_order()) == (True, True, {})
    take_back(part.posting)
    assert now(order).is_closed
    reopen_order(order=order, submission=make_submission())
    assert on_order() == {order.lines.get().material_id: units(1000)}


def test_an_order_that_has_come_whole_cannot_be_opened_nor_a_closed_one_changed() -> None:
    order = make_order((make_material(), units(1000)))
    receive(order, (order.lines.get(), units(1000)))
    with pytest.raises(OrderIsClosed):
        reopen_order(order=order, submission=make_submission())
    with pytest.raises(OrderIsClosed):
        change_order(
            order=order, facts=as_facts(order, kept(order.lines.get())), submission=make_submission()
        )


def test_closing_what_was_changed_since_is_refused() -> None:
    order = make_order((make_material(), units(1000)))
    seen = last_change_number(Order, order.pk)
    mark_sent(order=order, sent_by="post", submission=make_submission())
    for act in (close_order, reopen_order):
        with pytest.raises(EditConflict):
            act(order=order, submission=make_submission(), seen=seen)
    assert not now(order).is_closed


def test_what_came_for_a_line_fills_that_line_first() -> None:
    paint = make_material()
    order = make_order((paint, units(1000)), (paint, units(500)))
    _large, small = order.lines.order_by("pk")
    receive(order, (small, units(500)))
    assert due(order) == [units(1000), 0]
    receive(order, (small, units(200)))  # beyond that line: it serves the other
    assert due(order) == [units(800), 0]
    assert on_order() == {paint.pk: units(800)}
