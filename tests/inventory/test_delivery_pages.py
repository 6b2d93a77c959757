"""Delivery pages: the list, logging one, its landed costs, a late change of cost, and a delivery from a file."""

import re
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Delivery, Entry, Lot, Material, Order, Place, Posting, PostingKind, Supplier
from inventory.orders import OrderedLine, place_order
from studio.models import Studio, User
from tests.making import (
    held,
    make_delivery,
    make_helper,
    make_material,
    make_owner,
    make_supplier,
    make_surface,
    make_water,
    money,
    spill,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db
KEY = "0" * 32


@pytest.fixture
def signed(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def as_user(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def sent(*lines: dict[str, Any], **head: Any) -> dict[str, Any]:
    """A delivery as the browser sends it."""
    data: dict[str, Any] = {
        "key": KEY,
        "supplier": head.pop("supplier", None) or make_supplier().pk,
        "received_on": "2025-06-10",
        "carriage_shared_by": "value",
        "lines-TOTAL_FORMS": str(len(lines) + 6),
        "lines-INITIAL_FORMS": "0",
    } | head
    for number in range(len(lines) + 6):
        data |= {f"lines-{number}-packs": "1"}
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": value for name, value in line.items()}
    return data


def text_of(response: Any) -> str:
    """The page's words with all spaces plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return " ".join(words.replace("\xa0", " ").split())


# Logging one


def test_it_posts_a_delivery_and_shows_what_each_line_cost_on_arrival(signed: Client) -> None:
    paint, canvas = make_material(name="Net Loft White"), make_surface(name="Deep canvas")
    response = signed.post(
        reverse("inventory:delivery-new"),
        sent(
            {"material": paint.pk, "pack": "500 ml", "packs": "2", "price": "30.00", "place": "Window"},
            {"material": canvas.pk, "pack": "10 each", "price": "10.00", "best_before": "2027-03-31"},
            carriage="4.00",
            tax="8",
            reference="INV-7",
        ),
    )
    made = Delivery.objects.get()
    assert response.status_code == 302
    assert response["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert held(Lot.objects.get(material=paint)) == (units(1000), money("39.00"))
    assert held(Lot.objects.get(material=canvas)) == (units(10), money("13.00"))
    words = text_of(signed.get(response["Location"]))
    assert "2 packs of 500 mL Window 1,000 mL" in words
    assert "£30.00 £3.00 £6.00 £39.00 £0.039 per mL" in words
    assert "Best before 31 Mar 2027" in words
    assert f"Posting {made.posting_id}" in words
    assert "Together £40.00 £4.00 £8.00 £52.00" in words


def test_it_echoes_a_typed_ounce_in_full(signed: Client) -> None:
    Studio.objects.update(fluid_system="us")
    paint = make_material()
    signed.post(
        reverse("inventory:delivery-new"), sent({"material": paint.pk, "pack": "8 fl oz", "price": "9.40"})
    )
    # 1 US fluid ounce = 29.5735295625 mL (NIST Handbook 44, appendix C), so eight are 236.588 mL.
    words = text_of(signed.get(reverse("inventory:delivery", args=[Delivery.objects.get().pk])))
    assert "8 US fluid ounces = 236.588 mL" in words


def test_the_echo_stands_when_the_studio_changes_its_ounce(signed: Client) -> None:
    Studio.objects.update(fluid_system="us")
    paint = make_material()
    signed.post(
        reverse("inventory:delivery-new"), sent({"material": paint.pk, "pack": "8 fl oz", "price": "9.40"})
    )
    Studio.objects.update(fluid_system="imperial")
    words = text_of(signed.get(reverse("inventory:delivery", args=[Delivery.objects.get().pk])))
    assert "8 fl oz = 236.588 mL" in words
    assert "imperial" not in words


def test_it_takes_the_suppliers_currency_and_asks_for_the_rate(signed: Client) -> None:
    supplier, paint = make_supplier(currency="EUR"), make_material()
    data = sent({"material": paint.pk, "pack": "1 l", "price": "20.00"}, supplier=supplier.pk)
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert response.status_code == 422
    assert "How much GBP was one EUR?" in text_of(response)
    assert not Posting.objects.exists()

    signed.post(reverse("inventory:delivery-new"), data | {"rate": "0.85"})
    made = Delivery.objects.get()
    assert (made.currency, made.rate, made.rate_on) == ("EUR", 850_000, date(2025, 6, 10))
    assert made.lines.get().landed == money("17.00")
    words = text_of(signed.get(reverse("inventory:delivery", args=[made.pk])))
    assert "1 EUR = 0.85 GBP" in words
    assert "€20.00" in words


def test_it_refuses_a_rate_for_an_invoice_in_the_studios_own_currency(signed: Client) -> None:
    data = sent({"material": make_material().pk, "pack": "1 l", "price": "20"}, rate="0.85")
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert "The invoice is in GBP already" in text_of(response)
    assert not Posting.objects.exists()


@pytest.mark.parametrize(
    ("line", "field", "says"),
    [
        ({"pack": "8 oz"}, "pack", "An ounce is a weight"),
        ({"pack": "3 each"}, "pack", "a volume is wanted"),
        ({"price": "12,345,6"}, "price", "12,345,6"),
        ({"price": "1.234"}, "price", "too many decimals"),
        ({"packs": "0"}, "packs", "greater than or equal to 1"),
        ({"material": ""}, "material", "required"),
        ({"material": "999999"}, "material", "999999"),
        ({"best_before": "31 March"}, "best_before", "valid date"),
    ],
)
def test_it_puts_each_error_on_its_own_field_and_posts_nothing(
    signed: Client, line: dict[str, Any], field: str, says: str
) -> None:
    whole = {"material": make_material().pk, "pack": "500 ml", "price": "9.50"} | line
    response = signed.post(reverse("inventory:delivery-new"), sent(whole))
    assert response.status_code == 422
    errors = response.context["formset"].forms[0].errors
    assert list(errors) == [field]
    assert says in str(errors[field])
    assert not Posting.objects.exists()


def test_it_keeps_what_was_typed_when_the_writer_refuses(signed: Client) -> None:
    canvas = make_surface(name="Deep canvas")
    data = sent(
        {"material": canvas.pk, "pack": "7 each", "price": "9.50"}, carriage="3", carriage_shared_by="mass"
    )
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert response.status_code == 422
    assert "the weight of Deep canvas is not known" in text_of(response)
    assert 'value="7 each"' in response.content.decode()
    assert not Posting.objects.exists()


def test_an_empty_form_is_refused_in_words(signed: Client) -> None:
    make_material()
    response = signed.post(reverse("inventory:delivery-new"), sent())
    assert "A delivery needs at least one line." in text_of(response)


def test_the_same_form_sent_twice_posts_once(signed: Client) -> None:
    data = sent({"material": make_material().pk, "pack": "500 ml", "price": "9.50"})
    first = signed.post(reverse("inventory:delivery-new"), data)
    second = signed.post(reverse("inventory:delivery-new"), data)
    assert first["Location"] == second["Location"]
    assert Delivery.objects.count() == 1


def test_a_removed_line_is_left_out(signed: Client) -> None:
    line = {"material": make_material().pk, "pack": "500 ml", "price": "9.50"}
    signed.post(reverse("inventory:delivery-new"), sent(line, line | {"DELETE": "on", "pack": "nonsense"}))
    assert Delivery.objects.get().lines.count() == 1


def test_the_form_has_six_blank_lines_and_offers_no_free_or_archived_material(signed: Client) -> None:
    make_water(name="Tap water")
    make_material(name="Old stock", is_archived=True)
    make_material(name="Net Loft White")
    response = signed.get(reverse("inventory:delivery-new"))
    page = response.content.decode()
    assert len(response.context["formset"].forms) == 6
    assert "Net Loft White" in page
    assert "Tap water" not in page
    assert "Old stock" not in page
    assert reverse("admin:inventory_material_add") in page


def test_a_delivery_started_from_an_order_is_filled_with_what_is_still_to_come(signed: Client) -> None:
    paint, canvas = make_material(), make_surface()
    supplier = make_supplier(name="Quay Colours")
    order = place_order(
        supplier=supplier,
        lines=[OrderedLine(paint, units(1000), money(20)), OrderedLine(canvas, units(10), money(30))],
        on=date(2025, 6, 1),
    )
    address = f"{reverse('inventory:delivery-new')}?order={order.pk}"
    first = signed.get(address).context["formset"].forms
    assert first[0].initial["pack"] == "1000 mL"

    lines = [
        {
            "material": paint.pk,
            "pack": "400 ml",
            "price": "8",
            "order_line": order.lines.get(material=paint).pk,
        }
    ]
    signed.post(address, sent(*lines, supplier=supplier.pk))
    again = signed.get(address).context["formset"].forms
    assert [row.initial["pack"] for row in again[:2]] == ["600 mL", "10 each"]
    assert again[0].initial["price"] == "12.00"
    assert Delivery.objects.get().order == order

    signed.post(address, sent(*lines, supplier=supplier.pk, close_order="on", key="1" * 32))
    assert Order.objects.get().is_closed


# The list


def test_the_list_filters_by_supplier_year_and_words(signed: Client) -> None:
    quay, mill = make_supplier(name="Quay Colours"), make_supplier(name="Mill Lane Boards")
    make_delivery(lines=[(make_material(name="Amber"), 1000, money(1))], supplier=quay, reference="Q-1")
    make_delivery(
        lines=[(make_material(name="Plywood round"), 1000, money(2))], supplier=mill, on=date(2024, 6, 1)
    )

    def listed(query: dict[str, Any]) -> list[str]:
        page = signed.get(reverse("inventory:deliveries"), query).context["page_obj"]
        return [row.supplier.name for row in page]

    assert listed({}) == ["Quay Colours", "Mill Lane Boards"]
    assert listed({"supplier": mill.pk}) == ["Mill Lane Boards"]
    assert listed({"year": "2025"}) == ["Quay Colours"]
    assert listed({"words": "plywood"}) == ["Mill Lane Boards"]
    assert listed({"words": "q-1"}) == ["Quay Colours"]
    assert listed({"sort": "cost"}) == ["Quay Colours", "Mill Lane Boards"]
    assert listed({"sort": "nonsense", "supplier": "x", "year": "9" * 40}) == [
        "Quay Colours",
        "Mill Lane Boards",
    ]


def test_the_list_adds_up_what_was_not_taken_back(signed: Client) -> None:
    make_delivery(lines=[(make_material(), 1000, money("5.25"))])
    gone = make_delivery(lines=[(make_material(), 1000, money(3))])
    take_back(gone.posting)
    words = text_of(signed.get(reverse("inventory:deliveries")))
    assert "Cost on arrival £5.25" in words
    assert "Taken back" in words


def test_an_empty_list_teaches(signed: Client) -> None:
    assert "Nothing has come in yet" in text_of(signed.get(reverse("inventory:deliveries")))


@pytest.mark.parametrize("page", ["inventory:deliveries", "inventory:delivery", "inventory:delivery-new"])
def test_the_number_of_queries_does_not_grow_with_the_rows(signed: Client, page: str) -> None:
    def count(rows: int) -> int:
        made = None
        for _ in range(rows if page == "inventory:deliveries" else 1):
            made = make_delivery(
                lines=[(make_material(), 1000, money(1)) for _ in range(rows)], supplier=make_supplier()
            )
        arguments = [made.pk] if page == "inventory:delivery" and made else []
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse(page, args=arguments)).status_code == 200
        return len(queries)

    count(1)  # the first visit warms up what is read once
    assert count(3) == count(12)


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    made = make_delivery(
        lines=[(make_material(name=nasty), 1000, money(1))],
        supplier=make_supplier(name=nasty + "x"),
        reference=nasty,
    )
    for address in (reverse("inventory:deliveries"), reverse("inventory:delivery", args=[made.pk])):
        page = signed.get(address).content.decode()
        assert nasty not in page
        assert "&lt;script&gt;" in page


# Who may


def test_a_helper_sees_what_came_but_no_money(helper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money("12.34"))], carriage=money("5.67"))
    client = as_user(helper)
    for address in (reverse("inventory:deliveries"), reverse("inventory:delivery", args=[made.pk])):
        page = client.get(address)
        assert page.status_code == 200
        assert not re.search(r"£|18\.01|12\.34|5\.67", page.content.decode())
    assert client.get(reverse("inventory:deliveries"), {"sort": "cost"}).context["sort"] == "-day"


@pytest.mark.parametrize("name", ["delivery-new", "delivery-file", "delivery-file-example"])
def test_only_workers_who_see_money_log_deliveries(
    name: str, owner: User, helper: User, bookkeeper: User, stranger: User
) -> None:
    address = reverse(f"inventory:{name}")
    assert as_user(owner).get(address).status_code == 200
    assert as_user(make_helper(may_see_money=True)).get(address).status_code == 200
    assert as_user(helper).get(address).status_code == 403
    assert as_user(bookkeeper).get(address).status_code == 403
    assert as_user(stranger).get(address).status_code == 302
    assert Client().get(address)["Location"].startswith(reverse("login"))


def test_a_bookkeeper_reads_the_costs(bookkeeper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money("12.34"))])
    page = text_of(as_user(bookkeeper).get(reverse("inventory:delivery", args=[made.pk])))
    assert "£12.34" in page
    assert "Take this delivery back" not in page
    assert "Correct a cost" not in page


# A late change of cost


def correction(line: Any, **changes: str) -> dict[str, str]:
    return {
        "key": KEY,
        "line": str(line.pk),
        "direction": "more",
        "amount": "4.00",
        "on": "2025-06-10",
        "reason": "Late carriage bill",
        "seen": "",
    } | changes


def test_a_correction_is_shown_before_it_is_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(name="Amber"), units(1000), money(10))])
    line = made.lines.get()
    spill(lot=line.lot, quantity=units(250))
    address = reverse("inventory:delivery-correct", args=[made.pk])
    before = Posting.objects.count()

    preview = signed.post(address, correction(line))
    words = text_of(preview)
    assert f"Still on the shelf Amber, {line.lot.label} £3.00" in words
    assert "In losses and other ways out Spill or dropped bottle £1.00" in words
    assert Posting.objects.count() == before

    posted = signed.post(address, correction(line, seen=preview.context["seen"]))
    assert posted.status_code == 302
    assert held(line.lot) == (units(750), money("10.50"))
    words = text_of(signed.get(posted["Location"]))
    assert f"{line.lot.label} of delivery {made.pk}: Late carriage bill +£4.00" in words


def test_a_changed_amount_is_shown_again_instead_of_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    seen = signed.post(address, correction(made.lines.get())).context["seen"]
    response = signed.post(address, correction(made.lines.get(), seen=seen, amount="5.00"))
    assert response.status_code == 200
    assert response.context["difference"] == money(5)
    assert not Posting.objects.filter(kind=PostingKind.COST_CORRECTION).exists()


def test_a_credit_note_lowers_the_cost_but_never_below_nothing(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    data = correction(made.lines.get(), direction="less", amount="10.01")
    seen = signed.post(address, data).context["seen"]
    response = signed.post(address, data | {"seen": seen})
    assert response.status_code == 422
    assert "less than nothing" in text_of(response)
    data = correction(made.lines.get(), direction="less", amount="2.50", key="1" * 32)
    seen = signed.post(address, data).context["seen"]
    signed.post(address, data | {"seen": seen})
    assert held(made.lines.get().lot) == (units(1000), money("7.50"))


def test_only_the_owner_corrects_a_cost(bookkeeper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    assert as_user(make_helper(may_see_money=True)).get(address).status_code == 403
    assert as_user(bookkeeper).get(address).status_code == 403
    assert as_user(make_owner()).get(address).status_code == 200


def test_a_delivery_taken_back_has_no_cost_to_correct(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    take_back(made.posting)
    assert signed.get(reverse("inventory:delivery-correct", args=[made.pk])).status_code == 302


# From a file

GOOD = """material,quantity,packs,price,best before,place,batch
Net Loft White,500 ml,2,19.00,2028-09-30,Window shelf,NL-204
lantern amber,8 fl oz,,9.40,,,
"""


def upload(text: str, name: str = "lines.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text.encode(), content_type="text/csv")


def head(supplier: Supplier, **more: Any) -> dict[str, Any]:
    return {
        "key": KEY,
        "supplier": supplier.pk,
        "received_on": "2025-06-10",
        "carriage_shared_by": "value",
    } | more


@pytest.fixture
def known() -> list[Material]:
    return [make_material(name="Net Loft White"), make_material(name="Lantern Amber")]


def post_file(client: Client, supplier: Supplier, text: str = GOOD) -> tuple[Any, Any]:
    """Show the file, then post it."""
    address = reverse("inventory:delivery-file")
    preview = client.post(address, head(supplier, file=upload(text)))
    carried = {"carried": preview.context["carried"], "seen": preview.context["seen"]}
    return preview, client.post(address, head(supplier, **carried))


def test_a_file_is_shown_line_by_line_and_then_posted(signed: Client, known: list[Material]) -> None:
    supplier = make_supplier()
    preview, posted = post_file(signed, supplier)
    words = text_of(preview)
    assert "2 packs of 500 mL 1,000 mL 30 Sept 2028 Window shelf, NL-204 £19.00" in words
    assert (
        "8 imperial fluid ounces = 227.305 mL" in words
    )  # 28.4130625 mL each (Units of Measurement Regulations 1995)
    assert "Together £28.40" in words
    made = Delivery.objects.get()
    assert posted["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert sorted(made.lines.values_list("quantity", "price")) == [
        (units("227.305"), money("9.40")),
        (units(1000), money(19)),
    ]


def test_showing_a_file_posts_nothing(signed: Client, known: list[Material]) -> None:
    signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(GOOD)))
    assert not Posting.objects.exists()
    assert not Entry.objects.exists()


def test_every_problem_of_a_file_is_named_with_its_line(signed: Client, known: list[Material]) -> None:
    bad = "material,quantity,price\nNet Loft White,lots,1\nUnknown,5 ml,1\nLantern Amber,5 ml,free\n"
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(bad)))
    words = text_of(response)
    assert response.status_code == 422
    assert "Line 2, quantity:" in words
    assert "Line 3, material: “Unknown” is not among the materials." in words
    assert "Line 4, price:" in words
    assert not response.context["is_ready"]
    assert not Posting.objects.exists()


def test_the_same_file_twice_posts_nothing_new_unless_it_was_taken_back(
    signed: Client, known: list[Material]
) -> None:
    supplier = make_supplier()
    post_file(signed, supplier)
    _, again = post_file(signed, supplier)
    made = Delivery.objects.get()
    assert again["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert "Nothing new was posted" in text_of(signed.get(again["Location"]))
    take_back(made.posting)
    post_file(signed, supplier)
    assert Delivery.objects.count() == 2


def test_a_file_changed_after_it_was_shown_is_shown_again(signed: Client, known: list[Material]) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    seen = signed.post(address, head(supplier, file=upload(GOOD))).context["seen"]
    other = GOOD.replace("19.00", "18.00")
    response = signed.post(address, head(supplier, file=upload(other), seen=seen))
    assert response.status_code == 200
    assert not Posting.objects.exists()


def test_the_file_is_kept_when_the_head_has_to_be_put_right(signed: Client, known: list[Material]) -> None:
    supplier, address = make_supplier(), reverse("inventory:delivery-file")
    response = signed.post(address, head(supplier, file=upload(GOOD), carriage="dear"))
    assert response.status_code == 422
    assert "The file you chose is kept" in text_of(response)
    again = signed.post(address, head(supplier, carried=response.context["carried"], carriage="2"))
    assert again.context["is_ready"]
    assert not Posting.objects.exists()


def test_it_asks_for_a_file_that_was_not_chosen(signed: Client) -> None:
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier()))
    assert "Choose the file with the lines" in text_of(response)
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), carried="%%%"))
    assert "Choose the file with the lines" in text_of(response)


def test_a_file_larger_than_a_megabyte_is_refused(signed: Client, known: list[Material]) -> None:
    response = signed.post(
        reverse("inventory:delivery-file"), head(make_supplier(), file=upload(GOOD + " " * 1_000_001))
    )
    assert response.status_code == 422
    assert "larger than 1 MB" in text_of(response)


@pytest.mark.parametrize("rubbish", ["", "\x00\x01", "a,b\n1,2\n", '"'])
def test_rubbish_is_refused_without_a_failure(signed: Client, rubbish: str) -> None:
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=upload(rubbish)))
    assert response.status_code == 422


def test_a_file_that_is_not_text_is_refused_in_words(signed: Client) -> None:
    photo = SimpleUploadedFile("lines.csv", b"\xff\xfe\x00\x01")
    response = signed.post(reverse("inventory:delivery-file"), head(make_supplier(), file=photo))
    assert "not UTF-8" in text_of(response)


def test_the_owner_may_let_a_file_add_materials(signed: Client) -> None:
    text = "material,quantity,price,kind\nTidewrack Green,250 ml,8.00,paint\n"
    address, supplier = reverse("inventory:delivery-file"), make_supplier()
    preview = signed.post(address, head(supplier, file=upload(text), create_materials="on"))
    assert not Material.objects.filter(name="Tidewrack Green").exists()
    carried = {"carried": preview.context["carried"], "seen": preview.context["seen"]}
    signed.post(address, head(supplier, create_materials="on", **carried))
    assert Lot.objects.get().material.name == "Tidewrack Green"


@pytest.mark.parametrize("locale", ["en_GB", "de_DE"])
def test_the_example_file_reads_back_without_a_problem(signed: Client, locale: str) -> None:
    Studio.objects.update(locale=locale)
    for name in ("Net Loft White", "Lantern Amber"):
        make_material(name=name)
    make_surface(name="Canvas 30 x 30 cm")
    example = signed.get(reverse("inventory:delivery-file-example"))
    assert "attachment" in example["Content-Disposition"]
    preview, posted = post_file(signed, make_supplier(), example.content.decode())
    assert preview.context["problems"] == []
    assert posted.status_code == 302
    assert Delivery.objects.get().lines.count() == 3
    assert Entry.objects.filter(place=Place.LOT).count() == 3
