"""Where the demo's pieces are beside the market boxes: one piece that is lent, two that are held for somebody."""

from datetime import timedelta

from costing.contacts.actions import add_contact
from costing.contacts.models import Contact
from costing.demo.agenda import Agenda, Hour
from costing.demo.setting_up import Loft
from costing.demo.titles import UNUSUAL
from costing.demo.works import Works
from costing.locations.actions import Person, lend_piece, reserve_piece
from costing.pieces.models import Piece
from studio.submission import Submission

VISITOR, TEA_ROOM = "Wenda Tarpot", "Gull and Kettle tea room"
REACH = {VISITOR: "wenda@example.org", TEA_ROOM: "kettle@example.org\nAsk for the manager"}
LENT, RESERVED = 24, 4
# How long two pieces are held: the first reservation has expired on the last day.
HELD_FOR = (2, 9)
LENT_FOR = 40


class Places:
    """Puts on the agenda who borrows and reserves what."""

    def __init__(self, loft: Loft, agenda: Agenda, works: Works, scale: float) -> None:
        self.loft, self.works, self.scale = loft, works, scale
        agenda.put(LENT, Hour.LAST, self._lend)
        agenda.put(RESERVED, Hour.LAST, self._reserve)

    def _lend(self, days_ago: int) -> None:
        submission = self._submission(days_ago)
        for piece in self._taken(1):
            lend_piece(
                piece=piece,
                to=Person(self._contact(TEA_ROOM, submission)),
                until=submission.on + timedelta(days=LENT_FOR),
                note="Hangs over the long table",
                submission=submission,
            )

    def _reserve(self, days_ago: int) -> None:
        submission = self._submission(days_ago)
        for piece, days in zip(self._taken(2 if self.scale == 1 else 1), HELD_FOR, strict=False):
            reserve_piece(
                piece=piece,
                to=Person(self._contact(VISITOR, submission)),
                until=submission.on + timedelta(days=days),
                note="Comes back with the car",
                submission=submission,
            )

    def _taken(self, wanted: int) -> list[Piece]:
        """Pieces from the wall, the oldest first: they are not chosen by anybody else any more."""
        taken = [piece for piece in self.works.for_sale if piece.title not in UNUSUAL][:wanted]
        for piece in taken:
            self.works.for_sale.remove(piece)
        return taken

    def _contact(self, name: str, submission: Submission) -> Contact:
        known = Contact.objects.filter(name=name).first()
        return known or add_contact(name=name, reach=REACH[name], submission=submission)

    def _submission(self, days_ago: int) -> Submission:
        return self.loft.submission(self.loft.owner, self.loft.diary.ago(days_ago))
