"""Whatever happens in the studio, in whatever order, the books hold and agree with a plain second set of them."""

from datetime import date, timedelta
from itertools import groupby
from operator import itemgetter

import pytest
from django.db.models import Sum
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule, run_state_machine_as_test

from inventory.ledger import verification as books
from inventory.ledger.models import CostingMethod, Entry, EntryRole, Lot, Posting, PostingKind
from inventory.ledger.reversals import reverse
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock, receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import Delivery
from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.models import Mix
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import SessionFacts, log_session
from inventory.sessions.actions.throwing_away import ThrowAwayFacts, throw_away
from inventory.sessions.actions.work import with_poured_over
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant, write_off
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests import making
from tests.days import TODAY
from tests.inventory.any_studio import StudioBesidePlainBooks, grams, pick, plain_lot
from tests.inventory.invariants import assert_books_hold
from tests.inventory.oracle import shares_of

quantities = st.integers(1, 12) | st.integers(1, 3_000)
costs = st.integers(0, 20) | st.integers(0, 5_000_000)
picks = st.integers(0, 30)
days = st.just(TODAY) | st.integers(0, 6).map(lambda ago: TODAY - timedelta(days=ago))
mostly = st.sampled_from([True, True, False])
leftovers = st.sampled_from(list(Mix.Leftover))
PENNY = 10_000  # an invoice has no smaller coin
LATEST = 100  # postings that are looked at for one to take back


class AnyStudio(StudioBesidePlainBooks):
    """Random days in a studio. Every refusal must leave the books as they were; every posting must agree."""

    # What comes in

    @initialize(amounts=st.lists(st.tuples(quantities, costs), min_size=6, max_size=6))
    def open_the_books(self, amounts: list[tuple[int, int]]) -> None:
        lines = [
            OpeningLine(material, quantity * 1_000, money)
            for material, (quantity, money) in zip(self.bought, amounts, strict=True)
        ]
        posting = open_stock(
            lines=lines,
            submission=making.make_submission(by=self.owner, on=TODAY - timedelta(days=6), at=self.at),
        )
        for lot, line in zip(Lot.objects.filter(entries__posting=posting).order_by("pk"), lines, strict=True):
            self.tell_received(posting, lot, line.quantity, line.money)

    @rule(
        lines=st.lists(st.tuples(picks, quantities, costs), min_size=1, max_size=4),
        carriage=costs,
        duty=costs,
        by_weight=st.booleans(),
        on=days,
    )
    def deliver(
        self, lines: list[tuple[int, int, int]], carriage: int, duty: int, by_weight: bool, on: date
    ) -> None:
        received = [
            LineFacts(pick(self.bought, which), quantity, price * PENNY) for which, quantity, price in lines
        ]
        carriage, duty = carriage * PENNY, duty * PENNY
        facts = making.delivery_facts(
            lines=received,
            received_on=on,
            carriage=carriage,
            carriage_shared_by="mass" if by_weight else "value",
            duty=duty,
        )
        delivery = self.attempt(
            lambda: receive_delivery(
                facts=facts, submission=making.make_submission(by=self.owner, at=self.at)
            )
        )
        if delivery is None:
            return
        values = [line.price for line in received]
        values_or_evenly = values if any(values) else [1] * len(values)
        weights = (
            [grams(line.material, line.quantity) for line in received] if by_weight else values_or_evenly
        )
        extras = zip(shares_of(carriage, weights), shares_of(duty, values_or_evenly), strict=True)
        lots = Lot.objects.filter(delivery_line__delivery=delivery).order_by("pk")
        for lot, line, value, extra in zip(lots, received, values, extras, strict=True):
            self.tell_received(delivery.posting, lot, line.quantity, value + sum(extra))

    # What is mixed and poured

    @rule(which=picks, quantity=quantities, on=days, confirm=mostly, measured=st.none() | quantities)
    def mix(self, which: int, quantity: int, on: date, confirm: bool, measured: int | None) -> None:
        facts = self.attempt(lambda: self.batch(which, quantity, measured=measured))
        if facts is None:
            return
        last = Posting.objects.count()
        mix = self.attempt(
            lambda: make_mix(
                facts=facts,
                confirm_gain=confirm,
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        if mix is not None:
            self.adopt_gain(last)
            self.tell_stirred(mix, facts, on)

    def session_facts(
        self,
        batches: list[tuple[int, int, str]],
        pours: list[tuple[int, bool, bool, int, int]],
        gloves: int | None,
        on: date,
    ) -> SessionFacts:
        mixed = [self.batch(which, quantity, leftover=leftover) for which, quantity, leftover in batches]
        return SessionFacts(
            held_on=on,
            mixes=mixed,
            pours=[self.pour_facts(*pour, mixed=mixed, share_of=len(pours)) for pour in pours],
            sundries=[Ingredient(self.gloves, gloves)] if gloves else [],
        )

    @rule(
        batches=st.lists(st.tuples(picks, quantities, leftovers), max_size=2),
        pours=st.lists(
            st.tuples(picks, st.booleans(), st.booleans(), quantities, picks), min_size=1, max_size=3
        ),
        gloves=st.none() | quantities,
        on=days,
        confirm=mostly,
    )
    def pour(
        self,
        batches: list[tuple[int, int, str]],
        pours: list[tuple[int, bool, bool, int, int]],
        gloves: int | None,
        on: date,
        confirm: bool,
    ) -> None:
        facts = self.attempt(lambda: self.session_facts(batches, pours, gloves, on))
        if facts is None:
            return
        last = Posting.objects.count()
        session = self.attempt(
            lambda: log_session(
                facts=facts,
                confirm_gain=confirm,
                submission=making.make_submission(by=self.owner, at=self.at),
            )
        )
        if session is None:
            return
        self.adopt_gain(last)
        made = list(session.mixes.order_by("pk"))
        poured = list(session.pours.order_by("number"))
        for mix, batch in zip(made, facts.mixes, strict=True):
            self.tell_stirred(mix, batch, on)
        self.tell_poured(session.posting_id, facts, made, poured)
        self.pours += poured
        self.sessions.append((session, facts))

    # What is moved, lost, counted

    @rule(which=picks, quantity=quantities, on=days)
    def decant(self, which: int, quantity: int, on: date) -> None:
        lot = pick(self.lots, which)
        jar = self.attempt(
            lambda: decant(
                lot=lot,
                quantity=quantity,
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        if jar is not None:
            self.lots.append(jar)
            self.plain.lots[jar.pk] = plain_lot(jar)
            number = Posting.objects.filter(kind=PostingKind.DECANT).latest("number").number
            self.plain.draw(
                number, lot.material_id, quantity, ("lot", jar.pk), on=on, chosen=lot.pk, only=True
            )

    @rule(which=picks, quantity=quantities, on=days)
    def write_off(self, which: int, quantity: int, on: date) -> None:
        lot, reason = pick(self.lots, which), making.the_reason()
        posting = self.attempt(
            lambda: write_off(
                lot=lot,
                quantity=quantity,
                reason=reason,
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        if posting is not None:
            loss = ("loss", reason.pk)
            self.plain.draw(posting.number, lot.material_id, quantity, loss, on=on, chosen=lot.pk, only=True)

    @rule(counted=st.lists(st.tuples(picks, st.integers(0, 3_000)), min_size=1, max_size=3), on=days)
    def count(self, counted: list[tuple[int, int]], on: date) -> None:
        counts = [Count(pick(self.lots, which), found) for which, found in counted]
        last = Posting.objects.count()
        stocktake = self.attempt(
            lambda: post_stocktake(
                counts=counts, submission=making.make_submission(by=self.owner, on=on, at=self.at)
            )
        )
        if stocktake is not None and stocktake.posting is not None:
            self.adopt(Posting.objects.get(number=last + 1))
        for count in counts if stocktake is not None else ():
            assert self.plain.held_on(on, count.lot.pk) == count.counted

    # What becomes of the work

    @precondition(lambda self: self.pours)
    @rule(which=st.lists(picks, min_size=1, max_size=2), quantity=quantities, on=days)
    def finish(self, which: list[int], quantity: int, on: date) -> None:
        pours = list(dict.fromkeys(pick(self.pours, number) for number in which))
        posting = self.attempt(
            lambda: making.charge(
                pours=pours,
                materials=[Ingredient(self.gloves, quantity)],
                role=EntryRole.PACKING,
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        if posting is not None:
            for pour, part in zip(pours, shares_of(quantity, [pour.area for pour in pours]), strict=True):
                self.plain.draw(posting.number, self.gloves.pk, part, ("work", pour.pk), on=on)

    @precondition(lambda self: self.pours)
    @rule(which=picks, on=days)
    def sell(self, which: int, on: date) -> None:
        pours = with_poured_over([pick(self.pours, which)])
        posting = self.attempt(lambda: making.sell(pours=pours, on=on, at=self.at))
        self.tell_left_work(posting, {pour.pk: ("sold", pour.pk) for pour in pours})

    @precondition(lambda self: self.pours)
    @rule(which=picks, on=days)
    def write_off_piece(self, which: int, on: date) -> None:
        pour, reason = pick(self.pours, which), making.the_reason("ruined")
        posting = self.attempt(
            lambda: making.ruin(
                pours=[pour],
                reason=reason,
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        self.tell_left_work(posting, {pour.pk: ("loss", reason.pk)})

    @precondition(lambda self: any(pour.outcome == "failed" for pour in self.pours))
    @rule(which=picks, on=days, is_normal=mostly)
    def throw_away(self, which: int, on: date, is_normal: bool) -> None:
        pour = pick([pour for pour in self.pours if pour.outcome == "failed"], which)
        reason = None if is_normal else making.the_reason("ruined")
        posting = self.attempt(
            lambda: throw_away(
                facts=ThrowAwayFacts([pour], reason),
                submission=making.make_submission(by=self.owner, on=on, at=self.at),
            )
        )
        if posting is not None:
            self.tell_thrown_away(posting, pour, ("loss", reason.pk) if reason else None)

    # What is put right

    @rule(
        which=picks,
        difference=st.integers(-2_000, 2_000).filter(bool),
        more=st.just(0) | st.integers(-500, 2_000),
    )
    def correct(self, which: int, difference: int, more: int) -> None:
        lot = pick(self.lots, which)
        posting = self.attempt(
            lambda: making.correct(lot=lot, difference=difference, quantity=more, at=self.at)
        )
        if posting is not None:
            assert posting.corrects_id is not None
            self.plain.correct(posting.number, posting.corrects_id, lot.pk, difference, more)

    @precondition(lambda self: self.sessions)
    @rule(
        which=picks,
        tenths=st.integers(1, 20),
        paint=st.none() | picks,
        count=st.integers(-1, 1),
        confirm=mostly,
    )
    def correct_session(self, which: int, tenths: int, paint: int | None, count: int, confirm: bool) -> None:
        """So many tenths of everything, perhaps of another paint, and a pour more or less."""
        place = which % len(self.sessions)
        session, facts = self.sessions[place]
        truth = self.attempt(lambda: self.put_right(session, facts, tenths, paint, count))
        if truth is None:
            return
        last = Posting.objects.count()
        corrected = self.attempt(
            lambda: correct_session(
                session=session,
                facts=truth,
                confirm_gain=confirm,
                submission=making.make_submission(by=self.owner, at=self.at),
            )
        )
        if corrected is None:
            return
        self.adopt_gain(last)
        self.sessions[place] = session, truth
        added = set(session.pours.all()) - set(self.pours)
        self.pours = [pour for pour in self.pours if Pour.objects.filter(pk=pour.pk).exists()]
        self.pours += sorted(added, key=lambda pour: pour.number)
        self.tell_put_right(session.posting_id)

    @rule(which=picks, on=days)
    def redate(self, which: int, on: date) -> None:
        deliveries = list(Delivery.objects.order_by("pk"))
        if deliveries:
            delivery = pick(deliveries, which)
            posting = self.attempt(
                lambda: making.correct_delivery(delivery, by=self.owner, at=self.at, received_on=on)
            )
            if posting is not None:
                self.plain.redate(posting.number, delivery.posting_id, on)

    @rule(which=picks, any_kind=mostly.map(lambda often: not often))
    def reverse(self, which: int, any_kind: bool) -> None:
        postings = Posting.objects.order_by("-number")
        if not any_kind:
            postings = postings.exclude(kind=PostingKind.REVERSAL)
        posting = pick(list(postings[:LATEST]), which)
        reversal = self.attempt(
            lambda: reverse(posting=posting, submission=making.make_submission(by=self.owner, at=self.at))
        )
        if reversal is not None:
            self.plain.reverse(reversal.number, posting.number, reversal.effective_on)

    @rule(minutes=st.integers(-90, 240))
    def wait(self, minutes: int) -> None:
        """Clocks run on, and are sometimes put back."""
        self.at += timedelta(minutes=minutes)

    @invariant()
    def the_books_hold(self) -> None:
        assert_books_hold()
        assert books.check().breaks == ()

    @invariant()
    def the_plain_books_agree_at_the_end_of_every_business_day(self) -> None:
        columns = "effective_on", "place", "lot", "pour", "reason", "material"
        rows = Entry.objects.order_by("effective_on").values_list(*columns)
        changes = rows.annotate(Sum("quantity"), Sum("money"))
        changed = {day: list(each) for day, each in groupby(changes, key=itemgetter(0))}
        ends = dict(self.plain.ends_of_days())
        plain: dict[tuple[tuple[str, int], int], tuple[int, int]] = {}
        real = plain
        for day in sorted({*ends, *changed}):
            plain = ends.get(day, plain)
            real = dict(real)
            for _on, place, lot, pour, reason, material, quantity, money in changed.get(day, ()):
                key = (place, lot or pour or reason or 0), material
                before = real.get(key, (0, 0))
                real[key] = before[0] + quantity, before[1] + money
            real = {key: amounts for key, amounts in real.items() if any(amounts)}
            assert {key: amounts for key, amounts in real.items() if key[0][0] != "mix"} == plain


@pytest.mark.django_db
@pytest.mark.parametrize("flow", CostingMethod)
def test_the_books_hold_whatever_happens(flow: CostingMethod) -> None:
    class Studio(AnyStudio):
        costing_method = flow

    # Every example is a history of up to 25 events, so a quarter as many examples look just as far.
    many = settings.get_profile(settings.get_current_profile_name()).max_examples
    run_state_machine_as_test(Studio, settings=settings(max_examples=many // 4, stateful_step_count=25))
