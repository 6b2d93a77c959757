"""How a lot was counted: kept in English, told in the reader's language."""

import pytest

from inventory.stock.counting import method_in_words


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        ("Counted: 380", "Gezählt: 380"),
        ("Weighed: 594 g less 34 g empty", "Gewogen: 594 g, leer 34 g"),
        ("by eye", "by eye"),
    ],
)
def test_how_a_lot_was_counted_is_told_in_the_readers_language(
    kept: str, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    german = {
        "Counted: {amount}": "Gezählt: {amount}",
        "Weighed: {gross} less {empty} empty": "Gewogen: {gross}, leer {empty}",
    }
    monkeypatch.setattr(
        "studio.translation._translator.gettext", lambda message: german.get(message, message)
    )
    assert method_in_words(kept) == told
