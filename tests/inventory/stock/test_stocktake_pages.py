"""Counting the shelf: choosing, counting, weighing, looking over, posting; and opening stock."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.ledger.models import Entry, Lot, Posting, PostingKind
from inventory.materials.models import Kind
from inventory.stock.actions.stocktakes import Count, post_stocktake
from inventory.stock.models import Stocktake
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    held,
    make_lot,
    make_material,
    make_submission,
    make_surface,
    money,
    spill,
    take_back,
    units,
)
from tests.tables import table_rows

pytestmark = pytest.mark.django_db
KEY = "0" * 32
NEW = "inventory:stocktake-new"


def shelf_of(place: str) -> str:
    return f"{reverse(NEW)}?place={place}"


def lot_in(place: str, **facts: Any) -> Lot:
    """A litre of a paint (1.12 g/mL) for £10, in a place."""
    lot = make_lot(**facts)
    Lot.objects.filter(pk=lot.pk).update(place=place)
    lot.refresh_from_db()
    return lot


def counted(*found: tuple[Lot, str], **said: Any) -> dict[str, Any]:
    """A count as the browser sends it."""
    data = {"key": KEY, "counted_on": TODAY.isoformat(), "notes": "", "do": "review"} | said
    return data | {f"lot-{lot.pk}-found": text for lot, text in found}


def reviewed(response: Any) -> dict[str, str]:
    """What the review page sends on: every hidden field."""
    hidden = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', response.content.decode())
    return {name: text for name, text in hidden if name != "csrfmiddlewaretoken"}


def post(client: Client, address: str, data: dict[str, Any]) -> Any:
    """Count, look over, and post."""
    review = client.post(address, data)
    assert review.status_code == 200, text_of(review)
    return client.post(address, reviewed(review) | {"do": "post"})


# Choosing a shelf


def test_it_offers_places_and_kinds_with_how_much_stands_there(owner: User) -> None:
    lot_in("Window")
    lot_in("Window")
    make_lot(material=make_surface(), quantity=units(2))
    words = text_of(as_user(owner).get(reverse(NEW)))
    assert "Window 2 lots" in words
    assert "No place recorded 1 lot" in words
    assert "Surface 1 lot" in words
    assert "Choose a shelf" in words


def test_a_shelf_lists_its_own_lots_that_hold_something(owner: User) -> None:
    here, there, empty = lot_in("Window"), lot_in("Cellar"), lot_in("Window")
    placeless = make_lot(material=make_surface(), quantity=units(2))
    spill(lot=empty, quantity=units(1000))

    def listed(address: str) -> list[Lot]:
        return [row.lot for row in as_user(owner).get(address).context["sheet"].rows]

    assert listed(shelf_of("Window")) == [here]
    assert listed(shelf_of("-")) == [placeless]
    assert listed(f"{reverse(NEW)}?kind={Kind.SURFACE}") == [placeless]
    assert set(listed(f"{reverse(NEW)}?all=1")) == {here, there, placeless}
    assert listed(shelf_of("Nowhere")) == []


def test_what_was_emptied_lately_can_be_listed_too(owner: User) -> None:
    now, today = timezone.now(), timezone.localdate()
    lately, long_ago = lot_in("Window"), lot_in("Window")
    spill(lot=long_ago, quantity=units(1000))
    spill(lot=lately, quantity=units(1000), on=today, at=now)
    rows = as_user(owner).get(f"{shelf_of('Window')}&emptied=1").context["sheet"].rows
    assert [row.lot for row in rows] == [lately]


def test_it_says_what_the_books_say(owner: User) -> None:
    lot_in("Window", material=make_material(name="Sail Loft White"))
    words = text_of(as_user(owner).get(shelf_of("Window")))
    assert "Sail Loft White L" in words
    assert "Window 1 L" in words


def test_an_empty_studio_is_taught(owner: User, helper: User) -> None:
    assert "Enter opening stock" in text_of(as_user(owner).get(reverse(NEW)))
    assert "Ask the owner" in text_of(as_user(helper).get(reverse(NEW)))


# Counting, looking over, posting


def test_nothing_is_posted_before_the_differences_were_seen(owner: User) -> None:
    lot = lot_in("Window")
    response = as_user(owner).post(shelf_of("Window"), counted((lot, "480 ml")))
    # 520 mL missing of a litre for £10.
    assert list(table_rows(response)[0].values())[3:] == ["1,000 mL", "480 mL", "−520 mL Missing", "−£5.20"]
    assert "Value of differences −£5.20" in text_of(response)
    assert not Stocktake.objects.exists()
    assert held(lot) == (units(1000), money(10))


def test_it_posts_what_was_seen_once_however_often_it_is_sent(helper: User) -> None:
    lot, more = lot_in("Window"), lot_in("Window")
    client = as_user(helper)
    review = client.post(shelf_of("Window"), counted((lot, "480 ml"), (more, "1.1 l"), notes="Spring count"))
    for _ in range(2):
        response = client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
        assert response.status_code == 302
    stocktake = Stocktake.objects.get()
    assert response["Location"] == reverse("inventory:stocktake", args=[stocktake.pk])
    assert (stocktake.counted_on, stocktake.notes) == (TODAY, "Spring count")
    assert held(lot) == (units(480), money("4.80"))
    assert held(more) == (units(1100), money(11))
    assert Posting.objects.filter(kind=PostingKind.STOCKTAKE).count() == 1
    assert [line.how for line in stocktake.lines.order_by("lot")] == ["Counted: 480 ml", "Counted: 1.1 l"]


def test_the_value_shown_is_the_value_posted(owner: User) -> None:
    lot, gained = lot_in("Window", quantity=units(300), cost=money(1)), lot_in("Window", quantity=units(7))
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((lot, "100 ml"), (gained, "9 ml")))
    shown = {item.line.lot.pk: item.money for item in review.context["table"].rows}
    client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
    posted = Entry.objects.filter(posting__kind=PostingKind.STOCKTAKE, place="lot")
    assert {entry.lot_id: entry.money for entry in posted} == shown


def test_a_bottle_put_on_the_scale_is_worked_out(owner: User) -> None:
    lot = lot_in("Window")
    Lot.objects.filter(pk=lot.pk).update(empty_weight=34_000)
    data = counted() | {f"lot-{lot.pk}-gross": "594 g", f"lot-{lot.pk}-empty": "34 g"}
    post(as_user(owner), shelf_of("Window"), data)
    # (594 − 34) g ÷ 1.12 g/mL = 500 mL.
    assert held(lot) == (units(500), money(5))
    assert Stocktake.objects.get().lines.get().how == "Weighed: 594 g less 34 g empty"


def test_a_known_empty_weight_stands_in_the_form(owner: User) -> None:
    lot = lot_in("Window")
    Lot.objects.filter(pk=lot.pk).update(empty_weight=34_000)
    assert 'value="34 g"' in as_user(owner).get(shelf_of("Window")).content.decode()


def test_an_empty_bottle_is_counted_and_a_blank_is_not(owner: User) -> None:
    gone, uncounted = lot_in("Window"), lot_in("Window")
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((gone, "0"), (uncounted, "")))
    assert "1 lot left blank: not included" in text_of(review)
    client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
    assert held(gone) == (0, 0)
    assert held(uncounted) == (units(1000), money(10))


def test_what_agrees_moves_nothing_and_is_kept_on_record(owner: User) -> None:
    lot, postings = lot_in("Window"), Posting.objects.count()
    response = post(as_user(owner), shelf_of("Window"), counted((lot, "1 l")))
    stocktake = Stocktake.objects.get()
    assert response["Location"] == reverse("inventory:stocktake", args=[stocktake.pk])
    assert Posting.objects.count() == postings
    assert "your stock is unchanged" in text_of(as_user(owner).get(response["Location"]))


def test_a_count_that_agrees_is_kept_once_however_often_it_is_sent(owner: User) -> None:
    lot = lot_in("Window")
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((lot, "1 l")))
    for _time in range(2):
        response = client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
        assert response.status_code == 302
    assert Stocktake.objects.count() == 1
    assert "Stocktake of 1 lot saved." in text_of(client.get(response["Location"]))


def test_books_that_changed_in_between_are_looked_over_again(owner: User) -> None:
    lot = lot_in("Window")
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((lot, "480 ml")))
    spill(lot=lot, quantity=units(500))
    again = client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
    assert "Stock has changed since you looked" in text_of(again)
    assert not Stocktake.objects.exists()
    client.post(shelf_of("Window"), reviewed(again) | {"do": "post"})
    assert Stocktake.objects.get().lines.get().expected == units(500)


def test_a_lot_emptied_while_it_was_counted_keeps_its_count(owner: User) -> None:
    lot, other = lot_in("Window"), lot_in("Window")
    client = as_user(owner)
    client.get(shelf_of("Window"))
    spill(lot=lot, quantity=units(1000))
    review = client.post(shelf_of("Window"), counted((lot, "20 ml"), (other, "1 l")))
    assert [item.line.lot for item in review.context["table"].rows] == [lot]
    assert list(table_rows(review)[0].values())[-2:] == ["20 mL Found", "£0.20"]


def test_one_can_go_back_and_change_a_count(owner: User) -> None:
    lot = lot_in("Window")
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((lot, "480 ml")))
    back = client.post(shelf_of("Window"), reviewed(review) | {"do": "back"})
    assert back.status_code == 200
    assert 'value="480 ml"' in back.content.decode()
    assert not Stocktake.objects.exists()


@pytest.mark.parametrize(
    ("found", "weighs", "empty", "problem"),
    [
        ("half a litre", "", "", "does not start with a number"),
        ("480 parsecs", "", "", "not a known unit"),
        ("-5 ml", "", "", "cannot be negative"),
        ("480 ml", "600 g", "", "not both"),
        ("", "600 g", "", "The weight of the empty container is unknown"),
        ("", "30 g", "34 g", "weighs less than its empty container"),
        ("", "heavy", "", "does not start with a number"),
    ],
)
def test_what_cannot_be_read_is_said_at_its_lot_and_nothing_is_lost(
    owner: User, found: str, weighs: str, empty: str, problem: str
) -> None:
    wrong, right = lot_in("Window"), lot_in("Window")
    data = counted((wrong, found), (right, "12 ml")) | {
        f"lot-{wrong.pk}-gross": weighs,
        f"lot-{wrong.pk}-empty": empty,
    }
    response = as_user(owner).post(shelf_of("Window"), data)
    assert response.status_code == 422
    assert problem in text_of(response)
    assert f"{wrong.label}, " in text_of(response)
    assert 'value="12 ml"' in response.content.decode()
    assert not Stocktake.objects.exists()


def test_counted_pieces_have_no_scale(owner: User) -> None:
    lot = lot_in("Window", material=make_surface(), quantity=units(4), cost=money(14))
    content = as_user(owner).get(shelf_of("Window")).content.decode()
    assert f"lot-{lot.pk}-found" in content
    assert f"lot-{lot.pk}-gross" not in content
    post(as_user(owner), shelf_of("Window"), counted((lot, "3")))
    assert held(lot) == (units(3), money("10.50"))


def test_a_count_of_nothing_is_refused(owner: User) -> None:
    lot = lot_in("Window")
    response = as_user(owner).post(shelf_of("Window"), counted((lot, "")))
    assert response.status_code == 422
    assert "Nothing entered yet" in text_of(response)


def test_the_writers_refusal_stands_on_the_page(owner: User) -> None:
    lot = lot_in("Window")
    client = as_user(owner)
    review = client.post(shelf_of("Window"), counted((lot, "480 ml"), counted_on="2020-01-01"))
    response = client.post(shelf_of("Window"), reviewed(review) | {"do": "post"})
    assert response.status_code == 422
    assert "came in after" in text_of(response)
    assert 'value="480 ml"' in response.content.decode()
    assert not Stocktake.objects.exists()


def test_posting_unseen_shows_the_review_first(owner: User) -> None:
    lot = lot_in("Window")
    as_user(owner).post(shelf_of("Window"), counted((lot, "480 ml"), do="post"))
    assert not Stocktake.objects.exists()


def test_lots_that_do_not_exist_are_passed_over(owner: User) -> None:
    lot = lot_in("Window")
    data = counted((lot, "1 l")) | {"lot-999999-found": "5 ml", "lot-x-found": "5", "lot-²-found": "5"}
    assert as_user(owner).post(shelf_of("Window"), data).status_code == 200


def test_a_helper_counts_and_sees_no_money(helper: User) -> None:
    lot = lot_in("Window")
    client = as_user(helper)
    review = client.post(shelf_of("Window"), counted((lot, "480 ml")))
    done = client.post(shelf_of("Window"), reviewed(review) | {"do": "post"}, follow=True)
    for response in (review, done, client.get(reverse("inventory:stocktakes"))):
        assert "£" not in text_of(response)
    assert "−520 mL" in text_of(done)


# The list and one count


def counts_of(lot: Lot, counted: int) -> Stocktake:
    return post_stocktake(counts=[Count(lot, counted, "Counted")], submission=make_submission())


def test_the_list_says_what_each_count_came_to(owner: User) -> None:
    stocktake = counts_of(make_lot(), units(480))
    (row,) = table_rows(as_user(owner).get(reverse("inventory:stocktakes")))
    assert list(row.values()) == [f"10 Jun 2025 , stocktake {stocktake.pk}", "1", "1", "−£5.20"]


def test_one_count_shows_its_lines_and_leads_to_its_posting(owner: User) -> None:
    stocktake = counts_of(make_lot(material=make_material(name="Sail Loft White")), units(480))
    response = as_user(owner).get(reverse("inventory:stocktake", args=[stocktake.pk]))
    words = text_of(response)
    row = table_rows(response)[0]
    assert (row["Method"], row["Difference"], row["Value"]) == ("Counted", "−520 mL Missing", "−£5.20")
    assert "Missing −£5.20 Found £0.00" in words
    assert reverse("inventory:posting", args=[stocktake.posting_id]) in response.content.decode()
    assert reverse("inventory:posting-reverse", args=[stocktake.posting_id]) in response.content.decode()


def test_a_count_taken_back_says_so(owner: User) -> None:
    stocktake = counts_of(make_lot(), units(480))
    assert stocktake.posting is not None
    take_back(stocktake.posting)
    response = as_user(owner).get(reverse("inventory:stocktake", args=[stocktake.pk]))
    assert "Reversed by" in text_of(response)
    assert "posting-reverse" not in response.content.decode()
    assert "Reversed" in text_of(as_user(owner).get(reverse("inventory:stocktakes")))


def test_an_empty_list_teaches(owner: User) -> None:
    assert "No stocktakes yet" in text_of(as_user(owner).get(reverse("inventory:stocktakes")))


def test_pages_ask_as_many_queries_for_few_as_for_many(owner: User) -> None:
    def more(count: int) -> Stocktake:
        lots = [lot_in("Window") for _ in range(count)]
        for lot in lots[:3]:
            counts_of(lot, units(900))
        counts = [Count(lot, units(800), "Counted") for lot in lots]
        return post_stocktake(counts=counts, submission=make_submission())

    addresses = [reverse("inventory:stocktakes"), reverse(NEW), shelf_of("Window")]
    first = more(3)
    few = [queries(as_user(owner), address) for address in addresses]
    few_lines = queries(as_user(owner), reverse("inventory:stocktake", args=[first.pk]))
    second = more(12)
    assert [queries(as_user(owner), address) for address in addresses] == few
    assert queries(as_user(owner), reverse("inventory:stocktake", args=[second.pk])) == few_lines


def test_hostile_words_are_written_out_harmlessly(owner: User) -> None:
    lot = lot_in('"><q>', material=make_material(name="<script>alert(1)</script>"))
    stocktake = counts_of(lot, units(480))
    Stocktake.objects.filter(pk=stocktake.pk).update(notes="<i>Late")
    client = as_user(owner)
    review = client.post(f"{reverse(NEW)}?all=1", counted((lot, "1 ml"), notes="<script>alert"))
    pages = [client.get(reverse(NEW)), client.get(f"{reverse(NEW)}?all=1"), review]
    pages += [client.get(reverse("inventory:stocktake", args=[stocktake.pk]))]
    for response in pages:
        content = response.content.decode()
        assert "<script>alert" not in content
        assert '"><q>' not in content
        assert "<i>Late" not in content


def test_a_bookkeeper_reads_and_may_not_count(bookkeeper: User) -> None:
    lot = lot_in("Window")
    stocktake = counts_of(lot, units(480))
    client = as_user(bookkeeper)
    assert "−£5.20" in text_of(client.get(reverse("inventory:stocktake", args=[stocktake.pk])))
    assert "Reverse" not in text_of(client.get(reverse("inventory:stocktake", args=[stocktake.pk])))
    assert client.get(reverse(NEW)).status_code == 403
    assert client.post(shelf_of("Window"), counted((lot, "0"))).status_code == 403


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    for name in ("stocktakes", "stocktake-new", "opening-stock"):
        assert reverse("login") in client.get(reverse(f"inventory:{name}"))["Location"]
