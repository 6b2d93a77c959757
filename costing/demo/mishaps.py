"""What goes wrong or is put right: a dropped bottle, a spoiled batch, a decanting, a stocktake, a board scraped."""

from functools import partial

from django.db.models import F, QuerySet

from costing.demo.agenda import Agenda, Hour
from costing.demo.bench import MEDIUM, Bench
from costing.demo.setting_up import Loft
from costing.demo.titles import UNUSUAL
from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.queries import pours_of
from costing.selling.actions import scrape_piece
from inventory.ledger.models import Lot
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.calculations import paint_needed
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant, write_off
from inventory.stock.actions.stocktakes import Count, post_stocktake, weighed
from studio.values.quantities import format_quantity, mass_of
from studio.values.units import Measure

# Days ago.
DECANTED, DROPPED, SPOILED_STIRRED, SPOILED, TESTED, COUNTED = (300, 84), 262, 228, 196, 95, 118
SCRAPED, POURED_OVER = 9, 5
LOTS_COUNTED, LOTS_WEIGHED = 12, 3


class Mishaps:
    """Puts them on the agenda."""

    def __init__(self, loft: Loft, agenda: Agenda, bench: Bench) -> None:
        self.loft, self.agenda, self.bench = loft, agenda, bench
        for days_ago in DECANTED:
            agenda.put(days_ago, Hour.SHELF, self._decant)
        agenda.put(DROPPED, Hour.SHELF, self._drop)
        agenda.put(SPOILED_STIRRED, Hour.LAST, self._stir_too_much)
        agenda.put(SPOILED, Hour.SHELF, self._find_spoiled)
        agenda.put(TESTED, Hour.SHELF, self._give_sample)
        agenda.put(COUNTED, Hour.LAST, self._count)
        agenda.put(SCRAPED, Hour.LAST, self._scrape)

    def _fullest(self, name: str) -> Lot | None:
        return self._lots().filter(material__name=name).order_by("-balance__quantity", "pk").first()

    def _lots(self) -> QuerySet[Lot]:
        return Lot.objects.filter(balance__quantity__gt=0).select_related("material", "balance")

    def _decant(self, days_ago: int) -> None:
        lot, day = self._fullest("Titanium White"), self.loft.diary.ago(days_ago)
        if lot is not None:
            decant(
                lot=lot,
                quantity=min(500_000, lot.balance.quantity // 2),
                place="Squeeze bottle",
                empty_weight=34_000,
                submission=self.loft.submission(self.loft.helper, day),
            )

    def _drop(self, days_ago: int) -> None:
        self._lose("Eelslip pouring medium", 380_000, "spilled", "Dropped on the stairs", days_ago)

    def _give_sample(self, days_ago: int) -> None:
        self._lose("Pale Aqua", 60_000, "sample", "A jar for the school's art room", days_ago)

    def _lose(self, name: str, most: int, reason: str, note: str, days_ago: int) -> None:
        lot, day = self._fullest(name), self.loft.diary.ago(days_ago)
        if lot is not None:
            write_off(
                lot=lot,
                quantity=min(most, lot.balance.quantity // 2),
                reason=self.loft.reasons[reason],
                note=note,
                submission=self.loft.submission(self.loft.helper, day),
            )

    def _stir_too_much(self, days_ago: int) -> None:
        self.spoiling = self.bench.stir_medium(3_000_000, days_ago)

    def _find_spoiled(self, days_ago: int) -> None:
        """What was left of a batch that stood too long in a warm week."""
        day = self.loft.diary.ago(days_ago)
        for lot in self._lots().filter(material__name=MEDIUM, received_on__lte=self.spoiling.received_on):
            write_off(
                lot=lot,
                quantity=lot.balance.quantity,
                reason=self.loft.reasons["spoiled"],
                note="Sour smell, grey threads",
                submission=self.loft.submission(self.loft.owner, day),
            )

    def _count(self, days_ago: int) -> None:
        """A count of a dozen lots: most agree, some do not, and part-full bottles are weighed."""
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        loft.diary.evening(day)
        weighable = self._lots().filter(
            empty_weight__isnull=False,
            material__measure=Measure.VOLUME,
            balance__quantity__lt=F("delivery_line__quantity"),
        )
        by_weight = list(weighable.order_by("pk")[:LOTS_WEIGHED])
        others = self._lots().exclude(pk__in=[lot.pk for lot in by_weight]).order_by("material__name", "pk")
        by_eye = list(others[: 3 * LOTS_COUNTED : 3])[: LOTS_COUNTED - len(by_weight)]
        counts = [self._weigh(lot, found) for lot, found in zip(by_weight, (97, 100, 99), strict=False)]
        counts += [self._look(lot, place) for place, lot in enumerate(by_eye)]
        post_stocktake(
            counts=counts, notes="Stocktake of the north wall", submission=loft.submission(loft.owner, day)
        )

    def _scrape(self, days_ago: int) -> None:
        """A board whose varnish clouded is scraped, and poured over a few days later: no new board is taken."""
        loft, hanging = self.loft, self.bench.works.for_sale
        alone = (piece for piece in hanging if len(pours_of(piece)) == 1 and piece.title not in UNUSUAL)
        piece = next(alone, None)
        if piece is None:
            return
        hanging.remove(piece)
        scrape_piece(
            piece=piece,
            note="The varnish clouded",
            submission=loft.submission(loft.owner, loft.diary.ago(days_ago)),
        )
        self.agenda.put(POURED_OVER, Hour.BENCH, partial(self._pour_over, pours_of(piece)[0]))

    def _pour_over(self, scraped: Pour, days_ago: int) -> None:
        loft, white = self.loft, self._fullest("Titanium White")
        if white is None:
            return
        most = paint_needed(scraped.area, scraped.technique.coverage)
        dose = Dose(min(most, white.balance.quantity // 2), material=white.material, lot=white.pk)
        facts = PourFacts(technique=scraped.technique, doses=[dose], over=scraped)
        submission = loft.submission(loft.owner, loft.diary.ago(days_ago))
        session = log_session(
            facts=SessionFacts(
                held_on=loft.diary.ago(days_ago), title="A board poured again", pours=[facts], minutes=20
            ),
            submission=submission,
        )
        make_piece(facts=PieceFacts("Twice Tided", session.pours.all()), submission=submission)

    def _weigh(self, lot: Lot, percent: int) -> Count:
        """Put the bottle on the scale: whole grams, against an empty one."""
        density, empty = lot.material.density or 1_000_000, lot.empty_weight or 0
        gross = empty + mass_of(lot.balance.quantity * percent // 100, density) // 1_000 * 1_000
        bottle = format_quantity(empty, Measure.MASS)
        how = f"weighed: {format_quantity(gross, Measure.MASS)} less {bottle} for the empty bottle"
        return Count(lot, weighed(lot, gross), how)

    def _look(self, lot: Lot, place: int) -> Count:
        """Every third one differs a little; things that are counted differ by whole ones."""
        held = lot.balance.quantity
        if place % 3:
            return Count(lot, held)
        if lot.material.measure == Measure.COUNT:
            return Count(lot, max(held - 1_000, 0))
        return Count(lot, held - held // 25 // 1_000 * 1_000, "measured in the jug")
