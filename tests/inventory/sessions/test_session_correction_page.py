"""The page and the endpoint on which a session is put right."""

from typing import Any

import pytest
from django.db import connection
from django.db.models import Sum
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from costing.cost_sheets.queries import cost_summaries
from costing.pieces.models import Piece
from inventory.ledger.models import Entry, Place, Posting, PostingKind
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from studio.values.money import round_to_minor
from tests import making
from tests.inventory.browsing import as_user
from tests.making import units
from tests.programs import Program
from tests.small_studio import SmallStudio
from tests.tables import columns_with_totals, pence, table_rows
from tests.two_tabs import form_on

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def signed(built: SmallStudio) -> Client:
    return as_user(making.make_owner())


def page_of(session: Session) -> str:
    return reverse("inventory:session-correct", args=[session.pk])


def opened(client: Client, session: Session) -> dict[str, Any]:
    """What the page's form says when it is opened."""
    page = page_of(session)
    return form_on(client.get(page), page, page) | {"reason": "The wrong bottle"}


def problems_of(answer: Any) -> list[Any]:
    page = answer.context["page"]
    return [page.form.errors, *(rows.errors for _name, rows in page.formsets)]


def preview(client: Client, session: Session, typed: dict[str, Any]) -> Any:
    answer = client.post(page_of(session), typed)
    assert answer.status_code == 200, problems_of(answer)
    return answer


def post(client: Client, session: Session, typed: dict[str, Any]) -> None:
    """Look at what changes, then post it."""
    shown = preview(client, session, typed).context["shown"]
    answer = client.post(page_of(session), typed | {"shown": shown})
    assert answer.status_code == 302, problems_of(answer)


def row_of(pour: Pour) -> int:
    return list(pour.session.pours.order_by("number")).index(pour)


def sold(material: int) -> int:
    return Entry.objects.filter(place=Place.SOLD, material=material).aggregate(q=Sum("quantity"))["q"] or 0


def test_the_page_opens_with_what_was_logged_and_changes_nothing_by_itself(
    built: SmallStudio, signed: Client
) -> None:
    typed = opened(signed, built.session)
    assert preview(signed, built.session, typed).context["table"].rows == []
    post(signed, built.session, typed)
    assert not Posting.objects.filter(corrects=built.session.posting).exists()


def test_an_amount_on_a_sold_piece_is_put_right_after_it_was_shown(
    built: SmallStudio, signed: Client
) -> None:
    pour, mix = built.sold.parts.get().pour, built.session.mixes.get()
    before = sold(mix.lot.material_id)
    typed = opened(signed, built.session) | {f"pours-{row_of(pour)}-mix_{mix.pk}": "95 ml"}
    answer = preview(signed, built.session, typed)
    assert {row.account for row in answer.context["table"].rows} >= {"In stock", "Cost of sales"}
    assert sold(mix.lot.material_id) == before
    post(signed, built.session, typed)
    assert sold(mix.lot.material_id) == before + units(15)
    assert Pour.objects.get(pk=pour.pk).poured == units(95)


def test_another_paint_in_a_mix_of_which_a_piece_was_sold(built: SmallStudio, signed: Client) -> None:
    other = making.make_material(name="Skerry Grey")
    making.make_delivery(lines=[(other, units(500), making.money("9.00"))], on=built.session.held_on)
    typed = opened(signed, built.session)
    part = next(name for name, value in typed.items() if value == str(built.paint.pk) and "material" in name)
    post(signed, built.session, typed | {part: str(other.pk)})
    into_cup = Entry.objects.filter(mix=built.session.mixes.get())
    sums = (
        into_cup.filter(material__in=[built.paint, other]).values_list("material").annotate(Sum("quantity"))
    )
    assert {material: quantity for material, quantity in sums if quantity}.keys() == {other.pk}


def test_a_pour_is_added_and_one_struck_out(built: SmallStudio, signed: Client) -> None:
    poured = [making.pour_of(material=built.paint, quantity=units(5), surface=built.canvas) for _ in range(2)]
    session = making.make_session(pours=poured)
    typed = opened(signed, session) | {
        "pours-0-DELETE": "on",
        "pours-2-surface": built.canvas.pk,
        "pours-2-technique": making.the_technique().pk,
        f"pours-2-shelf_{built.paint.pk}": "40 ml",
    }
    post(signed, session, typed)
    assert [(pour.number, pour.poured) for pour in session.pours.order_by("number")] == [
        (2, units(5)),
        (3, units(40)),
    ]


def test_a_pour_of_which_a_piece_was_made_is_not_struck_out(built: SmallStudio, signed: Client) -> None:
    pour = built.dry.parts.get().pour
    typed = opened(signed, built.session) | {f"pours-{row_of(pour)}-DELETE": "on"}
    answer = signed.post(page_of(built.session), typed)
    assert answer.status_code == 422
    assert Pour.objects.filter(pk=pour.pk).exists()


@pytest.mark.parametrize("amount", ["much", "-3 ml", "1e9 l", "9999999999 l"])
def test_nonsense_stands_on_its_own_row(built: SmallStudio, signed: Client, amount: str) -> None:
    mix = built.session.mixes.get()
    typed = opened(signed, built.session) | {f"pours-1-mix_{mix.pk}": amount}
    answer = signed.post(page_of(built.session), typed)
    assert answer.status_code == 422
    page = answer.context["page"]
    assert page.pours.forms[1].errors or page.form.errors or page.mixes.total_error_count()


def test_what_was_not_shown_is_not_posted(built: SmallStudio, signed: Client) -> None:
    typed = opened(signed, built.session) | {"minutes": "55"}
    shown = preview(signed, built.session, typed).context["shown"]
    answer = signed.post(page_of(built.session), typed | {"minutes": "66", "shown": shown})
    assert answer.status_code == 200
    assert Session.objects.get(pk=built.session.pk).minutes == 100


def test_a_correction_that_came_between_is_told(built: SmallStudio, signed: Client) -> None:
    mix = built.session.mixes.get()
    mine, theirs = opened(signed, built.session), opened(signed, built.session)
    post(signed, built.session, theirs | {f"pours-3-mix_{mix.pk}": "70 ml"})
    late = mine | {f"pours-3-mix_{mix.pk}": "60 ml"}
    answer = signed.post(
        page_of(built.session), late | {"shown": preview(signed, built.session, late).context["shown"]}
    )
    assert answer.status_code == 422


def test_the_page_asks_no_more_of_the_database_for_more_pours(built: SmallStudio, signed: Client) -> None:
    def asked(session: Session) -> int:
        with CaptureQueriesContext(connection) as counted:
            assert signed.get(page_of(session)).status_code == 200
        return len(counted)

    few = asked(built.session)
    poured = [
        making.pour_of(material=built.paint, quantity=units(5), surface=built.canvas) for _ in range(12)
    ]
    assert asked(making.make_session(pours=poured)) <= few


@pytest.mark.parametrize("is_recent", [True, False])
def test_a_slip_put_right_at_once_needs_no_reason_and_a_later_one_does(
    built: SmallStudio, signed: Client, monkeypatch: pytest.MonkeyPatch, is_recent: bool
) -> None:
    monkeypatch.setattr("inventory.sessions.views.corrections.is_in_time", lambda _at: is_recent)
    typed = opened(signed, built.session) | {"reason": ""}
    answer = signed.post(page_of(built.session), typed)
    assert answer.status_code == (200 if is_recent else 422)
    assert set(answer.context["form"].errors) == (set() if is_recent else {"reason"})


def test_programs_correct_a_session_and_see_first_what_changes(built: SmallStudio, owner: User) -> None:
    program, session = Program(owner), built.session
    detail = program.read(f"sessions/{session.pk}/")
    mix = detail["mixes"][0]
    body = {
        "held_on": session.held_on.isoformat(),
        "minutes": 100,
        "title": "Lamps",
        "reason": "The wrong amount",
        "mixes": [
            {
                "id": mix["mix"]["id"],
                "recipe": built.recipe.pk,
                "ingredients": [
                    {"material": part["material"]["id"], "quantity": part["quantity"], "lot": part["lot"]}
                    for part in mix["parts"]
                ],
            }
        ],
        "pours": [
            {
                "id": each["pour"]["id"],
                "technique": each["pour"]["technique"]["id"],
                "surface": each["pour"]["surface"]["id"],
                "doses": [{"mix": 1, "quantity": "90 ml"}],
            }
            for each in detail["pours"]
        ],
    }
    shown = program.send(f"sessions/{session.pk}/corrections/preview/", body, status=200)
    assert {each["account"] for each in shown["effects"]} >= {"lot", "work", "sold"}
    assert shown["work"] == []
    longer = program.send(f"sessions/{session.pk}/corrections/preview/", body | {"minutes": 160}, status=200)
    assert built.sold.pk in {each["piece"] for each in longer["work"]}
    assert not Posting.objects.filter(corrects=session.posting).exists()
    corrected = program.send(f"sessions/{session.pk}/corrections/", body, key="once")
    assert {each["pour"]["poured"]["amount"] for each in corrected["pours"]} == {units(90)}
    program.send(f"sessions/{session.pk}/corrections/", body, key="once", status=200)
    assert Posting.objects.filter(kind=PostingKind.CORRECTION, corrects=session.posting).count() == 1


def test_a_program_that_names_a_pour_of_another_session_is_refused(built: SmallStudio, owner: User) -> None:
    stranger = making.make_pour()
    body = {
        "held_on": built.session.held_on.isoformat(),
        "reason": "A slip",
        "pours": [
            {
                "id": stranger.pk,
                "technique": stranger.technique_id,
                "surface": stranger.surface_id,
                "doses": [{"material": built.paint.pk, "quantity": "90 ml"}],
            }
        ],
    }
    Program(owner).refusal(f"sessions/{built.session.pk}/corrections/", body, status=400)


def work_now() -> dict[int, int]:
    return {
        pk: cost.labour + cost.overhead for pk, cost in cost_summaries(Piece.objects.order_by("pk")).items()
    }


def test_each_line_of_a_preview_adds_up_as_printed_and_so_do_the_lines_with_rounding(
    built: SmallStudio, signed: Client
) -> None:
    mix = built.session.mixes.get()
    typed = opened(signed, built.session) | {
        f"pours-{row}-mix_{mix.pk}": f"{81 + row} ml" for row in range(3)
    }
    answer = preview(signed, built.session, typed | {"minutes": "173"})
    for caption in ("What changes, before and after", "Labour and overhead in pieces"):
        lines = table_rows(answer, caption)
        assert len(lines) > 2
        for line in lines:
            before, after, change = (pence(line[label]) for label in ("Before", "After", "Change"))
            assert None not in (before, after, change)
            assert before + change == after, line  # type: ignore[operator]
    for label, amounts, total in columns_with_totals(answer):
        assert sum(amounts) == total, label


def test_other_minutes_show_the_labour_in_pieces_that_are_for_sale_and_in_those_sold(
    built: SmallStudio, signed: Client
) -> None:
    before = work_now()
    typed = opened(signed, built.session) | {"minutes": "160"}
    answer = preview(signed, built.session, typed)
    words = answer.content.decode()
    assert "Nothing changes in stock or cost" not in words
    assert "The minutes change from 100 to 160." in words
    rows = {row.piece: (row.money_before, row.money_after) for row in answer.context["work_table"].rows}
    assert rows.keys() >= {built.sold.pk, built.for_sale.pk}
    assert work_now() == before
    post(signed, built.session, typed)
    after = work_now()
    printed = [{pk: round_to_minor(cost, "GBP") for pk, cost in costs.items()} for costs in (before, after)]
    assert rows == {pk: (printed[0][pk], printed[1][pk]) for pk in before if before[pk] != after[pk]}


def test_a_pour_that_is_added_takes_a_share_of_the_time_from_the_pieces(
    built: SmallStudio, signed: Client
) -> None:
    typed = opened(signed, built.session)
    last = int(typed["pours-TOTAL_FORMS"]) - 1
    typed |= {
        f"pours-{last}-technique": str(making.the_technique().pk),
        f"pours-{last}-surface": typed["pours-0-surface"],
        f"pours-{last}-mix_{built.session.mixes.get().pk}": "10 ml",
    }
    rows = preview(signed, built.session, typed).context["work_table"].rows
    assert built.sold.pk in {row.piece for row in rows}
    assert all(row.money_after < row.money_before for row in rows)


def test_a_helper_is_told_of_the_minutes_without_money(built: SmallStudio, helper: User) -> None:
    client = as_user(helper)
    words = preview(client, built.session, opened(client, built.session) | {"minutes": "160"})
    assert "The minutes change from 100 to 160." in words.content.decode()
    assert "Labour and overhead in pieces" not in words.content.decode()
