"""Pieces: what is sold, made of one pour or several. Money is millionths of the currency unit."""

from collections.abc import Sequence

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.labels import canvas_label, canvases_label
from inventory.sessions.models import Pour
from studio.auditing.recording import Virtual, audited
from studio.constraints import called, one_of, whole
from studio.preferences.formatting import Formatter
from studio.translation import _

FIRST_YEAR, LAST_YEAR = 1900, 2999
HIGHEST_NUMBER = 9_999
# What is said of a piece, whatever becomes of it.
DESCRIPTION = ("title", "series", "series_number", "edition", "year", "size_note", "description")


class PieceState(models.TextChoices):
    WET = "wet", gettext_lazy("Wet")
    DRY = "dry", gettext_lazy("Dry")
    FINISHED = "finished", pgettext_lazy("piece", "Finished")
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


def _pour_labels(labels: list[str], _formatter: Formatter) -> str:
    return ", ".join(labels)


@audited(
    only=["price", "photo", *DESCRIPTION],
    units={"price": "money", "photo": "file"},
    virtual={"pours": Virtual(gettext_lazy("pours"), _pour_labels)},
)
@called(
    pgettext_lazy("table", "piece"),
    price=pgettext_lazy("column", "price"),
    photo=pgettext_lazy("column", "photo"),
    title=pgettext_lazy("column", "title"),
    series=pgettext_lazy("column", "series"),
    series_number=pgettext_lazy("column", "number in the series"),
    edition=pgettext_lazy("column", "edition"),
    year=pgettext_lazy("column", "year"),
    size_note=pgettext_lazy("column", "set"),
    description=pgettext_lazy("column", "description"),
)
class Piece(models.Model):
    colours: Sequence[str] = ()  # poured on it; read with `with_colours`

    title = models.CharField(max_length=160)
    state = models.CharField(max_length=12, choices=PieceState.choices, default=PieceState.WET)
    made_on = models.DateField()
    series = models.CharField(
        max_length=80,
        blank=True,
        help_text=gettext_lazy("Works that belong together, such as: Harbour wall."),
    )
    series_number = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(HIGHEST_NUMBER)]
    )
    edition = models.CharField(
        max_length=60,
        blank=True,
        help_text=gettext_lazy("For several similar works, such as: edition of four."),
    )
    year = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(FIRST_YEAR), MaxValueValidator(LAST_YEAR)],
        help_text=gettext_lazy("Shown on papers. Left blank: the year it was poured."),
    )
    description = models.TextField(blank=True, max_length=2000)
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
    stated_labour = models.BigIntegerField(
        default=0, help_text=gettext_lazy("Of a piece brought in finished: what the work cost until then.")
    )
    stated_overhead = models.BigIntegerField(
        default=0, help_text=gettext_lazy("Of a piece brought in finished: its overhead until then.")
    )

    class Meta:
        ordering = ["-made_on", "-pk"]
        constraints = [
            one_of("piece", "state", PieceState.values),
            *whole("piece", "price", "market_value", "stated_labour", "stated_overhead"),
            models.CheckConstraint(
                condition=Q(stated_labour__gte=0, stated_overhead__gte=0), name="piece_stated_cost_sensible"
            ),
            models.CheckConstraint(
                condition=Q(series_number__isnull=True) | Q(series_number__gt=0) & ~Q(series=""),
                name="piece_number_in_a_series",
            ),
            models.CheckConstraint(
                condition=Q(year__isnull=True) | Q(year__range=(FIRST_YEAR, LAST_YEAR)),
                name="piece_year_sensible",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        if self.series_number is not None and not self.series:
            raise ValidationError({"series": _("Name the series that this number belongs to.")})
        if self.year is not None and not FIRST_YEAR <= self.year <= LAST_YEAR:
            years = {"first": FIRST_YEAR, "last": LAST_YEAR}
            raise ValidationError({"year": _("Enter a year from {first} to {last}.", **years)})

    @property
    def shown_year(self) -> int:
        """The year that papers show."""
        return self.year or self.made_on.year

    @property
    def place_in_series(self) -> str:
        """Harbour wall no. 3; nothing for a piece by itself."""
        if self.series and self.series_number:
            return _("{series} no. {number}", series=self.series, number=self.series_number)
        return self.series

    @property
    def set_in_words(self) -> str:
        """That it is a set, in her words or by its number of pours; nothing for a single one."""
        count = len(self.pours)
        return self.size_note or (_("set of {count}", count=count) if count > 1 else "")

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
