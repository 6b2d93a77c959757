"""Labels for jars: what they say, which lots are offered, and the code that is read back."""

from dataclasses import replace

import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse

from inventory.ledger import reversals
from inventory.ledger.models import Lot, LotOrigin
from inventory.materials.models import Kind, SignalWord
from inventory.recipes.contents import parts_in
from inventory.stock.actions.lots import decant
from inventory.stock.jar_labels import JarLabel, draw_jar_labels
from studio.accounts.models import User
from studio.papers.labels import GRIDS
from tests.inventory.browsing import as_user, text_of
from tests.making import make_batch, make_lot, make_material, make_recipe, make_submission, make_water, units
from tests.studio.papers.test_paper import inked_box, page_images, read_pages

ADDRESS = "/stock/labels/"


def words_of(content: bytes) -> str:
    with pypdfium2.PdfDocument(content) as pdf:
        return " ".join(page.get_textpage().get_text_range() for page in pdf)


@pytest.mark.django_db
def test_what_was_mixed_or_decanted_is_offered_and_what_was_bought_when_asked_for(helper: User) -> None:
    bought = make_lot(
        material=make_material(name="Harbour Blue", signal_word=SignalWord.WARNING, hazards="H317 Allergic.")
    )
    mixed = make_lot()
    Lot.objects.filter(pk=mixed.pk).update(origin=LotOrigin.MIX)
    client = as_user(helper)
    listed = [lot.pk for lot, _is_chosen in client.get(ADDRESS).context["lots"]]
    assert listed == [mixed.pk]
    every = client.get(ADDRESS, {"paper": "A4", "start": "1", "bought": "on"}).context["lots"]
    assert bought.pk in [lot.pk for lot, _is_chosen in every]
    assert [
        lot.pk for lot, is_chosen in client.get(ADDRESS, {"lot": str(bought.pk)}).context["lots"] if is_chosen
    ] == [bought.pk]


@pytest.mark.django_db
def test_a_label_says_what_is_in_the_jar_since_when_and_what_is_dangerous_about_it(owner: User) -> None:
    lot = make_lot(
        material=make_material(
            name="Harbour Blue", signal_word=SignalWord.WARNING, hazards="H317 May cause an allergy."
        )
    )
    asked = {"paper": "A4", "start": "3", "copies": "2", "lot": str(lot.pk), "print": "1"}
    answer = as_user(owner).get(ADDRESS, asked)
    words = words_of(answer.content)
    for text in ("Harbour Blue", lot.label, "Warning", "H317 May cause an allergy."):
        assert words.count(text) == 2
    assert "£" not in words


@pytest.mark.django_db
def test_the_label_of_a_mix_says_what_its_parts_labels_say_and_classifies_nothing(owner: User) -> None:
    blue = make_material(name="Harbour Blue", signal_word=SignalWord.WARNING, hazards="H317 An allergy.")
    medium, water = make_material(name="Loft medium", kind=Kind.MEDIUM, hazards="EUH208."), make_water()
    for material in (blue, medium):
        make_lot(material=material, quantity=units(500))
    home_made = make_recipe(parts=[(medium, 2), (water, 1)], name="Home-made medium")
    make_batch(version=home_made, quantity=units(300))
    pale = make_batch(
        version=make_recipe(parts=[(blue, 1), (home_made.recipe.makes, 2)], name="Pale tide"),
        quantity=units(90),
    )
    jar = decant(lot=pale.lot, quantity=units(40), submission=make_submission())
    client = as_user(owner)
    for lot in (pale.lot, jar):
        label = client.get(ADDRESS, {"paper": "A4", "start": "1", "lot": str(lot.pk), "print": "1"})
        words = " ".join(words_of(label.content).split())
        assert "Contains Harbour Blue (Warning), Loft medium: see their labels." in words
        assert "Harbour Blue: H317 An allergy. Loft medium: EUH208." in words
        assert words.count("Warning") == 1
        page = text_of(client.get(reverse("inventory:lot", args=[lot.pk])))
        assert "Harbour Blue: Warning H317 An allergy." in page
        assert "not classified" in page
    bought = Lot.objects.get(material=blue)
    assert "not classified" not in text_of(client.get(reverse("inventory:lot", args=[bought.pk])))


@pytest.mark.django_db
def test_what_a_reversed_mix_drew_is_in_no_jar(owner: User) -> None:
    blue = make_material(name="Harbour Blue", hazards="H317.")
    make_lot(material=blue, quantity=units(500))
    mix = make_batch(version=make_recipe(parts=[(blue, 1)], name="Blue again"), quantity=units(90))
    assert parts_in([mix.lot_id]) == {mix.lot_id: [blue]}
    reversals.reverse(posting=mix.posting, submission=make_submission(), note="Mixed by mistake.")
    assert parts_in([mix.lot_id]) == {mix.lot_id: []}


@pytest.mark.django_db
def test_nothing_chosen_or_a_place_that_the_sheet_has_not_is_refused_on_the_page(owner: User) -> None:
    lot, client = make_lot(), as_user(owner)
    assert "Choose at least one" in text_of(client.get(ADDRESS, {"paper": "A4", "start": "1", "print": "1"}))
    wrong = client.get(ADDRESS, {"paper": "A4", "start": "22", "lot": str(lot.pk), "print": "1"})
    assert (wrong.status_code, "labels 1 to 21" in text_of(wrong)) == (422, True)


@pytest.mark.parametrize("grid", list(GRIDS))
def test_no_text_reaches_the_edge_and_the_code_is_read_back(grid: str) -> None:
    long = "Slack water at the harbour wall " * 20
    label = JarLabel(long, "L0042", "1 Jun 2025", "Use by 1 Jul 2025", "Danger", long)
    plan = GRIDS[grid]
    (image,) = page_images(draw_jar_labels([label], studio="Wrackline Studio", grid=plan), 4)
    box = plan.box(0)
    inked = inked_box(image)
    assert inked is not None
    left, top, right, bottom = (edge / 4 for edge in inked)
    assert (left > box.left, top > box.top, right < box.right, bottom < box.bottom) == (True,) * 4
    assert [found.text for found in zxingcpp.read_barcodes(image)] == ["L0042"]
    assert "L0042" in read_pages(draw_jar_labels([label], studio="Wrackline Studio", grid=plan))[0]


@pytest.mark.parametrize("grid", list(GRIDS))
@pytest.mark.parametrize("use_by", ["Use by 28 Sept 2027", "Verwendbar bis 28. Sept. 2027"])
def test_days_are_never_cut_and_nothing_is_printed_over_the_code(grid: str, use_by: str) -> None:
    hazards = "H225 Highly flammable liquid and vapour; H319 Causes serious eye irritation"
    label = JarLabel("Eelslip pouring medium", "L0026", "28 Sept 2026", use_by, "Danger", hazards)
    pdf = draw_jar_labels([label], studio="Wrackline Studio", grid=GRIDS[grid])
    (page,) = read_pages(pdf)
    for text in ("Eelslip pouring medium", "L0026", "28 Sept 2026", use_by, "Danger", "H225"):
        assert text in page
    for said in (label, replace(label, use_by="", signal_word="")):
        (image,) = page_images(draw_jar_labels([said], studio="Wrackline Studio", grid=GRIDS[grid]), 300 / 72)
        assert [found.text for found in zxingcpp.read_barcodes(image)] == ["L0026"]
