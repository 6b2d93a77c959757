"""Text folded for comparing: Unicode's own examples, and the database says the same as Python."""

import pytest
from django.db.models import F
from hypothesis import given
from hypothesis import strategies as st

from inventory.materials.models import Supplier
from studio.search.matching import Folded, contains
from studio.values.folding import fold
from tests.making import make_supplier

LATIN = st.text(st.characters(min_codepoint=32, max_codepoint=0x24F), max_size=40)


@pytest.mark.parametrize(
    ("text", "folded"),
    [
        # Unicode Standard Annex #15, figures 3 and 6: a letter with its mark in one or two, and a ligature.
        ("\u00c5", "a"), ("A\u030a", "a"), ("\u212b", "a"), ("\ufb01ne", "fine"),
        ("Émeraude ÜBER", "emeraude uber"), ("Straße", "strasse"), ("Rødgrød", "rodgrod"), ("Łódź", "lodz"),
    ],
)  # fmt: skip
def test_case_accents_and_ligatures_make_no_difference(text: str, folded: str) -> None:
    assert fold(text) == folded


@given(LATIN)
def test_what_is_folded_stays_as_it_is(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@pytest.mark.django_db
def test_the_database_folds_as_python_does() -> None:
    everything = "".join(chr(code) for code in range(32, 0x250) if chr(code).isprintable())
    for start in range(0, len(everything), 100):
        make_supplier(name=f"{start}{everything[start : start + 100]}")
    rows = Supplier.objects.annotate(same=Folded(F("name"))).values_list("name", "same")
    assert all(same == fold(name) for name, same in rows)


@pytest.mark.django_db
@pytest.mark.parametrize("word", ["CAFE", "café", "Öl", "ol", "50%", "a_b"])
def test_a_word_is_found_whatever_its_case_and_accents_and_signs_mean_themselves(word: str) -> None:
    row = make_supplier(name="Café Ól, 50% a_b")
    make_supplier(name="Caf Uel, 500 axb")
    assert list(Supplier.objects.filter(contains(word, "name"))) == [row]
