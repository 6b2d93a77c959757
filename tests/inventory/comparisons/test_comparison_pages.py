"""The pages of comparisons: started, filled, scored on a phone, finished, printed."""

from io import BytesIO
from typing import Any

import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from inventory.comparisons.actions.comparisons import finish
from inventory.comparisons.models import Comparison, Score
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import Pour, Stage
from studio.accounts.models import User
from tests.inventory.browsing import HOSTILE, as_user, queries, text_of
from tests.inventory.comparisons.boards import Boards, give, judged_good, make_comparison, pours_of, sent
from tests.making import make_helper, make_submission

pytestmark = pytest.mark.django_db

CLEAR = ([8, 9, 8, 9], [5, 6, 5, 6])


@pytest.fixture
def boards(db: None) -> Boards:
    return Boards()


def page_of(comparison: Comparison, name: str = "") -> str:
    return reverse(f"inventory:comparison{name}", args=[comparison.pk])


def words_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def test_an_empty_list_teaches_and_a_full_one_names_arms(signed: Client, boards: Boards) -> None:
    address = reverse("inventory:comparisons")
    assert reverse("inventory:comparison-new") in signed.get(address).content.decode()
    make_comparison(boards.pour())
    words = text_of(signed.get(address))
    assert "Glue, Resin" in words
    assert signed.get(address, {"export": "csv"})["Content-Type"].startswith("text/csv")
    assert "Glue or resin" not in text_of(signed.get(address, {"search": "varnish"}))
    assert "Glue or resin" in text_of(signed.get(address, {"search": "resin", "finished": "false"}))


def test_a_comparison_is_started_from_a_session_with_its_noted_pours(signed: Client, boards: Boards) -> None:
    session = boards.pour()
    address = f"{reverse('inventory:comparison-new')}?session={session.pk}"
    assert "Glue\nResin" in signed.get(address).content.decode()
    response = signed.post(address, sent())
    comparison = Comparison.objects.get()
    assert response["Location"].startswith(page_of(comparison, "-pours"))
    assert [arm.pours.count() for arm in comparison.arms.all()] == [3, 3]
    assert signed.post(address, sent()).status_code == 302, "the same form again is the same comparison"
    assert Comparison.objects.count() == 1
    assert page_of(comparison) in signed.get(reverse("inventory:session", args=[session.pk])).content.decode()


def test_what_is_wrong_with_a_new_comparison_is_told_at_its_field(signed: Client, boards: Boards) -> None:
    response = signed.post(reverse("inventory:comparison-new"), sent(arms="Glue", varied=""))
    assert response.status_code == 422
    assert set(response.context["form"].errors) == {"varied"}
    response = signed.post(reverse("inventory:comparison-new"), sent(arms="Glue"))
    assert set(response.context["form"].errors) == {"arms"}
    wrong = {"criteria-0-lowest": "10", "criteria-0-highest": "0"}
    response = signed.post(reverse("inventory:comparison-new"), sent(**wrong))
    assert response.status_code == 422
    assert set(response.context["formset"].forms[0].errors) == {"highest"}
    assert not Comparison.objects.exists()


def placed(pours: list[Pour], comparison: Comparison, **change: Any) -> dict[str, Any]:
    arms = {arm.name: arm.pk for arm in comparison.arms.all()}
    data = {f"pour-{pour.pk}-arm": arms.get(pour.arm, "") for pour in pours}
    return {"hands": "Ida", "colour_order": "white only", **data, **change}


def test_pours_are_put_into_arms_and_what_holds_of_all_is_typed_once(signed: Client, boards: Boards) -> None:
    session, comparison = boards.pour(), make_comparison(None)
    pours = pours_of(session)
    address = f"{page_of(comparison, '-pours')}?session={session.pk}"
    note = {f"pour-{pours[0].pk}-hands": "Nell", f"pour-{pours[1].pk}-left_out": "dropped"}
    assert signed.post(address, placed(pours, comparison, **note)).status_code == 302
    compared = {each.pour_id: each for each in comparison.pours.all()}
    assert [compared[pour.pk].hands for pour in pours[:2]] == ["Nell", "Ida"]
    assert compared[pours[1].pk].left_out == "dropped"
    words = text_of(signed.get(page_of(comparison)))
    assert f"{pours[1].label} is left out: dropped" in words


def test_a_piece_is_scored_by_tapping_and_the_next_one_comes(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour(2), is_blind=True)
    criterion = comparison.criteria.get()
    address = page_of(comparison, "-score")
    for left in range(4, 0, -1):
        page = signed.get(address)
        compared = page.context["compared"]
        assert page.context["label"] == compared.wet_code
        assert compared.pour.label not in page.content.decode()
        response = signed.post(f"{address}?pour={compared.pk}", {f"criterion_{criterion.pk}": "7500"})
        assert response.status_code == 302
        assert response["Location"].startswith(address) == (left > 1)
    assert Score.objects.count() == 4


def test_a_score_sent_twice_counts_once_and_one_that_is_missing_is_asked_for(
    signed: Client, boards: Boards
) -> None:
    comparison = make_comparison(boards.pour(2))
    criterion, compared = comparison.criteria.get(), comparison.pours.all()[0]
    address = f"{page_of(comparison, '-score')}?pour={compared.pk}"
    for _twice in range(2):
        signed.post(address, {f"criterion_{criterion.pk}": "8000"})
    assert Score.objects.count() == 1
    assert signed.post(address, {}).status_code == 422
    assert signed.post(address, {f"criterion_{criterion.pk}": "8250"}).status_code == 422


def test_nobody_sees_an_arm_of_a_blind_comparison_before_it_is_finished(
    signed: Client, boards: Boards
) -> None:
    session = boards.pour(4)
    comparison = make_comparison(session, is_blind=True)
    _photograph(session.pours.first())
    give(comparison, CLEAR)
    page = signed.get(page_of(comparison))
    labels = [pour.label for pour in pours_of(session)]
    assert not any(label in page.content.decode() for label in labels)
    assert "came out better" not in text_of(page)
    for name in ("-report", "-recipes", "-recipes-text"):
        assert signed.get(page_of(comparison, name)).status_code == 302
    codes = text_of(signed.get(page_of(comparison, "-codes")))
    assert all(each.wet_code in codes for each in comparison.pours.all())
    signed.post(page_of(comparison, "-finish"))
    assert "came out better" in text_of(signed.get(page_of(comparison)))


def _photograph(pour: Pour | None) -> None:
    assert pour is not None
    upload = BytesIO()
    Image.new("RGB", (64, 64), (20, 90, 120)).save(upload, "PNG")
    upload.seek(0)
    add_photo(
        session=pour.session, upload=upload, pours=[pour], stage=Stage.WET, submission=make_submission()
    )


def test_it_is_not_finished_by_accident(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    signed.post(page_of(comparison, "-finish"))
    assert not Comparison.objects.get().is_finished
    signed.post(page_of(comparison, "-finish"), {"despite_missing": "on"})
    assert Comparison.objects.get().is_finished


def test_it_is_deleted_only_while_nothing_is_scored(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour(4))
    give(comparison, CLEAR)
    signed.post(page_of(comparison, "-discard"))
    assert Comparison.objects.exists()
    empty = make_comparison(boards.pour(), name="Empty")
    signed.post(page_of(empty, "-discard"))
    assert list(Comparison.objects.all()) == [comparison]


def test_the_results_name_what_else_differed_and_no_winner(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour(4, more_water=80))
    give(comparison, CLEAR)
    words = text_of(signed.get(page_of(comparison)))
    assert "Tap water" in words
    assert "0.5 in “Glue”; 0.9 in “Resin”" in words
    assert "Shows" not in words


def test_costs_are_for_those_who_may_see_them(boards: Boards, owner: User) -> None:
    comparison = make_comparison(judged_good(boards.pour(4)))
    give(comparison, CLEAR)
    for user, sees in ((owner, True), (make_helper(), False)):
        client = as_user(user)
        assert ("£" in text_of(client.get(page_of(comparison)))) is sees
        assert ("£" in words_of(client.get(page_of(comparison, "-report")).content)) is sees
        assert "£" not in words_of(client.get(page_of(comparison, "-recipes")).content)


def test_the_report_is_one_page_and_says_what_the_page_says(signed: Client, boards: Boards) -> None:
    session = boards.pour(4)
    comparison = make_comparison(session)
    give(comparison, CLEAR)
    _photograph(session.pours.first())
    finish(comparison=comparison, submission=make_submission())
    answer = signed.get(page_of(comparison, "-report"))
    assert answer["Content-Type"] == "application/pdf"
    assert len(pypdfium2.PdfDocument(answer.content)) == 1
    words = words_of(answer.content)
    for text in (
        "Glue or resin",
        "Open rings, wet",
        "Better",
        "Glue (2.9%)",
        "In brackets",
        "Not judged yet",
    ):
        assert text in words


def test_the_recipes_come_as_paper_and_as_text(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    assert "2 Loft glue" in words_of(signed.get(page_of(comparison, "-recipes")).content)
    text = signed.get(page_of(comparison, "-recipes-text"))
    assert text["Content-Type"].startswith("text/plain")
    assert "1 Sail Loft White, 2 Quay resin, 0.5 Tap water" in text.content.decode()


def test_photos_stand_side_by_side_by_arm_once_they_may(signed: Client, boards: Boards) -> None:
    session = boards.pour()
    comparison = make_comparison(session)
    _photograph(session.pours.first())
    [row] = signed.get(page_of(comparison)).context["photo_rows"]
    assert (row.heading, len(row.photos)) == ("Glue", 1)


def test_hostile_names_are_written_out_harmlessly(signed: Client, boards: Boards) -> None:
    comparison = make_comparison(boards.pour(4), name=HOSTILE, notes=HOSTILE)
    give(comparison, CLEAR)
    for name in ("", "-pours", "-score", "-codes", "-edit"):
        assert HOSTILE not in signed.get(page_of(comparison, name)).content.decode()
    assert signed.get(page_of(comparison, "-report")).status_code == 200


def test_the_pages_ask_no_more_queries_the_more_there_is(signed: Client, boards: Boards) -> None:
    small, large = make_comparison(boards.pour(2)), make_comparison(boards.pour(8), name="Large")
    give(small, ([1] * 2, [2] * 2))
    give(large, ([1] * 8, [2] * 8))
    session = {each.pk: each.pours.all()[0].pour.session_id for each in (small, large)}
    for name in ("", "-pours", "-score", "-codes", "-report", "-recipes"):
        asked = [
            queries(signed, f"{page_of(each, name)}?session={session[each.pk]}") for each in (small, large)
        ]
        assert asked[1] <= asked[0], name
    before = queries(signed, reverse("inventory:comparisons"))
    make_comparison(boards.pour(), name="One more")
    assert queries(signed, reverse("inventory:comparisons")) == before
