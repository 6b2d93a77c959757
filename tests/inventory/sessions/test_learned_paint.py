"""The paint that plans count on is learned from her own good pours: which of them count, where it is explained."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.materials.models import Material
from inventory.sessions.models import Pour, Technique
from inventory.sessions.paint_per_area import USUAL_EDGE
from inventory.sessions.queries.paint_per_area import learned_by_technique, paint_of
from inventory.sessions.queries.planning import Colour, LineNeed, SetLine, SetPlan, plan_set
from tests.days import TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    make_delivery,
    make_helper,
    make_material,
    make_owner,
    make_session,
    make_surface,
    money,
    pour_of,
    take_back,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


def board(side: int = 30_000) -> Material:
    return make_surface(height=side, width=side, depth=None, sides_painted=False)


def poured(
    rates: Sequence[int], surface: Material | None = None, *, days_back: int = 0, **facts: Any
) -> list[Pour]:
    """One session with a pour of so many µL/cm² each, on a board of 900 cm² unless it says otherwise."""
    surface, paint, day = surface or board(), make_material(), TODAY - timedelta(days=days_back)
    area = (surface.height or 0) * (surface.width or 0) // 1_000_000
    make_delivery(lines=[(paint, units(900_000), money(9)), (surface, units(len(rates)), money(9))], on=day)
    session = make_session(
        pours=[pour_of(material=paint, quantity=rate * area, surface=surface, **facts) for rate in rates],
        on=day,
    )
    return list(session.pours.order_by("number"))


def counted() -> int:
    return learned_by_technique([the_technique()])[the_technique().pk].pours


def figure(side: int = 30_000) -> int:
    return learned_by_technique([the_technique()])[the_technique().pk].estimate(4000 / side).value


def line_for(count: int = 1, side: int = 30_000) -> LineNeed:
    line = SetLine(board(side), count, the_technique(), [Colour(make_material(), 1)])
    return plan_set(SetPlan([line]), on=TODAY).lines[0]


def test_the_first_good_pour_already_moves_the_figure() -> None:
    assert (line_for().rate.value, line_for().source) == (220, the_technique().source)
    poured([300])
    line = line_for()
    assert 220 < line.rate.value < 300
    assert line.rate.pours == 1


def test_pours_of_another_size_speak_too_and_small_pieces_take_more_for_their_area() -> None:
    poured([300, 310, 305], board(20_000))
    assert 240 < figure() < 300
    assert figure(10_000) > 320


def test_failed_pours_and_those_poured_over_them_do_not_count() -> None:
    (failed,) = poured([300], outcome=Pour.Outcome.FAILED)
    paint = make_material()
    make_delivery(lines=[(paint, units(900), money(9))])
    make_session(pours=[pour_of(material=paint, quantity=units(200), over=failed)])
    assert counted() == 0


def test_pours_of_a_reversed_session_do_not_count() -> None:
    pours = poured([300, 310])
    take_back(pours[0].session.posting)
    assert counted() == 0


def test_only_the_latest_twenty_count_by_the_day_of_pouring() -> None:
    poured([220] * 20)
    poured([500] * 25, days_back=90)
    assert counted() == 20
    assert figure() == 220


def test_a_technique_starts_anew_from_a_day() -> None:
    poured([500] * 8, days_back=10)
    poured([300], days_back=9)
    Technique.objects.update(learn_from=TODAY - timedelta(days=9))
    assert counted() == 1
    assert 220 < figure() < 300


def test_a_pour_on_what_is_no_surface_any_more_still_counts() -> None:
    (pour,) = poured([300])
    Material.objects.filter(pk=pour.surface_id).update(kind="sundry", height=None, width=None)
    assert counted() == 1


def test_the_stock_check_gives_the_range_of_the_whole_line() -> None:
    poured([200, 210, 220, 190, 205])
    one, ten = line_for(1), line_for(10)
    assert one.least_paint < one.paint < one.most_paint
    assert ten.paint == 10 * one.paint
    assert ten.most_paint - ten.least_paint < 10 * (one.most_paint - one.least_paint)


def test_one_query_reads_what_all_techniques_have_learned() -> None:
    poured([200, 210])
    with CaptureQueriesContext(connection) as seen:
        learned = learned_by_technique(list(Technique.objects.all()))
    assert len(seen) == 2  # the techniques, and all their pours
    assert learned[the_technique().pk].pours == 2


def test_the_page_says_what_the_pours_of_each_size_took_and_links_them() -> None:
    pours = poured([100, 110, 130])
    owner = as_user(make_owner())
    response = owner.get(reverse("inventory:technique-paint", args=[the_technique().pk]))
    words = text_of(response)
    assert "3 pours like this took 90 mL to 117 mL." in words
    for pour in pours:
        assert reverse("inventory:pour", args=[pour.pk]) in response.content.decode()


def test_the_page_of_a_technique_without_pours_says_what_counts() -> None:
    make_surface()
    words = text_of(
        as_user(make_owner()).get(reverse("inventory:technique-paint", args=[the_technique().pk]))
    )
    assert "No pours to learn from yet" in words
    assert "30 × 30 × 1.8 cm" in words  # a size that can be poured, with the technique's own figure


def test_the_page_takes_the_same_queries_however_many_pours_stand_behind_it() -> None:
    owner, address = as_user(make_owner()), reverse("inventory:technique-paint", args=[the_technique().pk])
    poured([200])
    few = queries(owner, address)
    poured([200] * 12)
    poured([200] * 12, board(20_000))
    assert queries(owner, address) == few


def test_the_forecasts_of_the_page_use_earlier_pours_only() -> None:
    poured([300], days_back=2)
    poured([300], days_back=1)
    paint = paint_of(the_technique())
    newest, oldest = paint.pours
    assert oldest.expected == 220 * 900  # the technique's own figure on 900 cm²
    assert oldest.off == 363_636  # 270 mL where 198 mL were expected
    assert oldest.expected < newest.expected < 270_000
    assert paint.mean_errors is None


def test_the_mean_error_falls_as_a_steady_hand_is_learned() -> None:
    poured([300] * 6)
    errors = paint_of(the_technique()).mean_errors
    assert errors is not None
    older, newer = errors
    assert newer < older


def test_programs_read_what_was_learned() -> None:
    pours = poured([200, 210])
    program = Program(make_owner())
    body = program.read(f"techniques/{the_technique().pk}/")
    (size,) = body["sizes"]
    assert [pour["id"] for pour in size["pours"]] == [pours[1].pk, pours[0].pk]
    assert size["low"]["amount"] < size["expected"]["amount"] < size["high"]["amount"]
    assert (
        size["rate"] == learned_by_technique([the_technique()])[the_technique().pk].estimate(USUAL_EDGE).value
    )
    assert body["technique"]["learn_from"] is None


def test_the_owner_starts_anew_on_the_techniques_form() -> None:
    owner, technique = as_user(make_owner()), the_technique()
    poured([500, 510], days_back=3)
    address = reverse("inventory:technique-edit", args=[technique.pk])
    form = owner.get(address).context["form"]
    typed = {name: form[name].value() or "" for name in form.fields}
    refused = owner.post(address, typed | {"learn_from": "some day"})
    assert (refused.status_code, set(refused.context["form"].errors)) == (422, {"learn_from"})
    assert owner.post(address, typed | {"learn_from": TODAY.isoformat()}).status_code == 302
    assert (counted(), figure()) == (0, 220)
    page = reverse("inventory:technique-paint", args=[technique.pk])
    assert "It starts again on" in text_of(Client.get(owner, page))
    assert address in owner.get(page).content.decode()
    assert address not in as_user(make_helper()).get(page).content.decode()
