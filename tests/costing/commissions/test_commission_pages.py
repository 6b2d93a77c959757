"""Pages and endpoints of commissions: agreed, paid, sold, cancelled; and who is shown what."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.commissions.models import Commission, CommissionPayment
from costing.pieces.calculations import State
from costing.selling.actions import sell
from costing.selling.models import Sale
from studio.accounts.models import User
from tests.costing.commissions.stories import a_commission, paid
from tests.costing.locations.stories import make_contact
from tests.costing.pages import KEY, NASTY, as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel, use_rates
from tests.making import make_bookkeeper, make_helper, make_submission, money
from tests.programs import Program
from tests.studio.papers.test_paper import read_pages

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def address(name: str, pk: int | None = None) -> str:
    return reverse(f"costing:{name}", args=[] if pk is None else [pk])


def payment(**facts: Any) -> dict[str, Any]:
    return {
        "key": KEY,
        "amount": "60.00",
        "channel": make_channel().pk,
        "on": "2025-06-09",
        "reason": "",
    } | facts


def test_a_piece_is_ordered_paid_for_in_part_and_sold(signed: Client) -> None:
    use_rates(tax_rate=200_000)
    contact, channel = make_contact(), make_channel()
    agreed = {
        "contact": contact.pk, "wanted": "Harbour ring", "price": "200.00", "agreed_on": "2025-06-02",
        "wanted_by": "2025-06-30",
    }  # fmt: skip
    signed.post(address("commission-new"), agreed)
    commission = Commission.objects.get()
    for _ in range(2):  # sent twice
        signed.post(address("commission-pay", commission.pk), payment())
    words = text_of(signed.get(address("commission", commission.pk)))
    for part in (
        "Harbour ring",
        "Open",
        "Wenda Tarpot",
        "Agreed price £200.00",
        "Paid £60.00",
        "Still to pay £140.00",
    ):
        assert part in words
    assert "Customer deposits £60.00" in text_of(signed.get(address("commissions")))
    piece = a_piece(title="Harbour ring", state=State.FOR_SALE)
    page = signed.get(address("sell", piece.pk), {"commission": commission.pk})
    assert "Harbour ring, £60.00 paid" in text_of(page)
    sent = {
        "key": KEY, "channel": channel.pk, "price": "200.00", "on": "2025-06-09", "commission": commission.pk,
    }  # fmt: skip
    signed.post(address("sell", piece.pk), sent)
    sale = Sale.objects.get()
    words = text_of(signed.get(address("sale", sale.pk)))
    assert "Paid before £60.00" in words
    assert "Balance paid £140.00" in words
    receipt = " ".join(read_pages(signed.get(address("sale-receipt", sale.pk)).content))
    assert "Total £200.00 Paid before £60.00 Balance paid £140.00 Tax included (20%) £33.33" in receipt
    words = text_of(signed.get(address("commission", commission.pk)))
    assert "Finished as a sale" in words
    assert address("sale", sale.pk) in signed.get(address("commission", commission.pk)).content.decode()
    # A closed one is offered nowhere, and a page that was open before is told.
    other = a_piece(title="Ebb", state=State.FOR_SALE)
    assert "Harbour ring, " not in text_of(signed.get(address("sell", other.pk)))
    refused = signed.post(address("commission-pay", commission.pk), payment(key="1" * 32))
    assert refused.status_code == 422
    assert CommissionPayment.objects.filter(kind="received").count() == 1


def test_several_pieces_finish_one_commission_at_the_till(signed: Client) -> None:
    commission = a_commission()
    paid(commission)
    pieces = [a_piece(title=title, state=State.FOR_SALE) for title in ("Ebb", "Flood")]
    chosen = "&".join(f"piece={piece.pk}" for piece in pieces)
    till = f"{address('sale-new')}?commission={commission.pk}&{chosen}"
    page = signed.get(till).content.decode()
    assert f'name="commission" value="{commission.pk}"' in page
    assert f"{{&quot;{commission.pk}&quot;: 6000}}" in page
    sent = {
        "key": KEY, "channel": make_channel().pk, "on": "2025-06-09", "commission": commission.pk,
        "lines-TOTAL_FORMS": "2", "lines-INITIAL_FORMS": "2",
    }  # fmt: skip
    for number, piece in enumerate(pieces):
        sent |= {f"lines-{number}-piece": piece.pk, f"lines-{number}-price": "100.00"}
    signed.post(till, sent)
    assert (Sale.objects.get().paid_before, Sale.objects.get().lines.count()) == (money(60), 2)


@pytest.mark.parametrize(
    "facts",
    [{"amount": "300"}, {"amount": "-1"}, {"amount": "x"}, {"channel": ""}, {"on": "2025-06-01"}, {"on": ""}],
)
def test_a_payment_that_makes_no_sense_comes_back_with_what_was_typed(
    signed: Client, facts: dict[str, Any]
) -> None:
    commission = a_commission()
    answer = signed.post(address("commission-pay", commission.pk), payment(reason="First part") | facts)
    assert answer.status_code == 422
    assert 'value="First part"' in answer.content.decode()
    assert not CommissionPayment.objects.exists()


def test_a_mistake_is_reversed_and_a_commission_is_cancelled(signed: Client) -> None:
    commission, channel = a_commission(), make_channel()
    wrong = paid(commission, "60.00")
    page = signed.get(address("commission", commission.pk)).content.decode()
    assert address("commission-payment-reverse", wrong.pk) in page
    signed.post(
        address("commission-payment-reverse", wrong.pk),
        {"key": KEY, "reason": "Typed twice", "on": "2025-06-09"},
    )
    words = text_of(signed.get(address("commission", commission.pk)))
    assert "Typed twice" in words
    assert "Reversed" in words
    paid(commission, "50.00")
    back = {"key": "2" * 32, "returned": "30.00", "channel": channel.pk, "reason": "", "on": "2025-06-09"}
    assert signed.post(address("commission-cancel", commission.pk), back).status_code == 422
    signed.post(address("commission-cancel", commission.pk), back | {"reason": "The canvas was bought"})
    words = text_of(signed.get(address("commission", commission.pk)))
    assert "Kept £20.00" in words
    assert "Cancelled" in words
    sell(
        piece=a_piece(title="Ebb", state=State.FOR_SALE),
        channel=channel,
        price=money(45),
        submission=make_submission(on=LATER),
    )
    assert "£20.00 of deposits was kept" in text_of(signed.get(address("earnings")))
    reopen = address("commission-reopen", commission.pk)
    assert reopen in signed.get(address("commission", commission.pk)).content.decode()
    assert signed.post(reopen, {"key": "3" * 32, "on": ""}).status_code == 422
    signed.post(reopen, {"key": "3" * 32, "on": "2025-06-09"})
    shown = signed.get(address("commission", commission.pk))
    assert "Still to pay £180.00" in text_of(shown)
    assert reopen not in shown.content.decode()


def test_what_was_typed_is_shown_as_it_was_typed(signed: Client) -> None:
    commission = a_commission(wanted=NASTY)
    for name, pk in (("commission", commission.pk), ("commissions", None), ("commission-pay", commission.pk)):
        page = signed.get(address(name, pk)).content.decode()
        assert NASTY not in page
        assert "&lt;script&gt;" in page


def test_a_bookkeeper_sees_the_figures_and_no_name() -> None:
    commission = a_commission()
    paid(commission)
    client = as_user(make_bookkeeper())
    for name, pk in (("commission", commission.pk), ("commissions", None)):
        words = text_of(client.get(address(name, pk)))
        assert "£60.00" in words
        assert "Wenda" not in words
    assert Program(make_bookkeeper()).get("commissions/").status_code == 403


def test_a_contacts_page_and_file_show_what_it_ordered(signed: Client) -> None:
    contact = make_contact()
    commission = a_commission(contact=contact)
    page = signed.get(address("contact", contact.pk))
    assert "A large blue ring pour" in text_of(page)
    assert address("commission", commission.pk) in page.content.decode()
    [dealing] = signed.get(address("contact-file", contact.pk)).json()["dealings"]
    assert (dealing["piece"], dealing["on"], dealing["price"]) == (commission.wanted, "2025-06-02", "£200.00")
    [dealing] = Program(make_helper()).read(f"contacts/{contact.pk}/")["dealings"]
    assert (dealing["piece"], dealing["title"]) == (None, commission.wanted)


def test_the_queries_of_the_list_and_the_page_do_not_grow(signed: Client) -> None:
    def queries(path: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed.get(path).status_code == 200
        return len(seen)

    commission = a_commission()
    paid(commission, "1.00")
    piece = a_piece(state=State.FOR_SALE)
    paths = [address("commissions"), address("commission", commission.pk), address("sell", piece.pk)]
    for path in paths:
        signed.get(path)
    before = [queries(path) for path in paths]
    for _ in range(3):
        paid(a_commission(), "1.00")
        paid(commission, "1.00")
    assert [queries(path) for path in paths] == before


def test_programs_agree_change_take_payments_and_cancel() -> None:
    contact, channel = make_contact(), make_channel()
    program = Program(make_helper())
    agreed = {"contact": contact.pk, "wanted": "Harbour ring", "price": "200.00", "agreed_on": "2025-06-02"}
    made = program.send("commissions/", agreed, key="agreed")
    assert program.send("commissions/", agreed, key="agreed", status=200)["id"] == made["id"]
    assert program.post("commissions/", agreed | {"price": "210.00"}, key="agreed").status_code == 422
    one = f"commissions/{made['id']}/"
    seen = program.get(one).headers["ETag"]
    part = {"amount": "60.00", "channel": channel.pk, "on": "2025-06-09"}
    for _ in range(2):
        answer = program.send(f"{one}payments/", part, key="one", status=200)
    assert (answer["paid"], answer["held"], answer["left_to_pay"]) == ("60.000000", "60.000000", "140.000000")
    assert program.post(f"{one}change/", agreed | {"price": "210.00"}, if_match=seen).status_code == 200
    assert program.post(f"{one}change/", agreed | {"price": "220.00"}, if_match=seen).status_code == 412
    assert program.post(f"{one}change/", agreed | {"price": "59.00"}).status_code == 400
    wrong = answer["payments"][0]["id"]
    reversal = {"payment": wrong, "on": "2025-06-09", "reason": "Typed twice"}
    other = a_commission()
    assert program.post(f"commissions/{other.pk}/reversals/", reversal).status_code == 400
    answer = program.send(f"{one}reversals/", reversal, status=200)
    assert (answer["held"], [each["amount"] for each in answer["payments"]]) == (
        "0.000000", ["60.000000", "-60.000000"],
    )  # fmt: skip
    program.send(f"{one}payments/", part, status=200)
    sent = {"returned": "50.00", "channel": channel.pk, "on": "2025-06-09"}
    assert program.refusal(f"{one}cancel/", sent, status=400)["errors"].keys() == {"reason"}
    answer = program.send(f"{one}cancel/", sent | {"reason": "Half the work was done"}, status=200)
    assert (answer["status"], answer["kept"], answer["held"]) == ("cancelled", "10.000000", "0.000000")
    assert program.refusal(f"{one}payments/", part, status=409)["kind"]
    opened = program.send(f"{one}reopen/", {"on": "2025-06-09"}, status=200)
    assert (opened["status"], opened["held"], opened["kept"]) == ("open", "10.000000", "0.000000")
    program.send(f"{one}cancel/", sent | {"returned": "10.00"}, status=200)
    assert len(program.read("commissions/", state="open")["results"]) == 1


def test_programs_sell_what_was_ordered() -> None:
    commission = a_commission()
    paid(commission)
    piece = a_piece(state=State.FOR_SALE)
    sold = Program(make_helper()).send(
        "sales/",
        {
            "piece": piece.pk,
            "price": "200.00",
            "channel": make_channel().pk,
            "on": LATER.isoformat(),
            "for_commission": commission.pk,
        },
    )
    assert (sold["for_commission"], sold["paid_before"], sold["balance"]) == (
        commission.pk, "60.000000", "140.000000",
    )  # fmt: skip
    assert sold["buyer"] == commission.contact_id
