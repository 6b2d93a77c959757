"""A piece that is written off or scraped takes its pours' outcome along; a scraped one gives its surface free."""

import pytest
from django.urls import reverse

from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.errors import PieceError
from costing.pieces.actions.pieces import PieceFacts, add_labour, make_piece, move_on
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import pours_of
from costing.selling.actions import bring_back_piece, scrape_piece, sell, write_off_piece
from inventory.errors import CannotReverse, InventoryError
from inventory.ledger.models import Entry, Lot, Posting
from inventory.ledger.summaries import reversal_obstacle
from inventory.ledger.verification import check
from inventory.materials.models import Material
from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.models import Pour, Stage
from inventory.sessions.queries.pours import failed_pours
from studio.accounts.models import User
from studio.auditing.writing import set_all
from tests.costing.stories import LATER, POURED_ON, a_piece, finish, make_channel, pieces_of, use_rates
from tests.days import june
from tests.inventory.browsing import KEY, as_user, text_of
from tests.making import (
    correct,
    make_lot,
    make_pour,
    make_session,
    make_submission,
    make_surface,
    money,
    pour_of,
    take_back,
    the_reason,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db
RUIN = {
    "written_off": lambda piece: write_off_piece(
        piece=piece, reason=the_reason("ruined"), submission=make_submission(on=LATER)
    ),
    "scraped": lambda piece: scrape_piece(piece=piece, submission=make_submission(on=LATER)),
}


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def outcome_of(piece: Piece) -> str:
    (pour,) = pours_of(piece)
    return pour.outcome


def judge(pour: Pour, outcome: str, notes: str = "") -> None:
    facts = JudgementFacts(pour, outcome, Stage.DRY, notes=notes)
    judge_pours(judgements=[facts], submission=make_submission())


def poured_over_scraped(piece: Piece) -> Pour:
    """Another pour over a scraped piece: 100 mL at 10.00 a litre."""
    paint = make_lot(on=june(10)).material
    (under,) = pours_of(piece)
    return make_session(
        pours=[pour_of(material=paint, quantity=100_000, over=under)], on=june(10)
    ).pours.get()


@pytest.mark.parametrize("way", RUIN)
@pytest.mark.parametrize("state", [State.WET, State.DRY, State.FOR_SALE])
def test_a_ruined_piece_takes_its_pours_outcome_along_and_brings_it_back(
    owner: User, program: Program, way: str, state: State
) -> None:
    piece = a_piece(state=state)
    pour = pours_of(piece)[0]
    RUIN[way](piece)
    client = as_user(owner)
    assert (piece.state, outcome_of(piece)) == (way, "failed")
    assert program.read(f"pours/{pour.pk}/")["pour"]["outcome"] == "failed"
    assert program.read("pours/", outcome="open")["results"] == []
    for page in (
        reverse("inventory:pour", args=[pour.pk]),
        reverse("inventory:session", args=[pour.session_id]),
    ):
        assert "Failed" in text_of(client.get(page))
    assert check().is_clean
    bring_back_piece(piece=piece, submission=make_submission(on=june(10)))
    assert (piece.state, outcome_of(piece)) == (state, "open")
    assert check().is_clean


def test_a_write_off_is_not_reversed_behind_the_pieces_back() -> None:
    piece = a_piece(state=State.DRY)
    RUIN["written_off"](piece)
    assert "Bring the piece back" in reversal_obstacle(Posting.objects.get(kind="piece_write_off"))


@pytest.mark.parametrize("way", RUIN)
def test_the_outcome_of_a_pour_is_not_amended_past_its_piece(way: str) -> None:
    piece = a_piece(state=State.DRY)
    pour = pours_of(piece)[0]
    with pytest.raises(InventoryError, match=piece.title):
        judge(pour, "failed")
    RUIN[way](piece)
    with pytest.raises(InventoryError, match="Bring the piece back"):
        judge(pour, "good")
    judge(pour, "failed", notes="Crazed")
    assert pour.judgements.get().notes == "Crazed"


def test_a_planted_outcome_is_found() -> None:
    piece = a_piece()
    set_all(Pour.objects.filter(piece_part__piece=piece), outcome="failed")
    assert {each.rule for each in check().breaks} == {"outcomes"}


# The surface used again


def test_a_scraped_piece_moves_no_cost_and_frees_its_pour() -> None:
    piece = a_piece(state=State.FOR_SALE)
    postings = Posting.objects.count()
    RUIN["scraped"](piece)
    assert Posting.objects.count() == postings
    assert list(failed_pours().values()) == pours_of(piece)


def test_a_pour_over_a_scraped_piece_takes_no_surface_and_carries_the_first_layer(
    owner: User, varnish: Material
) -> None:
    piece = finish(a_piece(state=State.DRY), (varnish, 20_000), owner=owner)
    RUIN["scraped"](piece)
    held = Lot.objects.filter(material=pours_of(piece)[0].surface).values_list("balance__quantity")
    before = list(held)
    over = poured_over_scraped(piece)
    assert list(held) == before
    new = make_piece(facts=PieceFacts(title="Second tide", pours=[over]), submission=make_submission())
    old_page = as_user(owner).get(reverse("costing:piece", args=[piece.pk])).content.decode()
    assert reverse("inventory:pour", args=[over.pk]) in old_page
    sheet = cost_sheet(new)
    assert [line.material.kind for line in sheet.lines if line.role == "surface"] == ["surface"]
    move_on(piece=new, to=State.DRY, submission=make_submission(on=june(10)))
    move_on(piece=new, to=State.FINISHED, submission=make_submission(on=june(10)), anyway=True)
    varnished = money("1.00")  # 20 of 100 mL for 5.00
    assert sheet.summary.materials == money("5.50") + varnished + money("1.00")
    assert sum(line.money for line in sheet.rework) == money("2.00") + varnished
    sell(piece=new, channel=make_channel(), price=money(50), submission=make_submission(on=june(10)))
    sold = sum(Entry.objects.filter(place="sold").values_list("money", flat=True))
    assert (sold, check().is_clean) == (sheet.summary.materials, True)


def test_the_minutes_worked_on_a_scraped_piece_go_on_to_what_is_poured_over_it() -> None:
    use_rates(wage="12.00", overhead="3.00")
    piece = a_piece(state=State.DRY)
    add_labour(piece=piece, work="Sanding", minutes=20, submission=make_submission(on=LATER))
    RUIN["scraped"](piece)
    new = make_piece(
        facts=PieceFacts(title="Second tide", pours=[poured_over_scraped(piece)]),
        submission=make_submission(),
    )
    assert cost_sheet(new).summary.labour == money("4.00")
    assert cost_summaries([new])[new.pk] == cost_sheet(new).summary
    assert all(line.is_rework for line in cost_sheet(new).labour)


def test_a_scraped_piece_comes_back_only_until_its_surface_is_used() -> None:
    piece = a_piece(state=State.DRY)
    RUIN["scraped"](piece)
    over = poured_over_scraped(piece)
    with pytest.raises(PieceError, match=over.label):
        bring_back_piece(piece=piece, submission=make_submission(on=june(11)))
    take_back(over.session.posting)
    posting = throw_away(facts=ThrowAwayFacts(pours_of(piece)), submission=make_submission(on=june(11)))
    assert check().is_clean
    with pytest.raises(PieceError, match=str(posting.number)):
        bring_back_piece(piece=piece, submission=make_submission(on=june(11)))
    take_back(posting)
    bring_back_piece(piece=piece, submission=make_submission(on=june(11)))
    assert (piece.state, outcome_of(piece)) == (State.DRY, "open")


def test_the_session_beneath_is_not_reversed_while_its_pour_is_covered() -> None:
    piece = a_piece(state=State.DRY)
    RUIN["scraped"](piece)
    poured_over_scraped(piece)
    with pytest.raises(CannotReverse):
        take_back(pours_of(piece)[0].session.posting)


def test_a_sold_piece_is_not_scraped() -> None:
    piece = a_piece(state=State.FOR_SALE)
    sell(piece=piece, channel=make_channel(), price=money(50), submission=make_submission(on=LATER))
    with pytest.raises(PieceError):
        scrape_piece(piece=piece, submission=make_submission(on=LATER))
    assert outcome_of(piece) == "open"


# Time of failed pours that were a normal loss


def test_good_pieces_carry_the_time_of_failed_pours_as_they_carry_their_material() -> None:
    use_rates(wage="12.00", overhead="3.00")
    paint, canvas = make_lot(on=POURED_ON).material, make_surface()
    make_lot(material=canvas, quantity=units(4), cost=money(4), on=POURED_ON)
    poured = [
        pour_of(material=paint, quantity=100_000, surface=canvas, outcome=outcome)
        for outcome in ("good", "good", "failed", "failed")
    ]
    session = make_session(pours=poured, minutes=60, on=POURED_ON)
    pieces = pieces_of(session)
    normal, abnormal = session.pours.filter(outcome="failed").order_by("number")
    throw_away(facts=ThrowAwayFacts([normal]), submission=make_submission(on=LATER))
    throw_away(facts=ThrowAwayFacts([abnormal], the_reason("ruined")), submission=make_submission(on=LATER))
    for piece in pieces:
        summary = cost_sheet(piece).summary
        assert (summary.materials, summary.labour, summary.overhead) == (
            money("3.00"),
            money("4.50"),
            money("1.125"),
        )
        assert cost_summaries([piece])[piece.pk] == summary


def test_the_cost_sheet_shows_failed_pours_apart(owner: User) -> None:
    good = make_pour(on=POURED_ON)
    piece = a_piece(pours=[good])
    page = reverse("costing:piece", args=[piece.pk])
    assert "Rework and failed pours" not in text_of(as_user(owner).get(page))
    paint, canvas = make_lot(on=POURED_ON).material, make_surface()
    make_lot(material=canvas, quantity=units(2), cost=money(2), on=POURED_ON)
    both = make_session(
        pours=[
            pour_of(material=paint, quantity=1_000, surface=canvas, outcome=outcome)
            for outcome in ("good", "failed")
        ],
        on=POURED_ON,
    )
    kept, failed = both.pours.order_by("number")
    throw_away(facts=ThrowAwayFacts([failed]), submission=make_submission(on=LATER))
    page = reverse("costing:piece", args=[a_piece(pours=[kept]).pk])
    assert "Rework and failed pours" in text_of(as_user(owner).get(page))


# Pages and API


def test_scraping_is_offered_on_the_page_of_the_piece_and_done_there(owner: User) -> None:
    piece = a_piece(state=State.DRY)
    client, page = as_user(owner), reverse("costing:piece-scrape", args=[piece.pk])
    assert page in client.get(reverse("costing:piece", args=[piece.pk])).content.decode()
    assert client.get(page).status_code == 200
    assert client.post(page, {"key": KEY, "on": LATER.isoformat(), "note": ""}).status_code == 302
    assert Piece.objects.get(pk=piece.pk).state == State.SCRAPED
    assert client.post(page, {"key": KEY, "on": LATER.isoformat(), "note": ""}).status_code == 422
    back = reverse("costing:piece-bring-back", args=[piece.pk])
    assert client.post(back, {"key": KEY, "on": LATER.isoformat(), "note": ""}).status_code == 302
    assert Piece.objects.get(pk=piece.pk).state == State.DRY


def test_a_program_writes_off_scrapes_and_brings_back(program: Program) -> None:
    piece = a_piece(state=State.DRY)
    path, body = f"pieces/{piece.pk}", {"on": LATER.isoformat()}
    assert program.send(f"{path}/scrape/", body, status=200)["state"] == "scraped"
    assert program.send(f"{path}/bring-back/", body, status=200)["state"] == "dry"
    written_off = body | {"reason": the_reason("ruined").pk}
    for _ in range(2):
        assert (
            program.send(f"{path}/write-off/", written_off, key="off-1", status=200)["state"] == "written_off"
        )
    assert Posting.objects.filter(kind="piece_write_off").count() == 1


def test_a_piece_tells_what_was_corrected(owner: User, program: Program) -> None:
    piece = a_piece()
    lot = Lot.objects.exclude(material=pours_of(piece)[0].surface).get()
    posting = correct(lot=lot, difference=money(1))
    page = text_of(as_user(owner).get(reverse("costing:piece", args=[piece.pk])))
    assert "from £5.50 to £5.70" in page
    (told,) = program.read(f"cost-sheets/{piece.pk}/")["corrections"]
    assert (told["posting"], told["recorded_by"]) == (posting.number, posting.recorded_by.username)
