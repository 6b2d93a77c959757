"""Materials: anything used up.

Quantities are whole thousandths of the measure's base unit (mL, g, each, cm², cm)."""

from datetime import date, timedelta
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.ledger.labels import lot_label
from inventory.materials.models import Material
from studio.auditing.recording import audited
from studio.constraints import one_of, whole
from studio.translation import _


class ReasonKind(models.TextChoices):
    LOSS = "loss", gettext_lazy("Loss")
    NORMAL = "normal", gettext_lazy("Normal loss")
    GIFT = "gift", gettext_lazy("Gift")
    OWN_USE = "own_use", gettext_lazy("Own use")
    SAMPLE = "sample", gettext_lazy("Sample")
    COUNT = "count", gettext_lazy("Stocktake difference")


@audited()
class Reason(models.Model):
    """A named way out of stock or work that is not a sale: a loss, a gift, own use, a sample, a count difference.

    A loss is abnormal, a cost of nothing that was made, unless its kind says that it is normal (IAS 2, paragraph 16).
    """

    Kind = ReasonKind

    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=8, choices=Kind.choices)

    class Meta:
        ordering = ["name"]
        constraints = [one_of("reason", "kind", ReasonKind.values)]

    def __str__(self) -> str:
        return self.name


class CostingMethod(models.TextChoices):
    FIFO = "fifo", gettext_lazy("First in, first out")
    FEFO = "fefo", gettext_lazy("First expired, first out")
    AVERAGE = "average", gettext_lazy("Weighted average")


@audited(only=["costing_method", "closed_through"])
class Books(models.Model):
    """The ledger's head: one row, locked first by every writer. Triggers keep the `last_` columns true."""

    costing_method = models.CharField(max_length=7, choices=CostingMethod.choices, default=CostingMethod.FIFO)
    costing_method_chosen_at = models.DateTimeField(
        null=True
    )  # null while it is still the usual one, unasked
    closed_through = models.DateField(
        null=True, blank=True, help_text=gettext_lazy("Nothing can be posted on or before this day.")
    )
    last_number = models.BigIntegerField(default=0)
    last_hash = models.CharField(max_length=64, default="0" * 64)
    last_recorded_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "books"
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="books_only_one"),
            one_of("books", "costing_method", CostingMethod.values),
        ]

    def __str__(self) -> str:
        return _("Ledger through posting {number}", number=self.last_number)

    def open_day(self, day: date) -> date:
        """The day itself, or the first one after the period that is closed."""
        return day if self.closed_through is None else max(day, self.closed_through + timedelta(days=1))


class PostingKind(models.TextChoices):
    OPENING = "opening", gettext_lazy("Opening stock")
    DELIVERY = "delivery", gettext_lazy("Delivery")
    MIX = "mix", pgettext_lazy("noun", "Mix")
    SESSION = "session", gettext_lazy("Session")
    DECANT = "decant", gettext_lazy("Decanting")
    WRITE_OFF = "write_off", gettext_lazy("Write-off")
    STOCKTAKE = "stocktake", gettext_lazy("Stocktake")
    COUNT_GAIN = "count_gain", gettext_lazy("Stocktake gain")
    FINISHING = "finishing", gettext_lazy("Finishing")
    PIECE_WRITE_OFF = "piece_write_off", gettext_lazy("Pieces written off")
    POUR_WRITE_OFF = "pour_write_off", gettext_lazy("Failed pours thrown away")
    SALE = "sale", gettext_lazy("Sale")
    CORRECTION = "correction", gettext_lazy("Correction")
    REVERSAL = "reversal", gettext_lazy("Reversal")


class Posting(models.Model):
    """The seal over a balanced set of entries; its number is its place in the ledger, without gaps."""

    number = models.BigIntegerField(primary_key=True)
    kind = models.CharField(max_length=16, choices=PostingKind.choices)
    effective_on = models.DateField(db_index=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=500, blank=True)
    key = models.CharField(
        max_length=80, blank=True, help_text=gettext_lazy("The request's idempotency key.")
    )
    fingerprint = models.CharField(
        max_length=64, blank=True, help_text=gettext_lazy("SHA-256 of the request's contents.")
    )
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    corrects = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    confirmed = models.JSONField(
        default=list,
        blank=True,
        help_text=gettext_lazy("What was unusual in it, and confirmed when it was saved."),
    )
    lines = models.PositiveIntegerField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            one_of("posting", "kind", PostingKind.values),
            models.UniqueConstraint(
                fields=["recorded_by", "key"], condition=~Q(key=""), name="posting_key_once"
            ),
            models.CheckConstraint(
                condition=Q(kind="reversal", reverses__isnull=False)
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="posting_reversal_names_its_target",
            ),
            models.CheckConstraint(
                condition=Q(kind="correction", corrects__isnull=False)
                | (~Q(kind="correction") & Q(corrects__isnull=True)),
                name="posting_correction_names_its_target",
            ),
            *whole("posting", "number"),
        ]

    def __str__(self) -> str:
        return _("Posting {number}", number=self.number)


class Place(models.TextChoices):
    LOT = "lot", gettext_lazy("In stock")
    MIX = "mix", gettext_lazy("In the mixing cup")
    WORK = "work", gettext_lazy("Work in progress")
    SOLD = "sold", gettext_lazy("Cost of sales")
    LOSS = "loss", gettext_lazy("Loss or other disposal")
    OUTSIDE = "outside", gettext_lazy("Outside (supplier)")
    GAIN = "gain", gettext_lazy("Stocktake gain")


class EntryRole(models.TextChoices):
    """Why a material came to a pour, for the cost sheet."""

    NONE = "", ""
    SURFACE = "surface", gettext_lazy("Surface")
    POURED = "poured", gettext_lazy("Poured")
    RESIDUE = "residue", gettext_lazy("Cup residue")
    SUNDRY = "sundry", gettext_lazy("Sundries")
    SPILLED = "spilled", gettext_lazy("Spilled")
    FAILED = "failed", gettext_lazy("Failed pours of the session")
    FINISH = "finish", gettext_lazy("Finishing")
    PACKING = "packing", gettext_lazy("Packing")
    OPENING = "opening", gettext_lazy("Brought in at a stated cost")


def _standing(posting: str) -> Q:
    """Postings that were not taken back, do not take one back, and correct none that was. `posting` leads to them.

    What takes one back is told by its kind: asked for those that reverse nothing, SQLite begins with them, nearly all.
    """
    names = ("reversed_by", "corrects__reversed_by")
    stands = Q(**{f"{posting}{name}__isnull": True for name in names})
    return stands & ~Q(**{f"{posting}kind": PostingKind.REVERSAL})


def is_production(posting: str = "") -> Q:
    """Standing postings of production, and corrections of such; `posting` leads to them, "posting__" from an entry."""
    kinds = [PostingKind.MIX, PostingKind.SESSION, PostingKind.FINISHING]
    produced = Q(**{f"{posting}kind__in": kinds}) | Q(**{f"{posting}corrects__kind__in": kinds})
    return _standing(posting) & produced


# Sources stand on odd lines: what a correction gives back is use with the other sign.
IS_FROM_STOCK = Q(Exact(F("line") % 2, 1), place=Place.LOT)


class EntryQuerySet(models.QuerySet["Entry"]):
    def standing(self) -> Self:
        """Entries of postings that were not taken back, do not take one back, and correct none that was."""
        return self.filter(_standing("posting__"))

    def in_force(self) -> Self:
        """Entries that still count: without what was taken back, and the lines that take it back.

        A reversal's further lines count: they restate what something else costs since.
        """
        mirrors = Q(posting__reverses__isnull=False, line__lte=F("posting__reverses__lines"))
        return self.filter(posting__reversed_by__isnull=True).exclude(mirrors)

    def uses(self) -> Self:
        """What production used: mixed, poured, or put on a piece. Losses and stocktake differences are no demand."""
        return self.filter(is_production("posting__") & IS_FROM_STOCK)

    def receipts(self) -> Self:
        """What came into a lot from a supplier, a first count or a mixing cup, with the cost it came at."""
        kinds = [PostingKind.OPENING, PostingKind.DELIVERY, PostingKind.MIX, PostingKind.SESSION]
        return self.standing().filter(place=Place.LOT, quantity__gt=0, posting__kind__in=kinds)


class Entry(models.Model):
    """One line of one posting. Never changed, never deleted."""

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="entries", db_index=False)
    line = models.PositiveIntegerField()
    place = models.CharField(max_length=8, choices=Place.choices)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="entries")
    lot = models.ForeignKey(
        "inventory.Lot", on_delete=models.PROTECT, null=True, related_name="entries", db_index=False
    )
    mix = models.ForeignKey("inventory.Mix", on_delete=models.PROTECT, null=True, related_name="entries")
    pour = models.ForeignKey("inventory.Pour", on_delete=models.PROTECT, null=True, related_name="entries")
    reason = models.ForeignKey(Reason, on_delete=models.PROTECT, null=True, related_name="entries")
    quantity = models.BigIntegerField()
    money = models.BigIntegerField()
    role = models.CharField(max_length=8, blank=True, choices=EntryRole.choices)
    effective_on = models.DateField(
        db_index=True,
        help_text=gettext_lazy(
            "Its posting's day; what restates the cost of a movement stands on that movement's day."
        ),
    )

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ["posting_id", "line"]
        verbose_name_plural = "entries"
        indexes = [
            models.Index(fields=["lot", "posting"], name="entry_lot_posting"),
            models.Index(fields=["lot", "effective_on"], name="entry_lot_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["posting", "line"], name="entry_line_once"),
            models.CheckConstraint(
                condition=Q(
                    place="lot", lot__isnull=False, mix__isnull=True, pour__isnull=True, reason__isnull=True
                )
                | Q(place="mix", lot__isnull=True, mix__isnull=False, pour__isnull=True, reason__isnull=True)
                | Q(
                    place__in=["work", "sold"],
                    lot__isnull=True,
                    mix__isnull=True,
                    pour__isnull=False,
                    reason__isnull=True,
                )
                | Q(place="loss", lot__isnull=True, mix__isnull=True, pour__isnull=True, reason__isnull=False)
                | Q(
                    place__in=["outside", "gain"],
                    lot__isnull=True,
                    mix__isnull=True,
                    pour__isnull=True,
                    reason__isnull=True,
                ),
                name="entry_place_named",
            ),
            models.CheckConstraint(condition=~Q(quantity=0, money=0), name="entry_moves_something"),
            models.CheckConstraint(condition=Q(line__gt=0), name="entry_line_positive"),
            *whole("entry", "quantity", "money"),
        ]

    def __str__(self) -> str:
        return f"{self.posting_id}.{self.line}"


class LotBalance(models.Model):
    """What a lot holds now. Written by the database alone when a posting is sealed."""

    lot = models.OneToOneField(
        "inventory.Lot", on_delete=models.PROTECT, primary_key=True, related_name="balance"
    )
    quantity = models.BigIntegerField()
    money = models.BigIntegerField()
    last_posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="+", db_index=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gte=0, money__gte=0), name="lotbalance_never_negative"
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0) | Q(money=F("quantity")), name="lotbalance_empty_lot_has_no_cost"
            ),
            *whole("lotbalance", "quantity", "money"),
        ]

    def __str__(self) -> str:
        return _("Balance of lot {number}", number=self.lot_id)


class LotOrigin(models.TextChoices):
    DELIVERY = "delivery", gettext_lazy("Delivered")
    OPENING = "opening", gettext_lazy("Opening stock")
    MIX = "mix", gettext_lazy("Mixed")
    DECANT = "decant", gettext_lazy("Decanted")
    COUNT = "count", gettext_lazy("Found in a stocktake")


class LotQuerySet(models.QuerySet["Lot"]):
    def on_shelf(self) -> Self:
        """Lots that hold something now."""
        return self.filter(balance__quantity__gt=0)


@audited(
    only=["opened_on", "best_before", "place", "supplier_batch", "empty_weight"],
    units={"empty_weight": "mass"},
)
class Lot(models.Model):
    Origin = LotOrigin

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    origin = models.CharField(max_length=8, choices=Origin.choices)
    received_on = models.DateField()
    opened_on = models.DateField(null=True, blank=True)
    best_before = models.DateField(null=True, blank=True)
    place = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("Where it is kept: shelf, box, drawer.")
    )
    supplier_batch = models.CharField(max_length=60, blank=True)
    empty_weight = models.BigIntegerField(
        null=True,
        blank=True,
        help_text=gettext_lazy(
            "Weight of the empty container, in thousandths of a gram, for weighing what is left."
        ),
    )
    decanted_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="decanted_into"
    )

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["received_on", "pk"]
        constraints = [one_of("lot", "origin", LotOrigin.values), *whole("lot", "empty_weight")]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """What she writes on the jar."""
        return lot_label(self.pk)


class MonthEnd(models.Model):
    """What one lot held at the end of a month, kept so that stock on a past day need not be summed from the start.

    Money is in millionths. It sums the entries of postings up to number `through` whose own date is no later than
    `day`: since those never change, neither does it, and whatever was posted later is added by whoever reads it.
    """

    day = models.DateField()
    lot = models.ForeignKey(Lot, on_delete=models.CASCADE, related_name="+")
    quantity = models.BigIntegerField()
    money = models.BigIntegerField()
    through = models.BigIntegerField()

    class Meta:
        ordering = ["day", "lot"]
        constraints = [
            models.UniqueConstraint(fields=["day", "lot"], name="month_end_once"),
            *whole("month_end", "quantity", "money", "through"),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} on {self.day}"
