"""Pieces: what is sold, made of one pour or several. Money is millionths of the currency unit."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.labels import canvas_label, canvases_label
from inventory.sessions.models import Pour
from studio.auditing.recording import Virtual, audited
from studio.constraints import called, one_of, whole


class PieceState(models.TextChoices):
    WET = "wet", gettext_lazy("Wet")
    DRY = "dry", gettext_lazy("Dry")
    FINISHED = "finished", gettext_lazy("Finished")
    FOR_SALE = "for_sale", gettext_lazy("For sale")
    RESERVED = "reserved", gettext_lazy("Reserved")
    SOLD = "sold", gettext_lazy("Sold")
    KEPT = "kept", gettext_lazy("Kept")
    GIVEN = "given", gettext_lazy("Given away")
    WRITTEN_OFF = "written_off", gettext_lazy("Written off")
    SCRAPED = "scraped", gettext_lazy("Scraped")


# The kinds of badge that states are shown as; the rest are plain notes.
BADGES = {
    PieceState.FOR_SALE: "good",
    PieceState.WET: "wait",
    PieceState.DRY: "wait",
    PieceState.RESERVED: "low",
    PieceState.WRITTEN_OFF: "stop",
    PieceState.SCRAPED: "stop",
}


def _pour_labels(labels: list[str]) -> str:
    return ", ".join(labels)


@audited(
    only=["price", "photo"],
    units={"price": "money", "photo": "file"},
    virtual={"pours": Virtual(gettext_lazy("pours"), _pour_labels)},
)
@called(
    pgettext_lazy("table", "piece"),
    price=pgettext_lazy("column", "price"),
    photo=pgettext_lazy("column", "photo"),
)
class Piece(models.Model):
    title = models.CharField(max_length=160)
    state = models.CharField(max_length=12, choices=PieceState.choices, default=PieceState.WET)
    made_on = models.DateField()
    description = models.TextField(blank=True)
    size_note = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("For a set: 'set of four', 'two panels'.")
    )
    price = models.BigIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text=gettext_lazy("Asking price, tax included."),
    )
    photo = models.ImageField(upload_to="pieces", blank=True)
    thumbnail = models.ImageField(upload_to="thumbnails", blank=True)
    market_value = models.BigIntegerField(
        null=True, blank=True, help_text=gettext_lazy("For a gift or own use: its market value.")
    )

    class Meta:
        ordering = ["-made_on", "-pk"]
        constraints = [one_of("piece", "state", PieceState.values), *whole("piece", "price", "market_value")]

    def __str__(self) -> str:
        return self.title

    @property
    def label(self) -> str:
        """What is written on its back or backs, from the first pour on: P0012, of a set P0012–P0015."""
        return canvases_label(pour.canvas_number for pour in self.pours)

    @property
    def number(self) -> str:
        """The number that names it in short, and alone among unsold pieces: that of its first canvas."""
        return canvas_label(min(pour.canvas_number for pour in self.pours))

    @property
    def pours(self) -> list[Pour]:
        """Its pours, in the order of its parts."""
        return [part.pour for part in self.parts.all()]

    @property
    def technique(self) -> str:
        """The techniques of its pours, each once."""
        return ", ".join(dict.fromkeys(pour.technique.name for pour in self.pours))

    @property
    def is_round(self) -> bool:
        """Whether to draw it round while it has no photo."""
        return all(pour.surface.is_round for pour in self.pours)

    @property
    def badge_kind(self) -> str:
        return BADGES.get(PieceState(self.state), "note")


class PiecePour(models.Model):
    """A pour belongs to at most one piece.

    A piece that is written off or scraped takes its pours along: they count as failed until it is brought back, and
    then again as `outcome_before` says.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="parts")
    pour = models.OneToOneField(Pour, on_delete=models.PROTECT, related_name="piece_part")
    outcome_before = models.CharField(max_length=6, choices=Pour.Outcome.choices, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.piece_id}:{self.pour_id}"


class PieceStep(models.Model):
    """A change of state, by whom and when."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="steps")
    from_state = models.CharField(max_length=12, choices=PieceState.choices, blank=True)
    to_state = models.CharField(max_length=12, choices=PieceState.choices)
    on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.piece_id}: {self.to_state}"


class Labour(KeyedRecord):
    """Minutes worked on one piece after its session. Session minutes stand on the session."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="labour")
    work = models.CharField(max_length=80)
    minutes = models.PositiveIntegerField()
    on = models.DateField()

    class Meta:
        ordering = ["on", "pk"]
        verbose_name_plural = "labour"
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(condition=Q(minutes__gt=0), name="labour_sensible"),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min"
