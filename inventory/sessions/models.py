"""Techniques, sessions, pours and their photos. Quantities are whole thousandths of the base unit."""

from dataclasses import fields
from typing import Self

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import OuterRef, Q, Subquery, Sum
from django.utils.translation import gettext_lazy

from inventory.ledger.labels import canvas_label, pour_label, read_canvas_label
from inventory.ledger.models import Entry, Place, Posting, PostingKind
from inventory.materials.models import Material
from inventory.recipes.models import NotStruckManager, StandingQuerySet
from inventory.sessions.weighing import Balance, Readings, balance
from studio.auditing.recording import audited
from studio.constraints import one_of, whole
from studio.translation import _


@audited(units={"coverage": "mL/cm²"})
class Technique(models.Model):
    """A way of pouring, with the paint it usually takes until the studio's own history says better."""

    name = models.CharField(max_length=60, unique=True)
    coverage = models.BigIntegerField(
        validators=[MinValueValidator(1)],
        help_text="Paint poured per surface area, run-off included: microlitres per cm².",
    )
    source = models.CharField(
        max_length=120,
        default="rule of thumb, replaced by your own pours",
        help_text="Where the figure comes from.",
    )
    learn_from = models.DateField(
        null=True,
        blank=True,
        help_text=gettext_lazy("Only pours from this day on speak for the paint it takes; empty for all."),
    )
    is_favourite = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = whole("technique", "coverage")

    def __str__(self) -> str:
        return self.name


class PourQuerySet(models.QuerySet["Pour"]):
    def standing(self) -> Self:
        """Pours of sessions that have not been reversed."""
        return self.filter(session__posting__reversed_by__isnull=True)

    def poured_here(self) -> Self:
        """Pours of sessions: without finished pieces that were brought in, which tell nothing of how she pours."""
        return self.exclude(session__posting__kind=PostingKind.OPENING)

    def with_thrown_away(self) -> Self:
        """Annotate `thrown_away_by`: the number of the posting by which a failed pour was thrown away, if it was."""
        left = Entry.objects.filter(
            pour=OuterRef("pk"),
            place=Place.WORK,
            quantity__lt=0,
            posting__kind=PostingKind.POUR_WRITE_OFF,
            posting__reversed_by__isnull=True,
        )
        return self.annotate(thrown_away_by=Subquery(left.values("posting")[:1]))

    def on_canvas(self, text: str) -> Self:
        """Pours on the canvas with this number on its back, the first pour or one over it; none for other words."""
        read = read_canvas_label(text)
        if read is None:
            return self.none()
        pours = self.filter(Q(pk=read.canvas, canvas=None) | Q(canvas=read.canvas))
        return pours if read.layer is None else pours.filter(layer=read.layer)

    def in_work(self) -> Self:
        """Pours that hold something in unsold work."""
        held = Sum("entries__quantity", filter=Q(entries__place=Place.WORK))
        return self.alias(held_in_work=held).filter(held_in_work__gt=0)


class HeldManager(models.Manager["Session"]):
    """Sessions that were held here: without those that stand for finished pieces from before the books."""

    def get_queryset(self) -> models.QuerySet["Session"]:
        return super().get_queryset().exclude(posting__kind=PostingKind.OPENING)


@audited(only=["title", "minutes", "temperature", "humidity", "notes", "set_name"])
class Session(models.Model):
    """A day's pouring; or, under an opening posting, what stands for finished pieces that were brought in."""

    held_on = models.DateField()
    title = models.CharField(max_length=120, blank=True)
    minutes = models.PositiveIntegerField(default=0)
    temperature = models.SmallIntegerField(null=True, blank=True, help_text="°C")
    humidity = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=gettext_lazy("% relative humidity")
    )
    notes = models.TextField(blank=True)
    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="session")
    set_name = models.CharField(
        max_length=60,
        blank=True,
        help_text=gettext_lazy("Under this name its cups and surfaces are offered to be poured again."),
    )

    objects = HeldManager.from_queryset(StandingQuerySet)()
    with_brought_in = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["-held_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["set_name"], condition=~Q(set_name=""), name="session_set_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.title or _("Session {number}", number=self.pk)


class Stage(models.TextChoices):
    """When a pour is judged or photographed: its colours sink and its film may craze as it dries."""

    WET = "wet", gettext_lazy("Wet")
    DRY = "dry", gettext_lazy("Dry")


class PourOutcome(models.TextChoices):
    OPEN = "open", gettext_lazy("Not judged yet")
    GOOD = "good", gettext_lazy("Good")
    SECOND = "second", gettext_lazy("Second")
    FAILED = "failed", gettext_lazy("Failed")


@audited(
    only=["surface", "technique", "area", "poured", "run_off", "outcome", "arm", "notes"],
    units={"area": "area", "poured": "volume", "run_off": "volume"},
)
class Pour(models.Model):
    """One surface poured in a session.

    `run_off` (thousandths of a mL) is part of what was poured, recorded beside it.
    """

    Outcome = PourOutcome
    thrown_away_by: int | None = None  # read with `with_thrown_away`

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="pours")
    number = models.PositiveSmallIntegerField()
    surface = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="pours")
    over = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="poured_over_by",
        help_text=gettext_lazy("The failed pour this one was poured over: the surface is charged once."),
    )
    canvas = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text=gettext_lazy(
            "The first pour on this canvas, whose number is on its back; empty for that one."
        ),
    )
    layer = models.PositiveSmallIntegerField(default=1)
    technique = models.ForeignKey(Technique, on_delete=models.PROTECT, related_name="pours")
    area = models.BigIntegerField(help_text=gettext_lazy("Surface area poured, in thousandths of a cm²."))
    poured = models.BigIntegerField(
        help_text=gettext_lazy("Paint poured, run-off included, in thousandths of a mL.")
    )
    run_off = models.BigIntegerField(null=True, blank=True)
    outcome = models.CharField(max_length=6, choices=Outcome.choices, default=Outcome.OPEN)
    arm = models.CharField(
        max_length=60,
        blank=True,
        help_text=gettext_lazy("In a comparison: what is different about this pour."),
    )
    notes = models.TextField(blank=True)

    struck_by = models.ForeignKey(
        Posting,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text=gettext_lazy("The correction that struck it out: it never happened."),
    )

    objects = NotStruckManager.from_queryset(PourQuerySet)()
    with_struck = PourQuerySet.as_manager()

    class Meta:
        ordering = ["-session__held_on", "session", "number"]
        constraints = [
            models.UniqueConstraint(fields=["session", "number"], name="pour_number_once"),
            models.UniqueConstraint(fields=["canvas", "layer"], name="pour_layer_once"),
            models.CheckConstraint(
                condition=Q(over=None, canvas=None, layer=1)
                | Q(over__isnull=False, canvas__isnull=False, layer__gt=1),
                name="pour_layer_over_another",
            ),
            models.CheckConstraint(condition=Q(area__gt=0, poured__gte=0), name="pour_sensible"),
            models.CheckConstraint(
                condition=Q(run_off__isnull=True) | Q(run_off__gte=0, run_off__lte=models.F("poured")),
                name="pour_run_off_is_part",
            ),
            one_of("pour", "outcome", PourOutcome.values),
            *whole("pour", "area", "poured", "run_off"),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def canvas_number(self) -> int:
        """The number of its first pour."""
        return self.canvas_id or self.pk

    @property
    def canvas_label(self) -> str:
        """What is written on the back of the wet surface, and stays there."""
        return canvas_label(self.canvas_number)

    @property
    def label(self) -> str:
        """The canvas's number; of a pour over another, with its layer."""
        return pour_label(self.canvas_number, self.layer)


@audited()
class Flaw(models.Model):
    """What can go wrong with a pour, in the studio's own words: muddied, crazed, dust …"""

    name = models.CharField(max_length=60, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PourJudgement(models.Model):
    """How a pour was judged, wet or dry, and what was wrong with it. The latest of a stage counts; all stay."""

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="judgements")
    stage = models.CharField(max_length=3, choices=Stage.choices)
    outcome = models.CharField(max_length=6, choices=PourOutcome.choices)
    flaws = models.ManyToManyField(Flaw, related_name="judgements", through="JudgedFlaw")
    notes = models.CharField(max_length=300, blank=True)
    judged_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            one_of("pourjudgement", "stage", Stage.values),
            one_of("pourjudgement", "outcome", [each for each in PourOutcome.values if each != "open"]),
        ]

    def __str__(self) -> str:
        return _("Judgement {number}", number=self.pk)

    @property
    def flaw_names(self) -> list[str]:
        return sorted(each.flaw.name for each in self.judged_flaws.all())


class JudgedFlaw(models.Model):
    """One flaw that a judgement names."""

    judgement = models.ForeignKey(PourJudgement, on_delete=models.PROTECT, related_name="judged_flaws")
    flaw = models.ForeignKey(Flaw, on_delete=models.PROTECT, related_name="judged")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["judgement", "flaw"], name="judgedflaw_once")]

    def __str__(self) -> str:
        return f"{self.judgement_id}:{self.flaw_id}"


def _in_turn(before: str, after: str) -> Q:
    """Both readings, the second no less than the first; or neither."""
    neither = Q(**{f"{before}__isnull": True, f"{after}__isnull": True})
    both = Q(**{f"{before}__isnull": False, f"{after}__isnull": False})
    return neither | both & Q(**{f"{before}__gte": 0, f"{after}__gte": models.F(before)})


class Weighing(models.Model):
    """What the scale showed for some pours of a session together, in milligrams; kept as it was read.

    Cups lose what is poured; the tray and the surfaces gain it. `drips` were caught beside the tray or wiped off.
    """

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="weighings")
    pours = models.ManyToManyField(Pour, related_name="weighings")
    scale_step = models.BigIntegerField(help_text=gettext_lazy("What the scale can tell apart."))
    cups_before = models.BigIntegerField(null=True, blank=True)
    cups_after = models.BigIntegerField(null=True, blank=True)
    tray_before = models.BigIntegerField(null=True, blank=True)
    tray_after = models.BigIntegerField(null=True, blank=True)
    surfaces_before = models.BigIntegerField(null=True, blank=True)
    surfaces_after = models.BigIntegerField(null=True, blank=True)
    drips = models.BigIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text=gettext_lazy("From the first reading to the last.")
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(scale_step__gt=0)
                & (Q(drips__isnull=True) | Q(drips__gte=0))
                & _in_turn("cups_after", "cups_before")
                & _in_turn("tray_before", "tray_after")
                & _in_turn("surfaces_before", "surfaces_after"),
                name="weighing_sensible",
            ),
            *whole(
                "weighing",
                "scale_step",
                "cups_before",
                "cups_after",
                "tray_before",
                "tray_after",
                "surfaces_before",
                "surfaces_after",
                "drips",
            ),
        ]

    def __str__(self) -> str:
        return _("Weighing {number}", number=self.pk)

    @property
    def readings(self) -> Readings:
        return Readings(**{each.name: getattr(self, each.name) for each in fields(Readings)})

    @property
    def balance(self) -> Balance | None:
        """How it closes over the area of its pours; None unless cups and tray were weighed."""
        return balance(self.readings, sum(pour.area for pour in self.pours.all()))


class SessionPhoto(models.Model):
    """A photo of a session: of the pours that it names, or of the whole table. Kept as JPEG, under a random name."""

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="photos")
    pours = models.ManyToManyField(Pour, related_name="photos", blank=True)
    photo = models.ImageField(upload_to="sessions")
    thumbnail = models.ImageField(upload_to="sessions/thumbnails")
    digest = models.CharField(
        max_length=64,
        help_text=gettext_lazy("SHA-256 of the file as it was sent: the same file is kept once."),
    )
    stage = models.CharField(max_length=3, choices=Stage.choices, default=Stage.WET)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "digest"], name="sessionphoto_once_a_session"),
            one_of("sessionphoto", "stage", Stage.values),
        ]

    def __str__(self) -> str:
        return _("Photo {number}", number=self.pk)

    @property
    def labels(self) -> str:
        """The pours that it shows; nothing for the whole table."""
        return ", ".join(pour.label for pour in self.pours.all())
