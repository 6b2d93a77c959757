"""The bench over JSON: mixes, sessions and pours."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger.models import Entry, Lot, Posting, PostingKind
from inventory.recipes.models import Mix
from inventory.sessions.models import Session
from studio.accounts.models import User
from tests.days import TODAY
from tests.making import make_material, make_session, make_surface, pour_of, take_back, units
from tests.programs import Program, names_of
from tests.small_studio import SmallStudio

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def batch(built: SmallStudio, **change: Any) -> dict[str, Any]:
    return {"recipe": built.medium.recipe_id, "wanted": "300 ml", "on": TODAY.isoformat()} | change


def session(built: SmallStudio, **change: Any) -> dict[str, Any]:
    """One mix of 300 mL, two pours of 120 mL from it, gloves, and the rest kept."""
    technique = built.session.pours.get(number=1).technique_id
    pour = {
        "technique": technique,
        "surface": built.canvas.pk,
        "doses": [{"mix": 1, "quantity": "120 ml"}],
        "run_off": "12 ml",
    }
    said = {
        "held_on": TODAY.isoformat(),
        "title": "Evening",
        "minutes": 60,
        "mixes": [{"recipe": built.recipe.pk, "wanted": "300 ml"}],
        "pours": [pour, pour],
        "sundries": [{"material": built.gloves.pk, "quantity": "2 each"}],
    }
    return said | change


def test_a_batch_is_mixed_by_its_recipe(built: SmallStudio, program: Program) -> None:
    made = program.send("mixes/", batch(built))
    assert made["left"]["amount"] == units(300)
    assert made["recipe"]["name"] == "Loft medium"
    # Two parts glue to one of water: a third of it is water.
    assert made["water_share"] == "0.333333"
    assert program.read(f"mixes/{made['id']}/") == made
    assert made["id"] in [row["id"] for row in program.read("mixes/")["results"]]


def test_a_batch_may_be_told_as_it_was_mixed(built: SmallStudio, program: Program) -> None:
    glue_lot = built.glue.lots.get()
    used = [
        {"material": built.glue.pk, "quantity": "210 ml", "lot": glue_lot.pk},
        {"material": built.water.pk, "quantity": "95 ml"},
    ]
    said = batch(built, ingredients=used, measured="300 ml", place="Shelf 2")
    del said["wanted"]
    made = program.send("mixes/", said)
    assert made["left"]["amount"] == units(300)
    assert Lot.objects.get(pk=made["lot"]).place == "Shelf 2"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"wanted": "nothing"}, "wanted"),
        ({"wanted": "2 m"}, "wanted"),
        ({"version": 9}, "version"),
        ({"recipe": 0}, "recipe"),
        ({"ingredients": []}, "ingredients"),
        ({"on": None}, "on"),
    ],
)
def test_a_batch_names_what_cannot_be_read(
    built: SmallStudio, program: Program, change: dict[str, Any], said: str
) -> None:
    before = Posting.objects.count()
    refused = program.refusal("mixes/", batch(built, **change), status=400)
    assert said in names_of(refused["errors"])
    assert Posting.objects.count() == before


def test_a_lot_of_another_material_is_refused(built: SmallStudio, program: Program) -> None:
    said = batch(built, ingredients=[{"material": built.glue.pk, "quantity": "1 ml", "lot": built.lot.pk}])
    del said["wanted"]
    refused = program.refusal("mixes/", said, status=400)
    assert "lot" in names_of(refused["errors"])


def test_shortfalls_are_listed_and_nothing_is_posted(built: SmallStudio, program: Program) -> None:
    before = (Posting.objects.count(), Mix.objects.count())
    refused = program.refusal("mixes/", batch(built, wanted="9 l"), key="big", status=409)
    [short] = refused["shortfalls"]
    assert (refused["kind"], short["name"]) == ("not-enough", "Loft glue")
    assert short["needed"]["amount"] - short["held"]["amount"] == short["short"]["amount"] > 0
    assert (Posting.objects.count(), Mix.objects.count()) == before


def test_the_same_request_goes_through_once_the_gain_is_confirmed(
    built: SmallStudio, program: Program
) -> None:
    program.refusal("mixes/", batch(built, wanted="9 l"), key="big", status=409)
    made = program.send("mixes/", batch(built, wanted="9 l", confirm_gain=True), key="big")
    assert made["left"]["amount"] == units(9_000)
    assert Posting.objects.filter(kind=PostingKind.COUNT_GAIN).count() == 1
    assert program.send("mixes/", batch(built, wanted="9 l"), key="big", status=200) == made


def test_a_session_is_logged_whole_and_read_back(built: SmallStudio, program: Program) -> None:
    made = program.send("sessions/", session(built), key="evening")
    [mix] = made["mixes"]
    assert (mix["made"]["amount"], mix["poured"]["amount"]) == (units(300), units(240))
    assert mix["mix"]["left"]["amount"] == units(60)
    assert [pour["pour"]["poured"]["amount"] for pour in made["pours"]] == [units(120)] * 2
    assert {line["role"] for line in made["pours"][0]["lines"]} == {"surface", "poured", "sundry"}
    assert made["session"]["pour_count"] == 2
    entries = Entry.objects.filter(posting=made["session"]["posting"], place="work")
    total = sum(entries.values_list("money", flat=True))
    assert made["cost"] == f"{total / 10**6:.6f}"
    assert program.send("sessions/", session(built), key="evening", status=200) == made
    assert program.read(f"sessions/{made['session']['id']}/") == made


def test_a_failed_pour_is_covered_by_the_next(built: SmallStudio, program: Program) -> None:
    failed = session(built)
    failed["pours"] = [failed["pours"][0] | {"outcome": "failed"}]
    below = program.send("sessions/", failed)["pours"][0]["pour"]["id"]
    cover = session(built)
    cover["pours"] = [{k: v for k, v in cover["pours"][0].items() if k != "surface"} | {"over": below}]
    above = program.send("sessions/", cover)["pours"][0]
    assert above["pour"]["over"] == below
    assert "surface" not in {line["role"] for line in above["lines"]}


def pour_with(built: SmallStudio, **change: Any) -> dict[str, Any]:
    return session(built, pours=[session(built)["pours"][0] | change])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"doses": [{"mix": 2, "quantity": "1 ml"}]}, "pours"),
        ({"doses": [{"quantity": "1 ml"}]}, "mix"),
        ({"doses": []}, "doses"),
        ({"over": 10**6}, "over"),
        ({"outcome": "splendid"}, "outcome"),
        ({"technique": 10**6}, "technique"),
        ({"run_off": "1 kg"}, "run_off"),
    ],
)
def test_a_session_names_what_cannot_be_read(
    built: SmallStudio, program: Program, change: dict[str, Any], said: str
) -> None:
    before = Posting.objects.count()
    refused = program.refusal("sessions/", pour_with(built, **change), status=400)
    assert said in names_of(refused["errors"])
    assert Posting.objects.count() == before


def test_what_the_writer_refuses_is_said_in_its_words(built: SmallStudio, program: Program) -> None:
    refused = program.refusal("sessions/", pour_with(built, run_off="1 l"), status=400)
    assert list(refused["errors"]["pours"][0]) == ["run_off"]
    nothing = program.refusal("sessions/", {"held_on": TODAY.isoformat()}, status=400)
    assert nothing["kind"] == "invalid-input"
    program.refusal("sessions/", session(built, held_on="2999-01-01"), status=422)


def test_helpers_log_sessions_without_seeing_money(built: SmallStudio, helper: User) -> None:
    made = Program(helper).send("sessions/", session(built))
    assert not names_of(made) & {"money", "cost", "wage_per_hour", "overhead_per_hour"}


def test_pours_are_chosen_and_told_with_their_lines(built: SmallStudio, program: Program) -> None:
    listed = program.read("pours/", session=built.session.pk, outcome="open")
    assert listed["count"] == 4
    pour = program.read(f"pours/{built.loose.pk}/")
    assert pour["pour"]["label"] == built.loose.label
    assert pour["rate"] == 72  # 80 mL on 1,116 cm²
    assert sum(int(line["money"].replace(".", "")) for line in pour["lines"]) == int(
        pour["cost"].replace(".", "")
    )


def test_what_was_reversed_says_so(built: SmallStudio, program: Program) -> None:
    made = program.send("sessions/", session(built))
    take_back(Posting.objects.get(number=made["session"]["posting"]))
    found = program.read(f"sessions/{made['session']['id']}/")
    assert found["session"]["is_reversed"] is True
    assert found["pours"][0]["pour"]["is_reversed"] is True
    assert found["mixes"][0]["mix"]["is_reversed"] is True


def test_bench_lists_take_the_same_queries_however_long_they_are(
    built: SmallStudio, program: Program
) -> None:
    paint, canvas = make_material(), make_surface()

    def log(pours: int) -> Session:
        poured = [pour_of(material=paint, quantity=1_000, surface=canvas)] * pours
        return make_session(pours=poured, confirm_gain=True)

    def queries(path: str) -> int:
        program.read(path)
        with CaptureQueriesContext(connection) as made:
            program.read(path)
        return len(made)

    small = log(2)
    program.send("mixes/", batch(built, wanted="3 ml"))
    few = {path: queries(path) for path in ("sessions/", "pours/", "mixes/")}
    large = log(30)
    for _ in range(10):
        log(1)
        program.send("mixes/", batch(built, wanted="3 ml"))
    assert {path: queries(path) for path in few} == few
    assert queries(f"sessions/{large.pk}/") == queries(f"sessions/{small.pk}/")
