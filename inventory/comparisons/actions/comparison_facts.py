"""A comparison as it is asked for: its arms, criteria and judges, checked before anything is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

from inventory.comparisons.models import Judged, Scale, VariedChoice
from inventory.sessions.models import Pour
from studio.accounts.models import User
from studio.constraints import LARGEST
from studio.errors import InputError, refuse_all
from studio.translation import _

MOST_ARMS = 40
MOST_CRITERIA = 12
MOST_CHOICES = 41  # of points by halves: 0 to 20
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class ArmFacts:
    """One of the ways that are compared, and those of its pours that are there already."""

    name: str
    pours: Sequence[Pour] = ()


@dataclass(frozen=True, slots=True)
class CriterionFacts:
    """What is judged. Lowest, highest and margin are thousandths. Raises InputError naming the field."""

    name: str
    scale: str = Scale.POINTS
    lowest: int = 0
    highest: int = 10_000
    words: Sequence[str] = ()
    unit: str = ""
    low_is_better: bool = False
    margin: int | None = None  # the usual one of its scale

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > LONGEST_NAME:
            raise InputError(
                _("Give the criterion a name of up to {n} letters.", n=LONGEST_NAME), field="name"
            )
        if self.scale not in Scale.values:
            raise InputError(_("Choose how it is scored."), field="scale")
        if self.scale == Scale.POINTS:
            self._refuse_points()
        if self.scale == Scale.WORDS and not 2 <= len(set(self.words)) == len(self.words) <= MOST_CHOICES:
            raise InputError(
                _("Enter two or more different words, one a line, from worst to best."), field="words"
            )
        if not 0 < self.least_difference <= LARGEST:
            raise InputError(_("The difference that matters must be above zero."), field="margin")

    @property
    def least_difference(self) -> int:
        """The difference that matters, as it is kept: own choice where she gives none."""
        if self.margin is None:
            return 10_000 if self.scale == Scale.COUNTED else 1_000
        return self.margin

    def _refuse_points(self) -> None:
        if self.lowest % 500 or self.highest % 500 or self.lowest >= self.highest:
            raise InputError(
                _("Points run from a lower to a higher number, by whole or half points."), field="highest"
            )
        if (self.highest - self.lowest) // 500 >= MOST_CHOICES:
            most = (MOST_CHOICES - 1) // 2
            raise InputError(_("Points may span {most} at most.", most=most), field="highest")


@dataclass(frozen=True, slots=True)
class ComparisonFacts:
    """What varies on purpose, its arms, the criteria and who judges. Raises InputError with all that is wrong."""

    name: str
    varied: str
    arms: Sequence[ArmFacts]
    criteria: Sequence[CriterionFacts]
    judges: Sequence[User] = ()
    judged: str = Judged.BOTH
    is_blind: bool = False
    notes: str = ""

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> list[InputError]:
        problems = [
            InputError(message, field=field)
            for is_wrong, message, field in (
                (not self.name.strip(), _("Give the comparison a name."), "name"),
                (self.varied not in VariedChoice.values, _("Choose what differs on purpose."), "varied"),
                (self.judged not in Judged.values, _("Choose when the pours are judged."), "judged"),
                (not 2 <= len(self.arms) <= MOST_ARMS, self._arm_count(), "arms"),
                (
                    not 1 <= len(self.criteria) <= MOST_CRITERIA,
                    _("Add from one to {most} criteria.", most=MOST_CRITERIA),
                    "criteria",
                ),
                (self._needs_judges, _("Choose at least one judge."), "judges"),
                (
                    any(not (judge.may_write and judge.is_active) for judge in self.judges),
                    _("A judge must be somebody who may save. Choose another."),
                    "judges",
                ),
            )
            if is_wrong
        ]
        problems += _repeated([arm.name for arm in self.arms], "arms", _("Give each arm a different name."))
        names = [criterion.name for criterion in self.criteria]
        problems += _repeated(names, "criteria", _("Give each criterion a different name."))
        return problems + self._about_pours()

    @property
    def _needs_judges(self) -> bool:
        return not self.judges and any(each.scale != Scale.OUTCOME for each in self.criteria)

    @staticmethod
    def _arm_count() -> str:
        return _("Name from two to {most} arms, one a line.", most=MOST_ARMS)

    def _about_pours(self) -> list[InputError]:
        pours = list(chain.from_iterable(arm.pours for arm in self.arms))
        problems = []
        if len({pour.pk for pour in pours}) < len(pours):
            problems.append(InputError(_("A pour can be in one arm only."), field="arms"))
        gone = [pour for pour in pours if hasattr(pour.session.posting, "reversed_by")]
        if gone:
            problems.append(InputError(reversed_refusal(gone), field="arms"))
        return problems


def reversed_refusal(pours: Sequence[Pour]) -> str:
    labels = ", ".join(pour.label for pour in pours)
    return _("{pours}: the session was reversed. Choose other pours.", pours=labels)


def _repeated(names: Sequence[str], field: str, message: str) -> list[InputError]:
    plain = [name.strip().casefold() for name in names]
    if len(set(plain)) == len(plain) and all(plain) and all(len(name) <= LONGEST_NAME for name in names):
        return []
    return [InputError(message, field=field)]
