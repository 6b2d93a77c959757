"""Locations by page and by program: who sees what, moving several at once, the filter of the list of pieces."""

import pytest
from django.urls import reverse

from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.locations.queries import where_is
from costing.pieces.calculations import State
from costing.pricing.terms import terms_on
from studio.accounts.models import User
from tests.costing.locations.stories import make_box, make_contact, make_gallery, move
from tests.costing.pages import KEY, MONEY, as_user, page_of, text_of
from tests.costing.stories import LATER, a_piece, make_channel
from tests.inventory.browsing import queries
from tests.making import make_helper
from tests.programs import Program

pytestmark = pytest.mark.django_db
MOVED = {"key": KEY, "on": "2025-06-09", "note": ""}


def test_several_pieces_are_moved_at_once(owner: User) -> None:
    pieces, box, client = [a_piece(), a_piece(title="Ebb")], make_box(), as_user(owner)
    page = client.get(reverse("costing:pieces-move"), {"piece": pieces[0].pk})
    assert page.content.decode().count("checked") == 1
    sent = {**MOVED, "to": box.pk, "pieces": [piece.pk for piece in pieces]}
    assert client.post(reverse("costing:pieces-move"), sent)["Location"] == reverse(
        "costing:location", args=[box.pk]
    )
    assert [where_is(piece).location for piece in pieces] == [box, box]
    back = {**MOVED, "key": "1" * 32, "to": "studio", "pieces": [pieces[0].pk]}
    client.post(reverse("costing:pieces-move"), back)
    assert where_is(pieces[0]).kind == "studio"


def test_a_move_without_a_piece_or_a_place_is_refused(owner: User) -> None:
    piece = a_piece()
    answer = as_user(owner).post(reverse("costing:pieces-move"), {**MOVED, "to": ""})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"to", "pieces"}
    assert not piece.placements.exists()


def test_the_list_of_pieces_is_filtered_by_place(owner: User) -> None:
    away, here = a_piece(title="Away"), a_piece(title="Here")
    move([away], make_box())
    client = as_user(owner)
    for place, listed in (("studio", [here]), (make_box().pk, [away]), ("lent", [])):
        page = client.get(reverse("costing:pieces"), {"place": place})
        assert list(page.context["page_obj"]) == listed
    [found] = Program(owner).read("pieces/", place=make_box().pk)["results"]
    assert found["id"] == away.pk


def test_a_location_shows_its_pieces_and_a_helper_sees_no_money(owner: User) -> None:
    move([a_piece(price="45.00")], make_box())
    addresses = [reverse("costing:locations"), reverse("costing:location", args=[make_box().pk])]
    for address in addresses:
        assert "45.00" in text_of(as_user(owner).get(address))
        assert not MONEY.search(text_of(as_user(make_helper()).get(address)))


def test_pages_ask_as_often_for_many_pieces_as_for_one(owner: User) -> None:
    client, box = as_user(owner), make_box()
    move([a_piece()], box)
    addresses = [
        reverse("costing:locations"),
        reverse("costing:location", args=[box.pk]),
        reverse("costing:pieces-move"),
    ]
    before = [queries(client, address) for address in addresses]
    move([a_piece(title="Ebb"), a_piece(title="Neap")], box)
    make_gallery()
    assert [queries(client, address) for address in addresses] == before


def test_a_piece_is_reserved_for_a_new_contact_and_lent_to_a_known_one(owner: User) -> None:
    reserved, lent, client = a_piece(state=State.FOR_SALE), a_piece(title="Ebb"), as_user(owner)
    sent = {**MOVED, "new_name": "Wenda Tarpot", "until": "2025-06-20"}
    client.post(page_of(reserved, "piece-reserve"), sent)
    [contact] = Contact.objects.all()
    where = client.get(page_of(reserved)).context["where"]
    assert where[1].replace("\xa0", " ") == "Reserved for Wenda Tarpot until 20 Jun 2025"
    client.post(page_of(lent, "piece-lend"), {**MOVED, "contact": contact.pk})
    assert client.get(page_of(lent)).context["where"][0].startswith("Lent to Wenda Tarpot, since")
    answer = client.post(page_of(lent, "piece-lend"), {**MOVED, "key": "1" * 32})
    assert (answer.status_code, set(answer.context["form"].errors)) == (422, {"contact"})


def test_a_reservation_is_taken_from_one_contact_for_another_only_on_purpose(owner: User) -> None:
    piece, client, program = a_piece(state=State.FOR_SALE), as_user(owner), Program(owner)
    first, second = make_contact(), make_contact("Ida Sedge")
    client.post(page_of(piece, "piece-reserve"), {**MOVED, "contact": first.pk})
    form = client.post(
        page_of(piece, "piece-reserve"), {**MOVED, "key": "1" * 32, "contact": second.pk}
    ).context["form"]
    assert "reserved for Wenda Tarpot" in form.questions[0].text
    body = {"piece": piece.pk, "contact": second.pk, "on": "2025-06-10"}
    refused = program.refusal("reservations/", body, status=409)
    assert [each["token"] for each in refused["questions"]] == [form.asked]
    answer = client.post(
        page_of(piece, "piece-reserve"),
        {**MOVED, "key": "1" * 32, "contact": second.pk, "confirm": form.asked},
    )
    assert answer.status_code == 302
    assert client.get(page_of(piece)).context["where"][1] == "Reserved for Ida Sedge"


def test_the_kind_of_a_new_location_has_to_be_chosen(owner: User) -> None:
    form = as_user(owner).get(reverse("costing:location-new")).context["form"]
    assert [str(label) for value, label in form.fields["kind"].choices if not value] == ["Choose…"]


def test_a_gallery_names_its_sales_channel(owner: User) -> None:
    client, named = as_user(owner), {"name": "Slipway Gallery", "kind": "gallery", "seen": ""}
    answer = client.post(reverse("costing:location-new"), named)
    assert set(answer.context["form"].errors) == {"channel"}
    client.post(reverse("costing:location-new"), {**named, "channel": make_channel().pk})
    assert Location.objects.get().channel == make_channel()


def test_a_gallery_is_typed_once_with_its_sales_channel_and_its_contact(owner: User) -> None:
    client, here = as_user(owner), reverse("costing:location-new")
    assert client.get(here, {"kind": "gallery"}).context["form"]["kind"].value() == "gallery"
    sent = {
        "name": "Slipway Gallery",
        "kind": "gallery",
        "seen": "",
        "commission": "40",
        "adds_contact": "on",
    }
    client.post(here, sent)
    gallery = Location.objects.get()
    assert gallery.channel is not None
    terms = terms_on(gallery.channel, LATER)
    assert (gallery.channel.name, gallery.channel.is_gallery) == ("Slipway Gallery", True)
    assert (terms.commission, terms.commission_before_tax, terms.fixed_fee) == (400_000, True, 0)
    assert gallery.contact == Contact.objects.get(name="Slipway Gallery")
    assert client.get(reverse("costing:consignment-new")).status_code == 200


def test_nothing_of_a_new_gallery_is_kept_where_a_part_of_it_is_refused(owner: User) -> None:
    make_channel("Slipway Gallery")
    client, sent = (
        as_user(owner),
        {"name": "Slipway Gallery", "kind": "gallery", "seen": "", "commission": "40"},
    )
    answer = client.post(reverse("costing:location-new"), {**sent, "adds_contact": "on"})
    assert (answer.status_code, Location.objects.count(), Contact.objects.count()) == (422, 0, 0)
    assert set(answer.context["form"].errors) == {"name"}
    twice = {**sent, "name": "Quay Gallery", "channel": make_channel("Slipway Gallery").pk}
    answer = client.post(reverse("costing:location-new"), twice)
    assert set(answer.context["form"].errors) == {"commission"}


def test_a_box_gets_no_contact_and_a_helper_adds_no_sales_channel(owner: User) -> None:
    box = {"name": "Market box 1", "kind": "box", "seen": "", "adds_contact": "on", "commission": ""}
    as_user(owner).post(reverse("costing:location-new"), box)
    assert (Location.objects.get().contact, Contact.objects.count()) == (None, 0)
    helper = as_user(make_helper())
    assert "commission" not in helper.get(reverse("costing:location-new")).context["form"].fields
    gallery = {"name": "Slipway Gallery", "kind": "gallery", "seen": "", "commission": "40"}
    assert helper.post(reverse("costing:location-new"), gallery).status_code == 422


def test_a_program_moves_lends_and_reserves(owner: User) -> None:
    piece, other, program = a_piece(), a_piece(title="Ebb", state=State.FOR_SALE), Program(owner)
    box = {"name": "Market box 1", "kind": "box"}
    made = program.send("locations/", box, key="box")
    assert program.send("locations/", box, key="box", status=200) == made
    assert program.refusal("locations/", box, key="another", status=400)["errors"].keys() == {"name"}
    body = {"pieces": [piece.pk], "to": made["id"], "on": "2025-06-09"}
    moved = program.send("placements/", body, key="carry")
    assert program.send("placements/", body, key="carry", status=200) == moved
    assert program.read(f"locations/{made['id']}/")["pieces"] == [piece.pk]
    loan = {"piece": piece.pk, "contact": make_contact().pk, "on": "2025-06-10"}
    program.send("loans/", loan)
    reserved = program.send("reservations/", {"piece": other.pk, "new_name": "Wenda", "on": "2025-06-10"})
    assert reserved["piece"] == other.pk
    now = program.read("placements/", current="true")["results"]
    assert [(each["piece"], each["is_lent"]) for each in now] == [(piece.pk, True)]
    refused = program.refusal("reservations/", {"piece": other.pk, "on": "2025-06-10"}, status=400)
    assert "contact" in refused["errors"]
