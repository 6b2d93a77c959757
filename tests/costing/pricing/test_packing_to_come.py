"""Packing to come: counted in the price of a piece that is not packed yet, and nowhere else."""

from collections.abc import Sequence

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from costing.cost_sheets.queries import cost_sheet
from costing.pieces.actions.pieces import WorkFacts, add_labour, pack_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import with_parts
from costing.pricing.calculations import Channel, usual_cost
from costing.pricing.methods import Method, Rules, Subject, floor_of, suggestions
from costing.pricing.price_sheet import Market, price_sheet, priced_below_cost
from costing.pricing.queries import price_advice
from costing.pricing.to_cover import Alike, PackingToCome, costs_to_cover, packing_to_come
from costing.selling.actions import sell
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.ledger.models import Entry
from inventory.materials.models import Kind, Material
from inventory.sessions.models import Technique
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import LATER, POURED_ON, a_piece, make_channel, use_rates
from tests.days import AT, TODAY
from tests.inventory.alerts.looking import in_words, standing
from tests.making import (
    ingredients,
    make_lot,
    make_material,
    make_pour,
    make_submission,
    make_surface,
    money,
    take_back,
)

pytestmark = pytest.mark.django_db
PENNY = 10_000


@pytest.fixture
def paper(db: None) -> Material:
    """Wrap at a penny a unit."""
    return make_lot(material=make_material(name="Wrap", kind=Kind.PACKAGING), on=LATER).material


def packed(paper: Material, pence: int, *, minutes: int = 0, title: str = "Packed", **facts: object) -> Piece:
    """A finished piece that is wrapped for so many pence."""
    piece = a_piece(title=title, state=State.FOR_SALE, **facts)  # type: ignore[arg-type]
    work = WorkFacts(ingredients((paper, pence * 1_000)), minutes)
    return pack_piece(piece=piece, facts=work, submission=make_submission(on=LATER))


def to_come(piece: Piece) -> PackingToCome | None:
    return packing_to_come([piece]).get(piece.pk)


def test_the_floor_counts_packing_as_the_last_five_pieces_of_its_size_had_it(paper: Material) -> None:
    """Of 10, 82, 60, 90, 82 and 95 pence the last five have the middle 82: 5.50 and 0.82 must be covered."""
    make_channel()
    for pence in (10, 82, 60, 90, 82, 95):
        packed(paper, pence)
    piece = a_piece(state=State.FOR_SALE)
    advice = price_advice(piece, on=TODAY)
    assert advice.packing == PackingToCome(money("0.82"), 5, Alike.SIZE)
    assert advice.packing.reason == "as the last 5 pieces of this size"
    assert (advice.cost, advice.to_cover) == (money("5.50"), money("6.32"))
    (channel,) = advice.channels
    assert (channel.floor, channel.wanted) == (money("6.32"), money("8.22"))  # 6.32 and 30% of it: 8.216


def test_once_it_is_packed_the_line_is_gone_and_the_same_money_is_cost(paper: Material) -> None:
    make_channel()
    packed(paper, 82)
    piece = a_piece(state=State.FOR_SALE)
    before = price_advice(piece, on=TODAY)
    work = WorkFacts(ingredients((paper, 82_000)))
    pack_piece(piece=piece, facts=work, submission=make_submission(on=LATER))
    after = price_advice(piece, on=TODAY)
    assert (before.packing, after.packing) == (PackingToCome(money("0.82"), 1, Alike.SIZE), None)
    assert before.to_cover == after.to_cover == after.cost == money("6.32")
    assert before.channels[0].floor == after.channels[0].floor


def test_packing_that_was_reversed_is_to_come_again(paper: Material) -> None:
    packed(paper, 82)
    piece = packed(paper, 40)
    assert to_come(piece) is None
    take_back(Entry.objects.filter(role="packing", pour__piece_part__piece=piece)[0].posting)
    assert to_come(piece) == PackingToCome(money("0.82"), 1, Alike.SIZE)


def test_it_is_neither_in_the_ledger_nor_on_the_cost_sheet(paper: Material) -> None:
    packed(paper, 82)
    entries = Entry.objects.count()
    piece = a_piece(state=State.FOR_SALE)
    poured = Entry.objects.count()
    to_cover = costs_to_cover([piece])[piece.pk]
    assert Entry.objects.count() == poured > entries
    assert to_cover.cost == cost_sheet(piece).summary
    assert to_cover.cost.whole == money("5.50")


def test_minutes_of_packing_count_at_the_rates_of_their_day_and_other_minutes_do_not(paper: Material) -> None:
    """6 minutes at 12.00 and 3.00 an hour are 1.50, with 0.20 for wrap."""
    use_rates()
    earlier = packed(paper, 20, minutes=6)
    add_labour(piece=earlier, work="Photographing", minutes=60, submission=make_submission(on=LATER))
    assert to_come(a_piece()) == PackingToCome(money("1.70"), 1, Alike.SIZE)


def test_another_size_goes_by_its_technique_and_another_technique_by_nothing(
    paper: Material, owner: User
) -> None:
    make_channel()
    packed(paper, 82)
    small = make_pour(on=LATER)
    small.surface = make_surface(height=20_000, width=20_000)
    small.save()
    piece = a_piece(pours=[small], title="Small")
    assert to_come(piece) == PackingToCome(money("0.82"), 1, Alike.TECHNIQUE)
    small.technique = Technique.objects.exclude(pk=small.technique_id)[0]
    small.save()
    assert to_come(piece) == PackingToCome()
    assert price_advice(piece, on=TODAY).to_cover == money("5.50")
    assert "Packing is not counted yet" in text_of(as_user(owner).get(page_of(piece)))


def test_a_set_of_two_goes_by_sets_of_two_before_single_ones(paper: Material) -> None:
    packed(paper, 82)
    packed(paper, 150, pours=[make_pour(on=POURED_ON), make_pour(on=POURED_ON)])
    pair = a_piece(pours=[make_pour(on=POURED_ON), make_pour(on=POURED_ON)])
    assert to_come(pair) == PackingToCome(money("1.50"), 1, Alike.SIZE)
    assert to_come(a_piece()) == PackingToCome(money("0.82"), 1, Alike.SIZE)


def test_a_piece_that_was_sold_unpacked_has_no_packing_to_come(paper: Material) -> None:
    packed(paper, 82)
    piece = a_piece(state=State.FOR_SALE)
    sell(piece=piece, channel=make_channel(), price=money(9), submission=make_submission(on=LATER))
    assert to_come(piece) is None


def test_every_way_and_every_warning_counts_it(paper: Material) -> None:
    """5.50 would be covered by 6.00; with 0.82 to come it is not."""
    stall = make_channel("Stall")
    packed(paper, 82)
    piece = a_piece(state=State.FOR_SALE, price="6.00")
    market = Market.on(TODAY)
    pieces = list(with_parts(Piece.objects.filter(pk=piece.pk)))
    (row,) = price_sheet(pieces, stall, market, rules=Rules(), method=Method.MARKUP)
    assert (row.cost.whole, row.floor, row.below) == (money("5.50"), money("6.32"), ("Stall",))
    assert row.profit == money("-0.32")
    assert all(way.price >= row.floor for way in row.ways)
    assert priced_below_cost([piece], TODAY, galleries={}) == [(piece, ("Stall",))]
    refresh_alerts(on=TODAY, at=AT)
    [alert] = standing("below_cost")
    assert (alert.figures["cost"], alert.figures["packing"]) == (money("5.50"), money("0.82"))
    assert "0.32 too little" in in_words(alert)


def test_the_pages_and_programs_show_it_as_a_line_of_its_own(paper: Material, owner: User) -> None:
    make_channel()
    packed(paper, 82)
    piece, client = a_piece(state=State.FOR_SALE, title="Ebb"), as_user(owner)
    for address in (page_of(piece), "/prices/"):
        assert "Packing to come £0.82" in text_of(client.get(address)).replace("  ", " ")
    assert "£0.82 for packing to come" in text_of(client.get(page_of(piece, "sell")))
    rows = {row["title"]: row for row in client.get("/api/prices/").json()["results"]}
    assert (rows["Ebb"]["packing_to_come"], rows["Ebb"]["floor"]) == ("0.820000", "6.320000")
    assert rows["Packed"]["packing_to_come"] == "0.000000"


def test_a_longer_list_takes_no_more_queries(paper: Material) -> None:
    pieces = [a_piece(title=f"Low water {number}") for number in range(3)]
    counts = []
    for number in (1, 4):
        for each in range(number):
            packed(paper, 10 + each, minutes=2)
        with CaptureQueriesContext(connection) as asked:
            costs_to_cover(pieces[:number])
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert costs_to_cover([]) == {}


costs = st.integers(min_value=0, max_value=10**9)


@given(st.lists(costs, min_size=1, max_size=5))
def test_the_usual_cost_lies_among_those_it_comes_from_and_is_whole_pence(found: Sequence[int]) -> None:
    usual = usual_cost(found, PENNY)
    assert usual % PENNY == 0
    assert min(found) - PENNY // 2 <= usual <= max(found) + PENNY // 2


@examples(max_examples=60)
@given(cost=costs, packing=costs, commission=st.integers(min_value=0, max_value=600_000))
def test_packing_to_come_never_lowers_a_floor_or_a_way_and_packed_gives_the_same(
    cost: int, packing: int, commission: int
) -> None:
    channel = Channel(commission=commission)
    with_packing = floor_of(cost + packing, channel, minor_unit=PENNY)
    assert with_packing >= floor_of(cost, channel, minor_unit=PENNY)
    before = suggestions(Subject(cost, cost // 2, 60, 0, 0, packing=packing), Rules())
    packed_now = suggestions(Subject(cost + packing, cost // 2 + packing, 60, 0, 0), Rules())
    assert before == packed_now
    for less, more in zip(suggestions(Subject(cost, cost // 2, 60, 0, 0), Rules()), before, strict=True):
        assert (less.left or less.asked or 0) <= (more.left or more.asked or 0)
