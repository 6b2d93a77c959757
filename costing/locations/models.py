"""Where each piece is: in the studio unless it was placed in a gallery or a box, or lent; for whom it is reserved."""

from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.contacts.models import Contact
from costing.pieces.models import Piece, PieceStep
from costing.pricing.models import SalesChannel
from inventory.ledger.keyed_records import KeyedRecord
from studio.auditing.recording import audited
from studio.constraints import called, one_of
from studio.translation import _

if TYPE_CHECKING:
    from datetime import date


class LocationKind(models.TextChoices):
    GALLERY = "gallery", gettext_lazy("Gallery")
    BOX = "box", gettext_lazy("Market box")


@audited(without=["recorded_by", "key", "fingerprint"])
@called(
    pgettext_lazy("table", "location"),
    name=pgettext_lazy("column", "name"),
    kind=pgettext_lazy("column", "kind"),
    channel=pgettext_lazy("column", "sales channel"),
    contact=pgettext_lazy("column", "contact"),
    is_active=pgettext_lazy("column", "in use"),
)
class Location(KeyedRecord):
    """A place outside of the studio that holds pieces. The studio has no row: it is where nothing else is said."""

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=7, choices=LocationKind.choices)
    channel = models.ForeignKey(
        SalesChannel, on_delete=models.PROTECT, null=True, blank=True, related_name="locations"
    )
    contact = models.ForeignKey(
        Contact, on_delete=models.SET_NULL, null=True, blank=True, related_name="locations"
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            one_of("location", "kind", LocationKind.values),
            models.CheckConstraint(
                condition=~Q(kind=LocationKind.GALLERY) | Q(channel__isnull=False),
                name="location_gallery_sells",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_gallery(self) -> bool:
        return self.kind == LocationKind.GALLERY

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it. What holds pieces, or has held some, stays its kind."""
        before = Location.objects.filter(pk=self.pk).exclude(kind=self.kind)
        if self.pk is not None and before.exists() and self.placements.exists():
            raise ValidationError(
                {"kind": _("Pieces have been here, so it stays what it is. Add another location instead.")}
            )
        if self.is_gallery and self.channel is None:
            raise ValidationError(
                {"channel": _("Choose the sales channel of this gallery: it says what the gallery keeps.")}
            )


class Placement(KeyedRecord):
    """A piece was taken somewhere: to a location, back to the studio (no location), or to whom it is lent.

    Each comes after the one before, so that a piece has one chain of them and is in one place. A placement is never
    changed; only the erasure of a contact takes who it was, and the note, out of it.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="placements")
    after = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by"
    )
    location = models.ForeignKey(
        Location, on_delete=models.PROTECT, null=True, blank=True, related_name="placements"
    )
    is_lent = models.BooleanField(default=False)
    contact = models.ForeignKey(
        Contact, on_delete=models.SET_NULL, null=True, blank=True, related_name="loans"
    )
    on = models.DateField()
    until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            # Of several pieces that one submission moves each has its key.
            models.UniqueConstraint(
                fields=["recorded_by", "key", "piece"], condition=~Q(key=""), name="placement_key_once"
            ),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(after__isnull=True), name="placement_one_first"
            ),
            models.CheckConstraint(
                condition=Q(is_lent=False) | Q(location__isnull=True), name="placement_one_place"
            ),
            models.CheckConstraint(
                condition=Q(is_lent=True) | Q(contact__isnull=True), name="placement_lent_to_somebody"
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("on")), name="placement_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id}: {self.location_id}"


class Reservation(KeyedRecord):
    """For whom a piece is reserved, and until when. The last one that was written of a step holds.

    It ends with the state that its step began: when the piece is sold, or offered to everybody again.
    """

    step = models.ForeignKey(PieceStep, on_delete=models.CASCADE, related_name="reservations")
    contact = models.ForeignKey(
        Contact, on_delete=models.SET_NULL, null=True, blank=True, related_name="reservations"
    )
    until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [*KeyedRecord.Meta.constraints]

    def __str__(self) -> str:
        return f"{self.step_id}"

    def is_expired(self, day: "date") -> bool:
        return self.until is not None and self.until < day
