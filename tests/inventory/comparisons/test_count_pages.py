"""The pages of counts: blind, saved as one goes, and shown with their standard error."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from inventory.comparisons.actions.comparison_facts import CriterionFacts
from inventory.comparisons.actions.comparisons import finish
from inventory.comparisons.actions.counting import finish_count
from inventory.comparisons.models import Comparison, PhotoCount, Score
from inventory.sessions.models import SessionPhoto
from studio.accounts.models import User
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.comparisons.boards import Boards, make_comparison
from tests.inventory.comparisons.photo_counts import begun, counted_comparison, photograph, place_on
from tests.inventory.comparisons.test_comparison_pages import page_of, words_of
from tests.inventory.comparisons.test_photo_counts import mark
from tests.making import make_bookkeeper, make_submission
from tests.programs import Program

pytestmark = pytest.mark.django_db

CORNERS = "100,5 195,100 100,195 5,100"


@pytest.fixture(autouse=True)
def media(settings: object, tmp_path: object) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]


def count_of(comparison: Comparison, number: int = 0) -> str:
    return reverse("inventory:comparison-piece-count", args=[place_on(comparison, number).compared.pk])


def finished_count(comparison: Comparison, number: int = 0) -> PhotoCount:
    count = begun(place_on(comparison, number))
    mark(count, 0, 1, 1, line=300)
    finish_count(count=count, submission=make_submission())
    return count


def test_a_piece_is_photographed_straightened_marked_and_scored(signed: Client) -> None:
    comparison = counted_comparison(each=1, is_blind=True)
    address = count_of(comparison)
    upload = BytesIO()
    Image.new("RGB", (200, 200), (9, 9, 90)).save(upload, "PNG")
    sent = signed.post(address, {"photo": SimpleUploadedFile("white first.png", upload.getvalue())})
    page = signed.get(sent["Location"])
    assert page.context["pixels"] == (200, 200)
    count = signed.post(sent["Location"], {"corners": CORNERS}, follow=True)
    row = PhotoCount.objects.get()
    left, top = row.places[0]
    marks = reverse("inventory:comparison-count-marks", args=[row.pk])
    data = {"add": [f"a,{left},{top}", f"b,{left + 9},{top},{left + 20},{top}"], "remove": ["gone"]}
    assert signed.post(marks, data).json() == {"marks": 2}
    assert signed.post(marks, {"add": "c,0,0"}).status_code == 422
    assert signed.post(marks, {"add": "c;0"}).status_code == 422
    for blind in (page, count):
        html = blind.content.decode()
        assert row.pour.wet_code in html
        assert not any(
            word in html for word in (row.pour.pour.label, "white first", "Glue", str(row.photo.photo.name))
        )
    done = signed.post(reverse("inventory:comparison-count-finish", args=[row.pk]))
    assert done["Location"].startswith(page_of(comparison, "-score"))
    assert Score.objects.get().value == 2_000


def test_scoring_leads_on_to_what_is_still_to_be_counted(signed: Client) -> None:
    criteria = [CriterionFacts("Open rings"), CriterionFacts("Cells", scale="counted")]
    comparison = make_comparison(Boards().pour(1), criteria=criteria)
    points, cells = comparison.criteria.all()
    compared = place_pk(comparison, signed)
    address = f"{page_of(comparison, '-score')}?pour={compared}"
    answer = signed.post(address, {f"criterion_{points.pk}": "7000"})
    assert f"criterion={cells.pk}" in answer["Location"]
    typed = signed.post(address, {f"criterion_{points.pk}": "7000", f"criterion_{cells.pk}": "12.5"})
    assert typed["Location"].startswith(page_of(comparison, "-score"))
    assert Score.objects.get(criterion=cells).value == 12_500
    assert (
        signed.post(address, {f"criterion_{points.pk}": "1", f"criterion_{cells.pk}": "-1"}).status_code
        == 422
    )


def place_pk(comparison: Comparison, signed: Client) -> int:
    number: int = signed.get(page_of(comparison, "-score")).context["compared"].pk
    return number


def test_an_unfinished_count_goes_on_where_it_was(signed: Client) -> None:
    comparison = counted_comparison(each=1)
    count = begun(place_on(comparison))
    here = reverse("inventory:comparison-count", args=[count.pk])
    assert signed.get(count_of(comparison))["Location"] == here
    assert signed.get(f"{count_of(comparison)}?again=yes").status_code == 200
    assert signed.post(count_of(comparison), {"corners": "1,2 3"}).status_code == 302
    assert PhotoCount.objects.get() == count


def test_pictures_tell_nothing_of_the_arm(signed: Client) -> None:
    comparison = counted_comparison(each=1, is_blind=True)
    count = begun(place_on(comparison))
    picture = signed.get(reverse("inventory:comparison-count-picture", args=[count.pk]))
    photo = signed.get(reverse("inventory:comparison-piece-photo", args=[count.pour_id]))
    for answer in (picture, photo):
        assert answer["Content-Type"] == "image/jpeg"
        assert 'filename="piece.jpg"' in answer["Content-Disposition"]
        assert answer.getvalue()[:2] == b"\xff\xd8"
    score = signed.get(page_of(comparison, "-score")).content.decode()
    detail = signed.get(page_of(comparison)).content.decode()
    assert not any("/sessions/photos/" in html for html in (score, detail))
    missing = reverse("inventory:comparison-piece-photo", args=[count.pour_id])
    assert signed.get(missing, {"file": "x"}).status_code == 404


def test_a_photo_that_was_counted_on_is_not_removed(signed: Client) -> None:
    count = begun(place_on(counted_comparison(each=1)))
    signed.post(reverse("inventory:session-photo-remove", args=[count.photo_id]))
    assert SessionPhoto.objects.filter(pk=count.photo_id).exists()


def test_results_and_report_give_the_count_with_its_standard_error(signed: Client) -> None:
    comparison = counted_comparison(each=1)
    for number in range(2):
        finished_count(comparison, number)
    finish(comparison=comparison, submission=make_submission())
    page = text_of(signed.get(page_of(comparison)))
    report = words_of(signed.get(page_of(comparison, "-report")).content)
    for words in (page, report):
        assert "3 ± 1.6" in words, "0, 0, 1 and 2 in windows of 25 cm², of 12: √(8/12 · 14⅔/4)"
        assert "median 3 mm" in words
    count = PhotoCount.objects.all()[0]
    seen = as_user(make_bookkeeper()).get(reverse("inventory:comparison-count", args=[count.pk]))
    assert "3 ± 1.6 per 100 cm²" in text_of(seen)


def test_pages_ask_no_more_queries_the_more_is_marked(signed: Client) -> None:
    comparison = counted_comparison(each=2)
    small, large = (begun(place_on(comparison, number)) for number in range(2))
    mark(small, 0)
    mark(large, *[0, 1, 2, 3] * 5)
    asked = [
        queries(signed, reverse("inventory:comparison-count", args=[each.pk])) for each in (small, large)
    ]
    assert asked[0] == asked[1]
    finish_count(count=small, submission=make_submission())
    before = queries(signed, page_of(comparison))
    finish_count(count=large, submission=make_submission())
    assert queries(signed, page_of(comparison)) <= before


def test_a_program_counts_too(owner: User) -> None:
    comparison = counted_comparison(each=1)
    place, program = place_on(comparison), Program(owner)
    body = {
        "pour": place.compared.pk, "criterion": place.criterion.pk, "stage": "wet", "judge": owner.pk,
        "corners": [[100, 5], [195, 100], [100, 195], [5, 100]],
    }  # fmt: skip
    assert "photo" in program.send("photo-counts/", body, status=400)["errors"]
    for wrong in ([], [1], [1, 2, 3]):
        refused = program.send("photo-counts/", {**body, "corners": [wrong] * 4}, status=400)
        assert "corners" in refused["errors"]
    photograph(place.compared.pour)
    count = program.send("photo-counts/", body, status=201)
    at = count["windows"][2]
    marks = {"marks": [{"key": "a", "at": at}, {"key": "b", "at": at, "to": [at[0] + 300, at[1] + 400]}]}
    marked = program.send(f"photo-counts/{count['id']}/marks/", marks, status=200)
    assert marked["counted"] == [0, 0, 2, 0]
    done = program.send(f"photo-counts/{count['id']}/finish/", {}, status=200)
    assert (done["per_100_cm2"], done["median_mm"]) == ("2.000", "5.000")
    assert done["finished_at"]
    refused = program.send(
        f"photo-counts/{count['id']}/marks/", {"marks": [{"key": "c", "at": at}]}, status=422
    )
    assert refused
    assert (
        program.read(f"photo-counts/?comparison={comparison.pk}&finished=true")["results"][0]["id"]
        == count["id"]
    )
