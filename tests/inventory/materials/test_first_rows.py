"""The first rows follow the studio's language, except where somebody has written a name of their own."""

import pytest
from django.conf import LazySettings
from django.utils import translation

from inventory import starter_rows as first_rows
from inventory.ledger.models import Reason
from inventory.sessions.models import Technique
from studio.auditing.queries import entries, field_changes

GERMAN = {
    "Puddle pour": "Pfütze",
    "Ring pour": "Ring pour",
    "Swipe": "Wischen",
    "Gift": "Geschenk",
    "Spill or dropped bottle": "Verschüttet oder Flasche gefallen",
    "rule of thumb, replaced by your own pours": "aus dem Gedächtnis",
}


@pytest.fixture(autouse=True)
def two_languages(db: None, settings: LazySettings, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """English, and a German that knows a few words; a test may teach it more."""
    known = dict(GERMAN)

    def gettext(message: str) -> str:
        return known.get(message, message) if translation.get_language() == "de" else message

    settings.LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
    monkeypatch.setattr(translation, "gettext", gettext)
    return known


def techniques() -> set[str]:
    return set(Technique.objects.values_list("name", flat=True))


def test_the_first_rows_are_said_in_the_new_language_and_back_again() -> None:
    before = techniques()
    first_rows.speak("de")
    assert techniques() == before - {"Puddle pour", "Swipe"} | {"Pfütze", "Wischen"}
    assert Reason.objects.get(code="gift").name == "Geschenk"
    assert Reason.objects.get(code="spilled").name == "Verschüttet oder Flasche gefallen"
    first_rows.speak("en-gb")
    assert techniques() == before
    assert Reason.objects.get(code="gift").name == "Gift"


def test_a_row_that_somebody_renamed_keeps_its_name() -> None:
    mine = Technique.objects.get(name="Puddle pour")
    mine.name, mine.source = "Big puddle", "measured in spring"
    mine.save()
    reason = Reason.objects.get(code="gift")
    reason.name = "Given to friends"
    reason.save()
    first_rows.speak("de")
    mine.refresh_from_db()
    reason.refresh_from_db()
    assert (mine.name, mine.source) == ("Big puddle", "measured in spring")
    assert reason.name == "Given to friends"


def test_a_cause_of_ones_own_is_left_alone_even_with_a_first_rows_name() -> None:
    Reason.objects.filter(code="gift").delete()
    own = Reason.objects.create(code="fair", name="Gift", kind=Reason.Kind.GIFT)
    first_rows.speak("de")
    own.refresh_from_db()
    assert own.name == "Gift"


def test_where_a_usual_figure_comes_from_is_said_in_the_new_language() -> None:
    first_rows.speak("de")
    assert set(Technique.objects.values_list("source", flat=True)) == {"aus dem Gedächtnis"}
    first_rows.speak("en-gb")
    assert set(Technique.objects.values_list("source", flat=True)) == {
        "rule of thumb, replaced by your own pours"
    }


def test_a_name_that_is_taken_stays_and_the_others_change() -> None:
    Technique.objects.create(name="Pfütze", coverage=240, source="my own")
    first_rows.speak("de")
    assert Technique.objects.get(name="Puddle pour").coverage == 220
    assert Technique.objects.get(name="Pfütze").coverage == 240
    assert "Wischen" in techniques()


def test_a_name_that_is_too_long_stays(two_languages: dict[str, str]) -> None:
    two_languages["Puddle pour"] = "P" * 61
    first_rows.speak("de")
    assert {"Puddle pour", "Wischen"} <= techniques()


def test_a_language_without_words_changes_nothing(two_languages: dict[str, str]) -> None:
    two_languages.clear()
    before = techniques()
    first_rows.speak("de")
    assert techniques() == before
    assert not entries().exists()


def test_every_renamed_row_is_on_record_as_changed() -> None:
    first_rows.speak("de")
    changes = field_changes(entries().filter(content_type__model="reason"))
    assert sorted((change.field, change.old, change.new) for change in changes) == [
        ("name", "Gift", "Geschenk"),
        ("name", "Spill or dropped bottle", "Verschüttet oder Flasche gefallen"),
    ]


def test_saying_them_twice_changes_nothing_more() -> None:
    first_rows.speak("de")
    count = entries().count()
    first_rows.speak("de")
    assert entries().count() == count
