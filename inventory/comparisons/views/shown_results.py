"""Results ready to be shown: every figure in words, for the page and the report alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from inventory.comparisons.calculations.likeness import Difference
from inventory.comparisons.models import PhotoCount
from inventory.comparisons.queries.on_record import on_record
from inventory.comparisons.queries.progress import altered_scores
from inventory.comparisons.queries.results import Measured, Results
from inventory.comparisons.queries.wording import (
    Statement,
    agreement_words,
    altered_words,
    arm_count_words,
    count_words,
    difference_words,
    fairness_words,
    missing_words,
    number,
    opened_words,
    plan_words,
    score_words,
    session_words,
    size_words,
    statements_of,
)
from studio.preferences.formatting import Formatter
from studio.translation import _


@dataclass(frozen=True, slots=True)
class CountedRow:
    """One count in words."""

    count: PhotoCount
    label: str
    piece: str
    outcome: str


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
    def opened(self) -> str:
        return opened_words(self.results.comparison, self.formatter)

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
    def on_record(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """What is on record, fact by fact: each arm's name and words; once, where all arms are alike."""
        rows = on_record(self.results.records, len(self.arms), self.formatter)
        return [
            (
                label,
                [(_("All arms"), cells[0])]
                if len(set(cells)) == 1
                else list(zip(self.arms, cells, strict=True)),
            )
            for label, cells in rows
        ]

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
        """By criterion and stage, each arm's mean score; what was counted on photos has a table of its own."""
        counted = {(each.criterion.pk, each.stage) for each in self.results.counted}
        return [
            (measured, [score_words(arm.means[place], measured, self.formatter) for arm in self.results.arms])
            for place, measured in enumerate(self.results.measures)
            if (measured.criterion.pk, measured.stage) not in counted
        ]

    @property
    def counted(self) -> list[tuple[str, list[tuple[str, str, str]]]]:
        """What was counted on photos: by criterion and stage, each arm's name, mean with its error, and sizes."""
        rows = []
        for counted in self.results.counted:
            measured = Measured(counted.criterion, counted.stage)
            means = self._means_of(measured)
            cells = [
                (name, arm_count_words(arm, mean, self.formatter), size_words(arm.sizes, self.formatter))
                for name, arm, mean in zip(self.arms, counted.arms, means, strict=True)
            ]
            rows.append((f"{measured.label} ({counted.criterion.measured_in})", cells))
        return rows

    def _means_of(self, measured: Measured) -> list[Fraction | None]:
        place = next(
            place
            for place, each in enumerate(self.results.measures)
            if (each.criterion.pk, each.stage) == (measured.criterion.pk, measured.stage)
        )
        return [arm.means[place] for arm in self.results.arms]

    @property
    def counted_pieces(self) -> list[CountedRow]:
        """Every count that stands as a score."""
        return [
            CountedRow(
                piece.outcome.count,
                Measured(counted.criterion, counted.stage).label,
                piece.compared.pour.label,
                count_words(piece.outcome, self.formatter),
            )
            for counted in self.results.counted
            for arm in counted.arms
            for piece in arm.pieces
        ]

    @property
    def in_short(self) -> list[list[str]]:
        """A row for each criterion and stage, below one of headings: each arm's figure, what they show, the judges.

        What two arms show has a column; of more arms every pair is told apart, in `statements`.
        """
        has_two, agreed = len(self.arms) == 2, self._agreed
        rows = [["", *self.arms]]
        rows[0] += [_("Better")] if has_two else []
        rows[0] += [_("Judges agree")] if agreed else []
        better = {each.label: each.in_short for each in self.statements}
        for label, figures in self._figures:
            row = [label, *figures]
            row += [better.get(label, "")] if has_two else []
            row += [agreed.get(label, "")] if agreed else []
            rows.append(row)
        return rows

    @property
    def _figures(self) -> list[tuple[str, list[str]]]:
        counted = {(each.criterion.pk, each.stage): each for each in self.results.counted}
        rows = []
        for place, measured in enumerate(self.results.measures):
            means = [arm.means[place] for arm in self.results.arms]
            found = counted.get((measured.criterion.pk, measured.stage)) if measured.stage else None
            if found is None:
                words = [score_words(mean, measured, self.formatter) for mean in means]
            else:
                words = [
                    arm_count_words(arm, mean, self.formatter)
                    for arm, mean in zip(found.arms, means, strict=True)
                ]
            rows.append((measured.label, words))
        return rows

    @property
    def _agreed(self) -> dict[str, str]:
        """By criterion and stage, how far the judges agree: W."""
        return {
            measured.label: number(agreed.w, self.formatter) for measured, agreed in self.results.agreements
        }

    @cached_property
    def altered(self) -> list[str]:
        """Every score that replaced another one: which, from what to what, by whom."""
        return [altered_words(*pair, self.formatter) for pair in altered_scores(self.results.comparison)]

    @property
    def agreements(self) -> list[str]:
        return [
            agreement_words(measured, agreed, self.formatter) for measured, agreed in self.results.agreements
        ]
