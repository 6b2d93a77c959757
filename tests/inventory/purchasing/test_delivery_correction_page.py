"""The page that puts a delivery right: it opens with what is recorded, and shows what changes before it is posted."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Posting, PostingKind
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests.days import june
from tests.inventory.browsing import KEY, as_user, text_of
from tests.making import (
    correct_delivery,
    held,
    make_delivery,
    make_helper,
    make_material,
    make_owner,
    make_pour,
    money,
    sell,
    spill,
    take_back,
    units,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def address_of(delivery: Delivery) -> str:
    return reverse("inventory:delivery-correct", args=[delivery.pk])


def as_opened(response: Any) -> dict[str, str]:
    """What a browser sends back of a page that nobody has typed into."""
    context = response.context
    forms = [context["form"], context["formset"].management_form, *context["formset"]]
    values = {field.html_name: field.value() for form in forms for field in form}
    data = {name: "" if value is None else str(value) for name, value in values.items()}
    return data | {"seen": context["seen"], "key": KEY, "reason": "As on the invoice"}


def preview(client: Client, delivery: Delivery, **typed: str) -> Any:
    data = as_opened(client.get(address_of(delivery)))
    return client.post(
        address_of(delivery), data | {name.replace("__", "-"): text for name, text in typed.items()}
    )


def confirm(client: Client, shown: Any, **typed: str) -> Any:
    """Post what a preview shows, or something else without looking."""
    data = as_opened(shown)
    return client.post(shown.wsgi_request.path, data | typed)


def rows(response: Any) -> dict[str, tuple[str, int, int, int]]:
    table = response.context["table"]
    return {row.name: (row.quantity, row.before, row.after, row.change) for row in table.rows}


def test_the_form_opens_with_what_is_recorded_as_corrected_so_far(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(500), money(10))], carriage=money("4.95"))
    line = made.lines.get()
    correct_delivery(made, carriage=money(6), lines={line.lot_id: {"pack": units(250), "typed": "250 ml"}})
    page = as_opened(signed.get(address_of(made)))
    assert page["received_on"] == str(made.received_on)
    assert (page["carriage"], page["lines-0-pack"], page["lines-0-price"]) == ("6.00", "250 ml", "10.00")


def test_a_wrong_pack_size_of_paint_that_was_partly_used_is_shown_before_it_is_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(name="Amber"), units(100), money(10))])
    lot = made.lines.get().lot
    spill(lot=lot, quantity=units(50))
    before = Posting.objects.count()
    shown = preview(signed, made, lines__0__pack="500 ml")
    assert rows(shown) == {
        f"Amber, {lot.label}": ("50\xa0mL → 450\xa0mL", money(5), money(9), money(4)),
        "Spill or dropped bottle": ("", money(5), money(1), -money(4)),
    }
    assert Posting.objects.count() == before
    posted = confirm(signed, shown)
    assert posted.status_code == 302
    assert held(lot) == (units(450), money(9))


def test_what_changed_is_told_on_the_pages_of_the_delivery_the_lot_and_the_posting(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(name="Amber"), units(100), money(10))], on=june(5))
    lot = made.lines.get().lot
    confirm(signed, preview(signed, made, lines__0__pack="500 ml", carriage="2", received_on="2025-06-04"))
    posting = Posting.objects.get(kind=PostingKind.CORRECTION)
    of_delivery, of_lot, of_posting = (
        text_of(signed.get(reverse(f"inventory:{name}", args=[pk])))
        for name, pk in (("delivery", made.pk), ("lot", lot.pk), ("posting", posting.pk))
    )
    for words in (of_delivery, of_lot):
        assert f"by owner ( ledger no. {posting.number} ): As on the invoice" in words
    for words in (of_delivery, of_lot, of_posting):
        assert f"Amber, {lot.label}: Received from 100 mL to 500 mL" in words
        assert "Received on from 5 Jun 2025 to 4 Jun 2025" in words
    for words in (of_delivery, of_posting):
        assert "Carriage from £0.00 to £2.00" in words
    signed.post(reverse("inventory:posting-reverse", args=[posting.pk]), {"key": "1" * 32, "reason": "No"})
    assert "Reversed" in text_of(signed.get(reverse("inventory:delivery", args=[made.pk])))
    assert held(lot) == (units(100), money(10))


def test_pieces_that_were_sold_are_named_with_what_they_cost_before_and_after(signed: Client) -> None:
    pour = make_pour()
    sell(pours=[pour])
    made = Delivery.objects.get()
    shown = preview(signed, made, lines__0__price="20.00")
    assert rows(shown)[f"{pour.label} (sold)"] == ("", money("5.50"), money("7.50"), money(2))
    assert shown.context["table"].totals["change"] == money(10)


def test_something_else_than_was_shown_is_shown_again_instead_of_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    shown = preview(signed, made, duty="4.00")
    again = confirm(signed, shown, duty="5.00")
    assert again.status_code == 200
    assert again.context["table"].totals["change"] == money(5)
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()


def test_a_form_sent_twice_corrects_once(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    shown = preview(signed, made, duty="4.00")
    assert [confirm(signed, shown).status_code for _time in range(2)] == [302, 302]
    assert Posting.objects.filter(kind=PostingKind.CORRECTION).count() == 1


def test_a_form_that_was_overtaken_is_refused(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    shown = preview(signed, made, duty="4.00")
    correct_delivery(made, carriage=money(1))
    refused = confirm(signed, shown)
    assert refused.status_code == 422
    assert "somebody else" in text_of(refused)


@pytest.mark.parametrize(
    "typed",
    [
        {},
        {"lines__0__pack": "40 ml"},
        {"lines__0__pack": "much"},
        {"lines__0__packs": "0"},
        {"lines__0__price": "-1"},
        {"carriage": "-1"},
        {"received_on": "2025-06-31"},
        {"received_on": "2031-01-01"},
        {"reason": ""},
    ],
)
def test_what_cannot_be_is_refused_and_kept_in_the_form(signed: Client, typed: dict[str, str]) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))])
    spill(lot=made.lines.get().lot, quantity=units(50))
    response = preview(signed, made, **typed)
    assert response.status_code == 422
    for name, text in typed.items():
        assert (
            as_opened(response)["reason"]
            if name == "reason"
            else as_opened(response)[name.replace("__", "-")] == text
        )
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()


def test_a_day_alone_is_corrected_with_nothing_in_the_table(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))], on=june(5))
    shown = preview(signed, made, received_on="2025-06-03")
    assert rows(shown) == {}
    confirm(signed, shown)
    made.refresh_from_db()
    assert made.received_on == june(3)


def test_only_the_owner_corrects_a_delivery(bookkeeper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    assert as_user(make_helper(may_see_money=True)).get(address_of(made)).status_code == 403
    assert as_user(bookkeeper).get(address_of(made)).status_code == 403
    assert as_user(make_owner()).get(address_of(made)).status_code == 200


def test_a_delivery_taken_back_has_nothing_to_correct(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    take_back(made.posting)
    assert signed.get(address_of(made)).status_code == 302


def test_whoever_sees_no_money_sees_quantities_and_days_that_were_corrected(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))])
    lot = made.lines.get().lot
    correct_delivery(made, carriage=money(1), lines={lot.pk: {"pack": units(500)}})
    helper = as_user(make_helper(may_see_money=False))
    for name, pk in (("delivery", made.pk), ("lot", lot.pk)):
        words = text_of(helper.get(reverse(f"inventory:{name}", args=[pk])))
        assert "from 100 mL to 500 mL" in words
        assert "£" not in words


def test_many_lines_and_effects_take_no_more_queries(
    signed: Client, django_assert_max_num_queries: Any
) -> None:
    few = make_delivery(lines=[(make_material(), units(100), money(10)) for _line in range(2)])
    many = make_delivery(lines=[(make_material(), units(100), money(10)) for _line in range(12)])
    for line in many.lines.all():
        spill(lot=line.lot, quantity=units(1))
    counted = []
    for made in (few, many):
        with django_assert_max_num_queries(60) as queries:
            assert preview(signed, made, carriage="7").status_code == 200
        counted.append(len(queries))
    assert counted[1] <= counted[0] + 2  # reasons, and their sums
