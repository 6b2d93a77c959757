"""What is on record of the compared pours, side by side."""

from datetime import time

import pytest

from inventory.comparisons.actions.comparisons import Placement, place_pours
from inventory.comparisons.calculations.facts import Fact
from inventory.comparisons.queries.on_record import on_record
from inventory.comparisons.queries.results import results_of
from inventory.recipes.models import Mix
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.inventory.comparisons.boards import Boards, make_comparison
from tests.making import make_submission


@pytest.mark.django_db
def test_what_is_on_record_is_shown_arm_by_arm_and_what_is_not_is_said() -> None:
    comparison = make_comparison(Boards().pour(2))
    formatter = Formatter.of(Studio.current())

    def rows() -> dict[str, list[str]]:
        return dict(on_record(results_of(comparison).records, 2, formatter))

    before = rows()
    assert before["Who poured"] == before["Time of day"] == ["not recorded"] * 2
    assert before["Temperature"] == ["20 °C"] * 2
    assert "2 Loft glue" in before["Cups, parts per 1 of paint"][0]
    Mix.objects.update(consistency="ISO 4 mm, 60 s, 23 °C")
    compared = comparison.pours.select_related("arm", "pour__session__posting").order_by("pour")
    place_pours(
        comparison=comparison,
        placements=[
            Placement(each.arm, each.pour, "Ida", poured_at=time(9 + 4 * (each.arm.number - 1), 30))
            for each in compared
        ],
        submission=make_submission(),
    )
    after = rows()
    assert after["Time of day"] == ["09:30", "13:30"]
    assert after["Consistency"][0].startswith("ISO 4 mm, 60 s, 23 °C (about 79 mm²/s")
    notes = [difference.fact for difference in results_of(comparison).likeness.notes]
    assert notes == [Fact.TIME], "hours apart is worth knowing"
