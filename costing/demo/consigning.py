"""Pieces of the demo at the gallery: three notes, one of them settled with some returned; and what it sells."""

from datetime import timedelta

from costing.consignments.actions import ConsignmentFacts, Priced, consign, settle, take_back
from costing.consignments.note_paper import NOTE
from costing.consignments.queries import open_notes
from costing.contacts.actions import add_contact
from costing.demo.agenda import Agenda, Hour
from costing.demo.setting_up import GALLERY, Loft
from costing.demo.titles import UNUSUAL
from costing.demo.works import POUND, Works
from costing.locations.models import Location, LocationKind
from costing.pieces.models import Piece
from studio.auditing.reference_rows import save_row
from studio.issued.actions import issue
from studio.submission import Submission

# Days ago on which a note is given, and of how many pieces; for so many days.
NOTES = {290: 6, 176: 9, 48: 6}
AGREED_FOR = 180
SOLD_EVERY, FIRST_SALE = 17, 275
# What is left of the first note comes back.
FETCHED = 215
LEAST = 60 * POUND


class Consigning:
    """Puts on the agenda what the gallery is given, what it sells, and what comes back."""

    def __init__(self, loft: Loft, agenda: Agenda, works: Works) -> None:
        self.loft, self.works = loft, works
        self.gallery = self._gallery()
        for days_ago in NOTES:
            agenda.put(days_ago, Hour.LAST, self._give)
        for days_ago in range(FIRST_SALE, -1, -SOLD_EVERY):
            agenda.put(days_ago, Hour.SALES, self._report)
        agenda.put(FETCHED, Hour.SALES, self._fetch)

    def _gallery(self) -> Location:
        submission = self.loft.submission(self.loft.owner, self.loft.diary.ago(366))
        contact = add_contact(
            name=GALLERY,
            reach="herring@example.org\nBetween the chandler and the slip, Lantern Quay",
            note="Closed on Mondays. Hangs only what is wired.",
            submission=submission,
        )
        location = Location(
            name=GALLERY, kind=LocationKind.GALLERY, channel=self.loft.channels[GALLERY], contact=contact
        )
        return save_row(location, submission=submission)

    def _give(self, days_ago: int) -> None:
        """The dearest pieces from the wall."""
        submission = self._submission(days_ago)
        hanging = [
            piece
            for piece in self.works.for_sale
            if (piece.price or 0) >= LEAST and piece.title not in UNUSUAL
        ]
        chosen = sorted(hanging, key=lambda piece: (-(piece.price or 0), piece.pk))[: NOTES[days_ago]]
        if not chosen:
            return
        facts = ConsignmentFacts(
            gallery=self.gallery,
            lines=[Priced(piece, piece.price or 0) for piece in chosen],
            until=submission.on + timedelta(days=AGREED_FOR),
            note="Labels on the back stay on.",
        )
        given = consign(facts=facts, submission=submission)
        issue(kind=NOTE, about=given.pk, submission=submission)
        for piece in chosen:
            self.works.for_sale.remove(piece)

    def _report(self, days_ago: int) -> None:
        """The gallery has sold one piece of the oldest note that has any left."""
        notes = open_notes()
        if notes:
            note, [first, *_others] = notes[-1].note, notes[-1].there
            sold = [Priced(first.piece, first.line.price)]
            settle(consignment=note, sold=sold, submission=self._submission(days_ago))

    def _fetch(self, days_ago: int) -> None:
        notes = open_notes()
        if notes:
            pieces = [each.piece for each in notes[-1].there]
            take_back(consignment=notes[-1].note, pieces=pieces, submission=self._submission(days_ago))
            self.works.for_sale += Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).order_by("pk")

    def _submission(self, days_ago: int) -> Submission:
        return self.loft.submission(self.loft.owner, self.loft.diary.ago(days_ago))
