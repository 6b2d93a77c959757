"""Results ready to be shown: every figure in words, for the page and the report alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from inventory.comparisons.calculations.likeness import Difference
from inventory.comparisons.queries.progress import altered_scores
from inventory.comparisons.queries.results import Measured, Results
from inventory.comparisons.queries.wording import (
    Statement,
    agreement_words,
    altered_words,
    difference_words,
    fairness_words,
    missing_words,
    plan_words,
    score_words,
    session_words,
    statements_of,
)
from studio.preferences.formatting import Formatter


@dataclass(frozen=True)
class ShownResults:
    """One comparison's results, worded by a formatter."""

    results: Results
    formatter: Formatter

    @property
    def arms(self) -> list[str]:
        return [arm.arm.name for arm in self.results.arms]

    @property
    def fairness(self) -> str:
        return fairness_words(self.results.likeness)

    @property
    def is_fair(self) -> bool:
        return self.results.is_fair

    @property
    def missing(self) -> str:
        return missing_words(self.results.likeness)

    @property
    def plan(self) -> str:
        return plan_words(self.results)

    @cached_property
    def statements(self) -> list[Statement]:
        return statements_of(self.results, self.formatter)

    @property
    def waiting(self) -> list[str]:
        """Criteria that cannot be judged yet: a score is missing."""
        return [measured.label for measured in self.results.waiting]

    @property
    def other(self) -> list[str]:
        return self._differences(self.results.likeness.other)

    @property
    def notes(self) -> list[str]:
        return self._differences(self.results.likeness.notes)

    def _differences(self, differences: Sequence[Difference]) -> list[str]:
        names = {number: arm.arm.name for number, arm in enumerate(self.results.arms)}
        return [difference_words(each, names, self.formatter) for each in differences]

    @property
    def left_out(self) -> list[tuple[str, str]]:
        """Pours that are not judged, and why."""
        return [(each.pour.label, each.why_left_out) for each in self.results.left_out]

    @property
    def other_sessions(self) -> str:
        """Sessions that do not hold every arm, whose pours are not compared."""
        return session_words(self.results, self.formatter)

    @property
    def labelled_scores(self) -> list[tuple[Measured, list[tuple[str, str]]]]:
        """The same, each score with the name of its arm."""
        return [(measured, list(zip(self.arms, scores, strict=True))) for measured, scores in self.score_rows]

    @property
    def score_rows(self) -> list[tuple[Measured, list[str]]]:
        """By criterion and stage, each arm's mean score."""
        return [
            (measured, [score_words(arm.means[place], measured, self.formatter) for arm in self.results.arms])
            for place, measured in enumerate(self.results.measures)
        ]

    @cached_property
    def altered(self) -> list[str]:
        """Every score that replaced another one: which, from what to what, by whom."""
        return [altered_words(*pair, self.formatter) for pair in altered_scores(self.results.comparison)]

    @property
    def agreements(self) -> list[str]:
        return [
            agreement_words(measured, agreed, self.formatter) for measured, agreed in self.results.agreements
        ]
