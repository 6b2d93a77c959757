"""Comparisons: pours that differ in one thing on purpose, and how judges scored them.

Scores are thousandths of a point, of the unit of a figure, or of the place of a word in its list (from 0).
"""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.comparisons.calculations import facts
from inventory.comparisons.calculations.counting import Mark, Windows
from inventory.ledger.keyed_records import KeyedRecord
from inventory.sessions.models import Pour, SessionPhoto, Stage
from studio.auditing.recording import audited
from studio.constraints import called, one_of, whole
from studio.translation import _


class VariedChoice(models.TextChoices):
    MEDIUM = facts.Varied.MEDIUM.value, gettext_lazy("Medium")
    RATIO = facts.Varied.RATIO.value, gettext_lazy("Ratio of paint to medium")
    WATER = facts.Varied.WATER.value, gettext_lazy("Water")
    ADDITIVE = facts.Varied.ADDITIVE.value, gettext_lazy("Additive")
    PAINT = facts.Varied.PAINT.value, gettext_lazy("Paint")
    AMOUNT = facts.Varied.AMOUNT.value, gettext_lazy("Amount poured per area")
    TECHNIQUE = facts.Varied.TECHNIQUE.value, gettext_lazy("Technique")
    SURFACE = facts.Varied.SURFACE.value, gettext_lazy("Surface")
    ORDER = facts.Varied.ORDER.value, gettext_lazy("Order of the colours")
    HANDS = facts.Varied.HANDS.value, gettext_lazy("Who poured")
    TOOL = facts.Varied.TOOL.value, gettext_lazy("Tool")
    OTHER = facts.Varied.OTHER.value, gettext_lazy("Something else")


class Judged(models.TextChoices):
    """When the pours are scored."""

    BOTH = "both", gettext_lazy("Wet and again dry")
    WET = "wet", gettext_lazy("Wet only")
    DRY = "dry", gettext_lazy("Dry only")


class ComparisonQuerySet(models.QuerySet["Comparison"]):
    def hiding_arms(self) -> Self:
        """Blind ones whose arms nobody may see yet."""
        return self.filter(is_blind=True, finished_at=None, opened_at=None)


@audited(only=["name", "notes"])
@called(
    pgettext_lazy("table", "comparison"),
    name=pgettext_lazy("column", "name"),
    notes=pgettext_lazy("column", "notes"),
)
class Comparison(KeyedRecord):
    """What is compared, who judges it, and whether they may know which arm they judge.

    Once it is finished no score is added or altered. A blind one shows its arms from then on, or once an owner has
    opened it before, which is recorded.
    """

    name = models.CharField(max_length=120)
    varied = models.CharField(max_length=9, choices=VariedChoice.choices)
    judged = models.CharField(max_length=4, choices=Judged.choices, default=Judged.BOTH)
    is_blind = models.BooleanField(default=False)
    judges = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="+")
    notes = models.TextField(blank=True)
    started_on = models.DateField()
    finished_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text=gettext_lazy("When the arms of a blind one were shown before its end."),
    )
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = ComparisonQuerySet.as_manager()

    class Meta(KeyedRecord.Meta):
        ordering = ["-started_on", "-pk"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            one_of("comparison", "varied", VariedChoice.values),
            one_of("comparison", "judged", Judged.values),
            models.CheckConstraint(
                condition=Q(opened_at__isnull=True, opened_by__isnull=True)
                | Q(opened_at__isnull=False, opened_by__isnull=False, is_blind=True),
                name="comparison_opened_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_finished(self) -> bool:
        return self.finished_at is not None

    @property
    def shows_arms(self) -> bool:
        """Whether those who judge may know which pour is of which arm; `hiding_arms` asks the same of many."""
        return self.is_finished or not self.is_blind or self.opened_at is not None

    @property
    def shown_arms(self) -> list[str]:
        """The names of the arms; none while they are hidden, though they do not say which pour is of which."""
        return [arm.name for arm in self.arms.all()] if self.shows_arms else []

    @property
    def stages(self) -> list[Stage]:
        return [stage for stage in Stage if self.judged in (Judged.BOTH, stage.value)]


class ComparisonArm(models.Model):
    """One of the ways that are compared."""

    comparison = models.ForeignKey(Comparison, on_delete=models.CASCADE, related_name="arms")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["comparison", "number"], name="comparisonarm_number_once"),
            models.UniqueConstraint(fields=["comparison", "name"], name="comparisonarm_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class ComparedPourQuerySet(models.QuerySet["ComparedPour"]):
    def judged(self) -> Self:
        """Those that are not left out, of sessions that have not been reversed."""
        return self.filter(left_out="", pour__session__posting__reversed_by__isnull=True)


class ComparedPour(models.Model):
    """One pour of an arm. `left_out` says why it is not judged, such as "dropped"; it stays listed.

    The codes hide the arm while judges score; `wet_turn` and `dry_turn` are the order in which they do.
    """

    comparison = models.ForeignKey(Comparison, on_delete=models.CASCADE, related_name="pours")
    arm = models.ForeignKey(ComparisonArm, on_delete=models.CASCADE, related_name="pours")
    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="compared")
    hands = models.CharField(max_length=60, blank=True, help_text=gettext_lazy("Who poured it."))
    colour_order = models.CharField(
        max_length=120, blank=True, help_text=gettext_lazy("In which order the colours were poured.")
    )
    poured_at = models.TimeField(null=True, blank=True, help_text=gettext_lazy("At what time it was poured."))
    left_out = models.CharField(max_length=120, blank=True)
    wet_code = models.CharField(max_length=2, blank=True)
    dry_code = models.CharField(max_length=2, blank=True)
    wet_turn = models.PositiveSmallIntegerField(default=0)
    dry_turn = models.PositiveSmallIntegerField(default=0)

    objects = ComparedPourQuerySet.as_manager()

    class Meta:
        ordering = ["pour__session__held_on", "pour__session", "pour__number"]
        constraints = [
            models.UniqueConstraint(fields=["comparison", "pour"], name="comparedpour_once"),
            models.UniqueConstraint(
                fields=["comparison", "wet_code"],
                condition=~Q(wet_code=""),
                name="comparedpour_wet_code_once",
            ),
            models.UniqueConstraint(
                fields=["comparison", "dry_code"],
                condition=~Q(dry_code=""),
                name="comparedpour_dry_code_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.comparison_id}:{self.pour_id}"

    @property
    def why_left_out(self) -> str:
        """Why it is not judged; empty where it is."""
        is_reversed = hasattr(self.pour.session.posting, "reversed_by")
        return self.left_out or (_("its session was reversed") if is_reversed else "")

    def code(self, stage: str) -> str:
        return self.wet_code if stage == Stage.WET else self.dry_code

    def name(self, stage: str) -> str:
        """What it goes by while it is scored."""
        return self.code(stage) if self.comparison.is_blind else self.pour.label

    def turn(self, stage: str) -> int:
        return self.wet_turn if stage == Stage.WET else self.dry_turn


class Scale(models.TextChoices):
    POINTS = "points", gettext_lazy("Points, halves allowed")
    WORDS = "words", gettext_lazy("Words of your own, from worst to best")
    FIGURE = "figure", gettext_lazy("A figure that you type")
    COUNTED = "counted", gettext_lazy("Counted on a photo, per 100 cm²")
    SIZE = "size", gettext_lazy("Measured on a photo: median diameter in mm")
    OUTCOME = "outcome", gettext_lazy("How the pour turned out: good or not")


ON_PHOTO = {Scale.COUNTED: gettext_lazy("per 100 cm²"), Scale.SIZE: gettext_lazy("mm")}  # with their units
FIGURES = (Scale.FIGURE, *ON_PHOTO)


class Criterion(models.Model):
    """What the pours are judged by. `margin` is the difference that would matter, in thousandths like the scores."""

    comparison = models.ForeignKey(Comparison, on_delete=models.CASCADE, related_name="criteria")
    number = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    scale = models.CharField(max_length=7, choices=Scale.choices)
    lowest = models.BigIntegerField(default=0)
    highest = models.BigIntegerField(default=10_000)
    words = models.TextField(blank=True, help_text=gettext_lazy("One word a line, from worst to best."))
    unit = models.CharField(max_length=20, blank=True)
    low_is_better = models.BooleanField(default=False)
    margin = models.BigIntegerField(default=1000)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "criteria"
        constraints = [
            models.UniqueConstraint(fields=["comparison", "number"], name="criterion_number_once"),
            models.UniqueConstraint(fields=["comparison", "name"], name="criterion_name_once"),
            models.CheckConstraint(
                condition=Q(margin__gt=0, lowest__lt=F("highest")), name="criterion_sensible"
            ),
            one_of("criterion", "scale", Scale.values),
            *whole("criterion", "lowest", "highest", "margin"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def word_list(self) -> list[str]:
        return [word.strip() for word in self.words.splitlines() if word.strip()]

    @property
    def is_scored(self) -> bool:
        """Whether judges score it; how a pour turned out is known from its own record."""
        return self.scale != Scale.OUTCOME

    @property
    def is_on_photo(self) -> bool:
        return self.scale in ON_PHOTO

    @property
    def measured_in(self) -> str:
        """The unit of a figure, if it has one."""
        return str(ON_PHOTO[Scale(self.scale)]) if self.is_on_photo else self.unit

    @property
    def choices(self) -> list[tuple[int, str]]:
        """The scores there are, where they are few: words, or points by halves."""
        if self.scale == Scale.WORDS:
            return [(1000 * place, word) for place, word in enumerate(self.word_list)]
        if self.scale == Scale.POINTS:
            return [(value, str(value // 1000)) for value in range(self.lowest, self.highest + 1, 500)]
        return []


class PhotoCount(models.Model):
    """One judge's count on one photo of one pour: the photo straightened, four windows on it, drawn by lot.

    `corners` are pixels of the photo; of a round piece the ends of two diameters. Lengths are thousandths of a
    centimetre. The windows were drawn among `squares`; the first count's seed serves every later one of the same
    piece, judge, stage and criterion, so that nobody draws until the windows please. Once finished it is a score.
    """

    pour = models.ForeignKey(ComparedPour, on_delete=models.CASCADE, related_name="photo_counts")
    criterion = models.ForeignKey(Criterion, on_delete=models.CASCADE, related_name="photo_counts")
    stage = models.CharField(max_length=3, choices=Stage.choices)
    judge = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    photo = models.ForeignKey(SessionPhoto, on_delete=models.PROTECT, related_name="counts")
    corners = models.JSONField()
    height = models.BigIntegerField()
    width = models.BigIntegerField()
    is_round = models.BooleanField(default=False)
    seed = models.BigIntegerField()
    squares = models.PositiveSmallIntegerField()
    side = models.BigIntegerField()
    places = models.JSONField()
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(height__gt=0, width__gt=0, side__gt=0, squares__gt=0), name="photocount_sensible"
            ),
            one_of("photocount", "stage", Stage.values),
            *whole("photocount", "height", "width", "side", "seed"),
        ]

    def __str__(self) -> str:
        return _("Count {number}", number=self.pk)

    @property
    def windows(self) -> Windows:
        return Windows(self.side, self.squares, tuple((left, top) for left, top in self.places))

    @property
    def found(self) -> list[Mark]:
        return [mark.as_mark for mark in self.marks.all()]


class PhotoMark(models.Model):
    """Something counted: a point on the straightened piece, or a line across it. `key` names one sending of it."""

    count = models.ForeignKey(PhotoCount, on_delete=models.CASCADE, related_name="marks")
    key = models.CharField(max_length=36)
    x = models.BigIntegerField()
    y = models.BigIntegerField()
    x2 = models.BigIntegerField(null=True, blank=True)
    y2 = models.BigIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["count", "key"], name="photomark_once"),
            models.CheckConstraint(
                condition=Q(x2__isnull=True, y2__isnull=True) | Q(x2__isnull=False, y2__isnull=False),
                name="photomark_point_or_line",
            ),
            *whole("photomark", "x", "y", "x2", "y2"),
        ]

    def __str__(self) -> str:
        return _("Mark {number}", number=self.pk)

    @property
    def as_mark(self) -> Mark:
        return Mark(self.x, self.y, self.x2, self.y2)

    @property
    def path(self) -> str:
        """The same as the data of an SVG path: a dot, or a line."""
        return f"M{self.x} {self.y}" + ("h0" if self.x2 is None else f"L{self.x2} {self.y2}")


class Score(models.Model):
    """One judge's score of one pour by one criterion, wet or dry. The latest one counts; earlier ones stay.

    `photo_count` is what it was counted or measured in; None where it was tapped or typed.
    """

    pour = models.ForeignKey(ComparedPour, on_delete=models.PROTECT, related_name="scores")
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="scores")
    stage = models.CharField(max_length=3, choices=Stage.choices)
    judge = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    value = models.BigIntegerField()
    photo_count = models.OneToOneField(
        "PhotoCount", on_delete=models.PROTECT, null=True, blank=True, related_name="score"
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [one_of("score", "stage", Stage.values), *whole("score", "value")]
        indexes = [models.Index(fields=["pour", "criterion", "stage", "judge"])]

    def __str__(self) -> str:
        return _("Score {number}", number=self.pk)
