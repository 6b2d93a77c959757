"""Orders and deliveries of the year: each house calls so many times and brings what is needed until the next call."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

from django.db.models import Sum

from costing.demo.agenda import Agenda, Hour
from costing.demo.figures import millionths, thousandths
from costing.demo.needs import Needs
from costing.demo.setting_up import Loft
from costing.demo.suppliers import EMPTY_WEIGHTS, FORGOTTEN, HOUSES, NEBELKAI, House, Pack
from inventory.ledger.models import Lot, LotBalance
from inventory.ledger.reversals import reverse
from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock, receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts, PackedLine
from inventory.purchasing.actions.orders import ChaseFacts, OrderFacts, chase_order, place_order
from inventory.purchasing.models import Delivery, Order, OrderLine, SentBy
from studio.errors import NeedsConfirmation
from studio.submission import Submission
from studio.values.money import convert

PENNY = 10_000
FIRST_VISIT = 363
# Prices rose about half-way through the year; the price lists carry the new ones.
RISE_DAYS_AGO, BEFORE_RISE = 190, 95
SUPPLY_AFTER_LAST = 45
KEEPS = {
    "PVA glue": 365,
    "Satin varnish": 700,
    "Gloss varnish": 700,
    "Clear resin, part A": 400,
    "Clear resin, part B": 400,
}
# Sizes on labels that can be typed as they are written there, and that the supplier would not know in millilitres.
WRITTEN_AS_TYPED = {
    (house.name, pack.material, thousandths(pack.size)): pack.written
    for house in HOUSES
    for pack in house.packs
    if pack.written.endswith("fl oz")
}
BY_ORDER = {
    "Clamp & Splinter Boards",
    "Foghorn & Whistle Direct",
    "Nebelkai Farbenkontor",
    "Cold Kettle Tileworks",
}

# What stood in the net loft when the books began: material, quantity, cost.
OPENING = [
    ("PVA glue", "1800", "6.30"),
    ("Titanium White", "420", "7.10"),
    ("Carbon Black", "380", "6.20"),
    ("Ultramarine Blue", "260", "5.00"),
    ("Silicone oil", "85", "5.40"),
    ("Nitrile gloves", "64", "5.10"),
    ("Canvas 20 × 20 cm", "6", "11.80"),
    ("Tile 15 × 15 cm", "8", "9.20"),
    ("Paper cups", "40", "3.00"),
    ("Slackwater pouring medium", "640", "13.10"),
]


@dataclass(frozen=True, slots=True)
class Bought:
    """So many packs of one pack size."""

    pack: Pack
    packs: int


class Buyer:
    """Fills the shelf through the year."""

    def __init__(self, loft: Loft, needs: Needs, agenda: Agenda, scale: float) -> None:
        self.loft, self.needs, self.agenda = loft, needs, agenda
        self.invoice = 1040
        for place, house in enumerate(HOUSES):
            visits = max(round(house.visits * scale), 2)
            self._expect(house, visits, FIRST_VISIT - place % 4)

    def open_shelf(self, days_ago: int) -> None:
        """The stock that the books begin with. The bought medium there goes off soon after the last day."""
        diary = self.loft.diary
        lines = [
            OpeningLine(
                self.loft.materials[name],
                thousandths(quantity),
                millionths(money),
                best_before=diary.ago(-11) if name.startswith("Slackwater") else None,
                place="Loft, north wall",
            )
            for name, quantity, money in OPENING
        ]
        day = diary.ago(days_ago)
        open_stock(lines=lines, submission=self.loft.submission(self.loft.owner, day))

    def order_late_and_open(self) -> None:
        """Two orders that are still to come on the last day, one of them late although it was asked about twice."""
        late = self._still_open(
            "Cold Kettle Tileworks", 17, 9, [("Tile 15 × 15 cm", 3), ("Coaster 10 cm", 4)]
        )
        self._chase(late, 8, 4, "Their kiln is being relined.")
        self._chase(late, 3, 1, "Tiles are fired, waiting for the carrier.")
        self._still_open("Foghorn & Whistle Direct", 3, -6, [("Pale Aqua", 2), ("Sea Thrift Magenta", 3)])

    def order_in_two_parts(self, days_ago: int) -> None:
        """Boards that come in two deliveries, the second dearer than ordered."""
        wanted = [("Round board 30 cm", 2), ("Canvas 60 × 80 cm, deep", 2)]
        order = self._still_open("Clamp & Splinter Boards", days_ago + 8, days_ago, wanted)
        boards, canvases = order.lines.select_related("material").order_by("pk")
        self._part(order, [(boards, boards.price)], days_ago)
        dearer = canvases.price * 106 // 100 // PENNY * PENNY
        self.agenda.put(days_ago - 1, Hour.DELIVERIES, partial(self._part, order, [(canvases, dearer)]))

    def _part(self, order: Order, came: Sequence[tuple[OrderLine, int]], days_ago: int) -> None:
        """Lines of an order come at these prices."""
        day = self.loft.diary.ago(days_ago)
        self.invoice += 7
        lines = [
            LineFacts(line.material, line.pack, price, line.packs, line.typed, order_line=line)
            for line, price in came
        ]
        header = DeliveryHeader(
            supplier=order.supplier,
            received_on=day,
            home_currency="GBP",
            reference=f"CS-{self.invoice}",
            order=order,
        )
        self._post(DeliveryFacts(header, lines), self.loft.submission(self.loft.owner, day))

    def _post(self, facts: DeliveryFacts, submission: Submission) -> Delivery:
        """Receive a delivery, and say yes to whatever is asked, such as a price that is not the order's."""
        try:
            return receive_delivery(facts=facts, submission=submission)
        except NeedsConfirmation as asked:
            tokens = {question.token for question in asked.questions}
            return receive_delivery(facts=facts, submission=replace(submission, confirmed=tokens))

    def _chase(self, order: Order, asked: int, promised: int, note: str) -> None:
        ago = self.loft.diary.ago
        facts = ChaseFacts(ago(asked), ago(promised), note)
        chase_order(order=order, facts=facts, submission=self.loft.submission(self.loft.helper, ago(asked)))

    def _expect(self, house: House, visits: int, first: int) -> None:
        days = [first - round(visit * (first - house.last_visit) / (visits - 1)) for visit in range(visits)]
        until = [*days[1:], -SUPPLY_AFTER_LAST]
        for visit, (day, next_day) in enumerate(zip(days, until, strict=True)):
            to_go = visits - 1 - visit
            if house.name in BY_ORDER and visit:
                lead = house.lead_days + self.loft.rng.randint(-1, house.spread_days)
                self.agenda.put(day + lead, Hour.ORDERS, partial(self._order, house, day, next_day, to_go))
            else:
                self.agenda.put(day, Hour.DELIVERIES, partial(self._call, house, next_day, to_go, visit))

    def _call(self, house: House, next_day: int, to_go: int, visit: int, days_ago: int) -> None:
        bought = self._wanted(house, days_ago, next_day, to_go)
        if house.name == "Periwinkle & Bung Art Supplies" and visit == 6:
            self._type_it_wrongly(house, bought, days_ago)
        self._receive(house, bought, None, days_ago)

    def _order(self, house: House, arrives: int, next_day: int, to_go: int, days_ago: int) -> None:
        """Order what is short; the goods come on the day the house calls."""
        bought = self._wanted(house, days_ago, next_day, to_go)
        lines = [
            PackedLine(
                self.loft.materials[item.pack.material],
                thousandths(item.pack.size),
                item.packs * self._price(item.pack, days_ago),
                item.packs,
            )
            for item in bought
        ]
        day = self.loft.diary.ago(days_ago)
        order = place_order(
            facts=OrderFacts(self.loft.suppliers[house.name], day, lines),
            submission=self.loft.submission(self.loft.owner, day),
        )
        self.agenda.put(arrives, Hour.DELIVERIES, partial(self._receive, house, bought, order))

    def _wanted(self, house: House, since: int, until: int, to_go: int) -> list[Bought]:
        """Packs to last from now until the next call, and a little over. What she forgets runs low at the end."""
        held = dict(
            LotBalance.objects.filter(lot__material__name__in=[pack.material for pack in house.packs])
            .values_list("lot__material__name")
            .annotate(total=Sum("quantity"))
        )
        found = []
        for pack in house.packs:
            forgets = pack.material in FORGOTTEN
            if not pack.preferred or (forgets and to_go == 0):
                continue
            size = thousandths(pack.size)
            need = self.needs.between(pack.material, since, -1 if forgets and to_go == 1 else until)
            over = need // 20 if forgets and to_go == 1 else max(size // 3, need // 4)
            short = need + over - held.get(pack.material, 0)
            if short > 0:
                found.append(Bought(pack, -(-short // size)))
        return found or [Bought(house.packs[0], 1)]

    def _price(self, pack: Pack, days_ago: int) -> int:
        price = millionths(pack.price)
        return price if days_ago <= RISE_DAYS_AGO else price * BEFORE_RISE // 100 // PENNY * PENNY

    def _receive(self, house: House, bought: Sequence[Bought], order: Order | None, days_ago: int) -> None:
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        self.invoice += 7
        facts = self._facts(house, bought, days_ago, order)
        delivery = self._post(facts, loft.submission(loft.who(), day))
        if house is NEBELKAI and days_ago > 200 and order is not None:
            lot = delivery.lines.order_by("pk")[0].lot
            self.agenda.put(days_ago - 24, Hour.SHELF, partial(self._bill_duty_late, lot))

    def _facts(
        self, house: House, bought: Sequence[Bought], days_ago: int, order: Order | None, slip: int = 1
    ) -> DeliveryFacts:
        day = self.loft.diary.ago(days_ago)
        abroad = house.currency != "GBP"
        rate = Decimal(8500 + 3 * (days_ago % 50)).scaleb(-4) if abroad else None
        lines = [self._line(item, days_ago, slip) for item in bought]
        carriage = millionths(house.carriage)
        invoiced = sum(line.price for line in lines)
        value = invoiced if rate is None else convert(invoiced, rate)
        duty = value * 65 // 1000 // PENNY * PENNY if abroad else 0
        # At first with the rate of the day, later with what the bank statement says that it cost.
        paid = value // PENNY * PENNY if abroad and days_ago < RISE_DAYS_AGO else None
        header = DeliveryHeader(
            supplier=self.loft.suppliers[house.name],
            received_on=day,
            home_currency="GBP",
            currency=house.currency,
            rate=None if paid else rate,
            paid=paid,
            carriage=carriage,
            carriage_shared_by=Delivery.SharedBy.MASS
            if house.name == "Foghorn & Whistle Direct"
            else Delivery.SharedBy.VALUE,
            duty=duty,
            tax=(value + duty + carriage) // 5 // PENNY * PENNY if abroad else 0,
            reference=f"{''.join(word[0] for word in house.name.split() if word[0].isalpha())}-{self.invoice}",
            order=order,
            close_order=order is not None,
        )
        return DeliveryFacts(header, lines)

    def _line(self, item: Bought, days_ago: int, slip: int) -> LineFacts:
        name, diary = item.pack.material, self.loft.diary
        weight = EMPTY_WEIGHTS.get(item.pack.written)
        return LineFacts(
            material=self.loft.materials[name],
            pack=thousandths(item.pack.size),
            price=item.packs * self._price(item.pack, days_ago) * slip,
            packs=item.packs,
            best_before=diary.ago(days_ago - KEEPS[name]) if name in KEEPS else None,
            place="Loft, paint shelf" if weight else "Store under the stairs",
            empty_weight=thousandths(weight) if weight and item.packs == 1 else None,
            typed=item.pack.written,
        )

    def _type_it_wrongly(self, house: House, bought: Sequence[Bought], days_ago: int) -> None:
        """An invoice typed with every price ten times too high: taken back the same evening and entered again."""
        loft, day = self.loft, self.loft.diary.ago(days_ago)
        facts = self._facts(house, bought, days_ago, None, slip=10)
        wrong = receive_delivery(facts=facts, submission=loft.submission(loft.helper, day))
        reverse(
            posting=wrong.posting,
            submission=loft.submission(loft.owner, day),
            note="Prices typed ten times too high; entered again.",
        )

    def _bill_duty_late(self, lot: Lot, days_ago: int) -> None:
        day = self.loft.diary.ago(days_ago)
        delivery = lot.delivery_line.delivery
        facts = CorrectionFacts(
            home_currency="GBP",
            delivery={"duty": delivery.duty + millionths("7.40")},
            reason="Clearance fee billed three weeks after the parcel",
        )
        correct_delivery(
            delivery=delivery, facts=facts, submission=self.loft.submission(self.loft.owner, day)
        )

    def _still_open(
        self, house: str, ordered: int, expected: int, wanted: Sequence[tuple[str, int]]
    ) -> Order:
        diary = self.loft.diary
        lines = []
        for name, packs in wanted:
            supply = self.loft.supply(house, name)
            written = WRITTEN_AS_TYPED.get((house, name, supply.pack_size), "")
            lines.append(PackedLine(supply.material, supply.pack_size, packs * supply.price, packs, written))
        facts = OrderFacts(
            self.loft.suppliers[house],
            diary.ago(ordered),
            lines,
            diary.ago(expected),
            sent_on=diary.ago(ordered),
            sent_by=SentBy.EMAIL,
        )
        submission = self.loft.submission(self.loft.owner, diary.ago(ordered))
        return place_order(facts=facts, submission=submission)
