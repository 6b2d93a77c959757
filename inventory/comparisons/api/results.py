"""What a comparison shows a program: its arms and findings, or nothing of them while it is blind."""

from typing import Any

from inventory.comparisons.models import Comparison
from inventory.comparisons.queries.results import ArmResult, results_of
from inventory.comparisons.queries.wording import (
    difference_words,
    fairness_words,
    missing_words,
    score_words,
    statements_of,
)
from studio.preferences.formatting import Formatter


def hidden_results(row: Comparison) -> dict[str, Any]:
    """A blind comparison that is still being scored numbers its arms as they were sent, and no more."""
    nothing = dict.fromkeys(
        ("pours", "good", "failed", "run_off_share", "minutes_each", "cost_per_good_pour")
    )
    return {
        "arms": [{"id": arm.pk, "name": "", "scores": {}, **nothing} for arm in row.arms.all()],
        "fairness": None,
        "fairness_text": "",
        "differences": [],
        "statements": [],
    }


def shown_results(row: Comparison, formatter: Formatter) -> dict[str, Any]:
    results = results_of(row)
    names = {number: arm.arm.name for number, arm in enumerate(results.arms)}
    missing = missing_words(results.likeness)

    def arm(result: ArmResult) -> dict[str, Any]:
        scores = {
            measured.label: score_words(mean, measured, formatter)
            for measured, mean in zip(results.measures, result.means, strict=True)
        }
        return {
            "id": result.arm.pk,
            "name": result.arm.name,
            "pours": len(result.pours),
            "good": result.good,
            "failed": len(result.failed),
            "run_off_share": result.run_off_share,
            "minutes_each": result.minutes_each,
            "cost_per_good_pour": result.cost_per_good_pour,
            "scores": scores,
        }

    return {
        "arms": [arm(result) for result in results.arms],
        "fairness": results.likeness.fairness.value,
        "fairness_text": f"{fairness_words(results.likeness)} {missing}".strip(),
        "differences": [difference_words(each, names, formatter) for each in results.likeness.other],
        "statements": [
            {"criterion": each.label, "finding": each.finding, "text": each.text}
            for each in statements_of(results, formatter)
        ],
    }
