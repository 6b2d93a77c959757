"""Weighing what ran off once a session is logged, as from the bench: its page, its endpoint, and its refusals."""

from typing import Any

import pytest
from auditlog.models import LogEntry
from django.test import Client
from django.urls import reverse

from inventory.errors import InventoryError, UnknownDensity
from inventory.ledger.models import Entry, Posting
from inventory.materials.models import Material
from inventory.sessions.actions.weighing_later import WeighedPoursFacts, weigh_pours
from inventory.sessions.models import Pour, Session, Weighing
from inventory.sessions.queries.densities import to_be_weighed
from inventory.sessions.weighing import Readings
from studio.auditing.queries import history
from studio.errors import InputError
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.session_bench import Bench, log, sent
from tests.making import (
    make_bookkeeper,
    make_material,
    make_owner,
    make_recipe,
    make_submission,
    take_back,
    units,
)
from tests.programs import Program
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db

# Both mixes: 1 part paint at 1.12, 2 medium at 1.06, 1 water at 1.00 g/mL are 1.06 g/mL, by arithmetic.
TRAY = {"tray_before": "200 g", "tray_after": "253 g"}  # 53 ÷ 1.06 = 50 mL
SCALE = 100


@pytest.fixture
def bench(db: None) -> Bench:
    found = Bench()
    Material.objects.filter(pk=found.water.pk).update(density=1_000_000)
    return found


@pytest.fixture
def session(signed: Client, bench: Bench) -> Session:
    """150 and 100 mL on two lines, logged without a weight."""
    rows = [
        bench.pours(alike="2", each="", cup_1="150 ml"),
        bench.pours(alike="1", each="", cup_2="100 ml", arm="Late"),
    ]
    log(signed, sent(cups=[bench.cup(0), bench.cup(1)], pours=rows))
    return Session.objects.get()


def page_of(session: Session) -> str:
    return reverse("inventory:session-weigh", args=[session.pk])


def keys(session: Session) -> list[int]:
    return list(session.pours.order_by("number").values_list("pk", flat=True))


def run_off(session: Session) -> list[int | None]:
    return list(session.pours.order_by("number").values_list("run_off", flat=True))


def weigh(client: Client, session: Session, *places: int, **typed: str) -> Any:
    chosen = [keys(session)[place] for place in places]
    return Tab(client, page_of(session), page_of(session)).send(pours=chosen, **typed)


def facts(of: Session, **changed: Any) -> WeighedPoursFacts:
    usual = {"session": of, "pours": list(of.pours.all()), "readings": Readings(SCALE, drips=53_000)}
    return WeighedPoursFacts(**{**usual, **changed})


def test_the_tray_sets_each_pours_run_off_by_its_volume_and_moves_no_paint(
    signed: Client, session: Session
) -> None:
    before = (Entry.objects.count(), Posting.objects.count())
    assert weigh(signed, session, 0, 1, 2, **TRAY).status_code == 200
    assert run_off(session) == [18_750, 18_750, 12_500]
    assert (Entry.objects.count(), Posting.objects.count()) == before
    (weighing,) = Weighing.objects.all()
    assert set(weighing.pours.all()) == set(session.pours.all())
    (change,) = history(Pour, keys(session)[0])
    assert (change.field, change.by) == ("run_off", Posting.objects.latest("number").recorded_by)


def test_pours_not_weighed_yet_are_ticked_and_a_line_can_be_chosen(signed: Client, session: Session) -> None:
    first, second, third = keys(session)

    def ticked(query: str = "") -> Any:
        return signed.get(page_of(session) + query).context["form"]["pours"].initial

    assert ticked() == [first, second, third]
    assert (ticked("?line=1"), ticked("?line=2")) == ([first, second], [third])
    weigh(signed, session, 0, 1, **TRAY)
    assert ticked() == [third]


def test_the_session_leads_to_it_and_shows_whether_it_closes(signed: Client, session: Session) -> None:
    shown = reverse("inventory:session", args=[session.pk])
    assert page_of(session) in signed.get(shown).content.decode()
    typed = TRAY | {
        "cups_before": "800 g",
        "cups_after": "376 g",
        "surfaces_before": "1 kg",
        "surfaces_after": "1367 g",
    }
    weigh(signed, session, 0, 1, 2, **typed)
    (described,) = signed.get(shown).context["weighings"]
    assert [row.mass for row in described.table.rows] == [424_000, 53_000, 367_000, 4_000]
    # 400 mL at 1.06 are 424 g, as logged
    assert (described.is_closed, described.off_the_record) == (True, "")


def test_cups_that_differ_from_what_was_logged_lead_to_the_correction(
    signed: Client, session: Session
) -> None:
    weigh(signed, session, 0, 1, 2, **TRAY, cups_before="800 g", cups_after="380 g")
    words = text_of(signed.get(reverse("inventory:session", args=[session.pk])))
    assert "By the cups, 4 g less was poured than was logged." in words
    assert list(session.pours.order_by("number").values_list("poured", flat=True)) == [
        units(150),
        units(150),
        units(100),
    ]


def test_weighed_again_the_same_pours_are_weighed_once(signed: Client, session: Session) -> None:
    weigh(signed, session, 0, 1, **TRAY)
    assert weigh(signed, session, 0, 1, drips="21.2 g").status_code == 200
    assert (Weighing.objects.get().drips, run_off(session)) == (21_200, [units(10), units(10), None])


def test_a_pour_of_an_earlier_weighing_brings_all_of_it_or_takes_it_back(
    signed: Client, session: Session
) -> None:
    weigh(signed, session, 0, 1, 2, **TRAY)
    refused = weigh(signed, session, 2, drips="10.6 g")
    assert (refused.status_code, set(refused.context["form"].errors)) == (422, {"pours"})
    first, second, _third = session.pours.order_by("number")
    assert f"takes in {first.label}, {second.label} as well" in text_of(refused)
    assert run_off(session) == [18_750, 18_750, 12_500]
    assert weigh(signed, session, 2, drips="10.6 g", take_back="on").status_code == 200
    assert run_off(session) == [None, None, units(10)]
    assert Weighing.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "tray_after"),
        ({"tray_after": "253 g"}, "tray_before"),
        ({"tray_before": "200 g", "tray_after": "199 g"}, "tray_after"),
        ({"drips": "5 ml"}, "drips"),
        ({"drips": "425 g"}, "drips"),
        ({"pours": []}, "pours"),
        ({"pours": ["999"], "drips": "5 g"}, "pours"),
    ],
)
def test_what_cannot_be_comes_back_by_its_field_and_writes_nothing(
    signed: Client, session: Session, typed: dict[str, Any], field: str
) -> None:
    response = Tab(signed, page_of(session), page_of(session)).send(**{"pours": keys(session)} | typed)
    assert (response.status_code, set(response.context["form"].errors)) == (422, {field})
    assert (run_off(session), Weighing.objects.count()) == ([None] * 3, 0)


def test_a_missing_density_names_the_material_and_leads_to_its_sample(
    signed: Client, bench: Bench, session: Session
) -> None:
    Material.objects.filter(pk=bench.amber.pk).update(density=None)
    sample = reverse("inventory:material-density", args=[bench.amber.pk])
    assert sample in signed.get(page_of(session)).content.decode()
    refused = weigh(signed, session, 0, 1, 2, **TRAY)
    assert (refused.status_code, Weighing.objects.count()) == (422, 0)
    assert "Lantern Amber has no density" in text_of(refused)
    assert weigh(signed, session, 0, 1, **TRAY).status_code == 200  # nothing of it is on these


def test_a_reversed_session_is_not_weighed(signed: Client, session: Session) -> None:
    asked = facts(session)
    take_back(session.posting)
    with pytest.raises(InventoryError, match="was reversed"):
        weigh_pours(facts=asked, submission=make_submission())
    assert signed.get(page_of(session)).status_code == 302
    assert (
        page_of(session) not in signed.get(reverse("inventory:session", args=[session.pk])).content.decode()
    )


def test_facts_refuse_pours_named_twice_or_of_another_session(session: Session) -> None:
    pour = session.pours.all()[0]
    for changed in ({"pours": [pour, pour]}, {"session": Session(pk=session.pk + 1)}):
        with pytest.raises(InputError) as refused:
            facts(session, **changed)
        assert refused.value.field == "pours"


def test_who_only_reads_does_not_weigh(session: Session) -> None:
    assert as_user(make_bookkeeper()).get(page_of(session)).status_code == 403


def test_a_program_weighs_pours_and_sends_it_twice(session: Session) -> None:
    program, path = Program(make_owner()), f"sessions/{session.pk}/weighings/"
    body = {"pours": keys(session), "scale_step": "0.1 g", "tray_before": "0 g", "tray_after": "53 g"}
    answer = program.send(path, body, status=200)
    assert [each["pour"]["run_off"]["amount"] for each in answer["pours"]] == [18_750, 18_750, 12_500]
    changes = LogEntry.objects.count()
    (weighing,) = program.send(path, body, status=200)["weighings"]
    assert (weighing["pours"], weighing["tray_after"]["amount"]) == (keys(session), 53_000)
    assert (LogEntry.objects.count(), Weighing.objects.count()) == (changes, 1)
    part = body | {"pours": keys(session)[:1]}
    assert "pours" in program.refusal(path, part, status=400)["errors"]
    taken = program.send(path, part | {"take_back": True}, status=200)
    assert [each["pour"]["run_off"] is None for each in taken["pours"]] == [False, True, True]


def test_the_page_of_many_pours_asks_no_more_queries(signed: Client, bench: Bench) -> None:
    for number, count in enumerate(("1", "5")):
        row = bench.pours(alike=count, each="", cup_1="50 ml")
        log(signed, sent(cups=[bench.cup(number)], pours=[row], key=f"{number}" * 32))
    few, many = Session.objects.order_by("pk")
    queries(signed, page_of(few))
    assert queries(signed, page_of(many)) == queries(signed, page_of(few))


def test_a_sample_is_asked_for_of_what_is_bought_and_not_of_a_mix() -> None:
    paint = make_material(has_density=False)
    made = make_recipe(parts=[(paint, 1)]).recipe.makes
    asked = [to_be_weighed(UnknownDensity(each.pk, each)) for each in (paint, made)]
    assert asked == [paint.pk, None]
