"""Consignment notes by page, on paper and by program."""

import pytest
from django.urls import reverse

from costing.consignments.models import Consignment
from costing.consignments.queries import state_of
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import Payment, SalesChannel
from costing.selling.models import Sale
from studio.accounts.models import User
from tests.costing.consignments.stories import a_note, fates, give
from tests.costing.locations.stories import make_gallery
from tests.costing.pages import KEY, MONEY, as_user, text_of
from tests.costing.stories import a_piece, make_channel
from tests.inventory.browsing import queries
from tests.making import make_helper, money
from tests.programs import Program

pytestmark = pytest.mark.django_db
SENT = {"key": KEY, "on": "2025-06-10", "note": ""}


def page(note: Consignment, name: str = "consignment") -> str:
    return reverse(f"costing:{name}", args=[note.pk])


def test_a_note_is_written_settled_and_closed_by_page(owner: User) -> None:
    pieces = [a_piece(title=title, state=State.FOR_SALE, price="45.00") for title in ("Low water", "Ebb")]
    client = as_user(owner)
    ticked = {"pieces": [piece.pk for piece in pieces], **{f"price-{piece.pk}": "50.00" for piece in pieces}}
    sent = {**SENT, "on": "2025-06-09", "gallery": make_gallery().pk, "until": "2025-06-30", **ticked}
    client.post(reverse("costing:consignment-new"), sent)
    note = Consignment.objects.get()
    assert state_of(note).value == money("100.00")
    sold = {**SENT, "pieces": [pieces[0].pk], f"price-{pieces[0].pk}": "48.00"}
    client.post(page(note, "consignment-sold"), sold)
    assert (Sale.objects.get().lines.get().price, fates(note)) == (money("48.00"), ["sold", "there"])
    client.post(page(note, "consignment-returned"), {**SENT, "key": "1" * 32, "pieces": [pieces[1].pk]})
    assert state_of(note).is_settled
    assert "Settled" in text_of(client.get(reverse("costing:consignments")))


def test_a_price_that_the_gallerys_share_eats_up_is_said_there_and_before_its_price_list_is_printed(
    owner: User,
) -> None:
    """8.00 leaves more than 5.50 on a stall; a gallery that keeps 40 % leaves 4.80."""
    make_channel("Stall")
    gallery = make_gallery()
    SalesChannel.objects.filter(locations=gallery).update(payment=Payment.GALLERY)
    piece, client = a_piece(title="Ebb", state=State.FOR_SALE, price="8.00"), as_user(owner)
    assert "look at these before you print" not in text_of(client.get(reverse("costing:price-list")))
    sent = {
        **SENT,
        "on": "2025-06-09",
        "gallery": gallery.pk,
        "pieces": [piece.pk],
        f"price-{piece.pk}": "8.00",
    }
    answer = client.post(reverse("costing:consignment-new"), sent, follow=True)
    assert "this does not cover its cost: “Ebb”" in text_of(answer)
    assert "look at these before you print" in text_of(client.get(reverse("costing:price-list")))


def test_a_note_without_a_price_for_a_piece_is_refused(owner: User) -> None:
    piece = a_piece(state=State.FOR_SALE)
    sent = {**SENT, "gallery": make_gallery().pk, "pieces": [piece.pk], f"price-{piece.pk}": ""}
    answer = as_user(owner).post(reverse("costing:consignment-new"), sent)
    assert (answer.status_code, set(answer.context["form"].errors)) == (422, {"pieces"})
    assert not Consignment.objects.exists()


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_a_note_is_printed_for_both_to_sign(owner: User, paper: str) -> None:
    answer = as_user(owner).get(page(a_note(), "consignment-paper"), {"paper": paper})
    assert (answer.status_code, answer.content[:5]) == (200, b"%PDF-")


def test_a_helper_sees_notes_without_money_and_fetches_pieces(owner: User) -> None:
    note, helper = a_note(), as_user(make_helper())
    for address in (reverse("costing:consignments"), page(note), page(note, "consignment-returned")):
        assert not MONEY.search(text_of(helper.get(address)))
    for name in ("consignment-sold", "consignment-paper"):
        assert helper.get(page(note, name)).status_code == 403


def test_the_list_asks_as_often_for_many_notes_as_for_one(owner: User) -> None:
    client = as_user(owner)
    a_note()
    before = queries(client, reverse("costing:consignments"))
    for title in ("Ebb", "Flood"):
        give([a_piece(title=title, state=State.FOR_SALE)])
    assert queries(client, reverse("costing:consignments")) == before


def test_a_program_gives_settles_and_fetches(owner: User) -> None:
    pieces = [a_piece(title=title, state=State.FOR_SALE) for title in ("Low water", "Ebb")]
    program, priced = Program(owner), [{"piece": piece.pk, "price": "45.00"} for piece in pieces]
    body = {"gallery": make_gallery().pk, "pieces": priced, "on": "2025-06-09"}
    made = program.send("consignments/", body, key="note")
    assert program.send("consignments/", body, key="note", status=200) == made
    sold = {"pieces": priced[:1], "on": "2025-06-10"}
    after = program.send(f"consignments/{made['id']}/sales/", sold, status=200)
    assert [each["status"] for each in after["pieces"]] == ["sold", "there"]
    # 45.00 without tax at 40%: 18.00 for the gallery.
    assert after["net_proceeds"] == "27.000000"
    fetched = {"pieces": [pieces[1].pk], "on": "2025-06-10"}
    done = program.send(f"consignments/{made['id']}/returns/", fetched, status=200)
    assert (done["is_settled"], Piece.objects.get(pk=pieces[1].pk).state) == (True, State.FOR_SALE)
    late = {"pieces": priced[1:], "on": "2025-06-10"}
    assert program.refusal(f"consignments/{made['id']}/sales/", late, status=422)["detail"]
    assert [each["id"] for each in program.read("consignments/", state="settled")["results"]] == [made["id"]]
