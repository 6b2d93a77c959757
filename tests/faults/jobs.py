"""What the worker processes do. Each job runs with Django pointed at one database, and answers in plain values.

Every job takes `say`, which tells the other side something at once, and `meet`, which waits for the others.
"""

import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from typing import Any

from django.core.management import call_command
from django.db import OperationalError
from django.db.models import Count, F, Max, Sum
from django.utils import timezone

from costing.errors import PieceError
from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from costing.selling.models import Sale
from inventory.errors import CannotReverse, KeyReused, NotEnough
from inventory.ledger import verification as books
from inventory.ledger.models import Books, Lot, LotBalance, Posting, Reason
from inventory.ledger.reversals import reverse
from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Pour, Session
from inventory.stock.actions.lots import write_off
from studio.accounts.models import TokenScope, User
from studio.accounts.tokens import add_token
from studio.errors import MeniscusError
from tests import making
from tests.costing.stories import POURED_ON, make_channel, moved_to
from tests.days import TODAY
from tests.factories import UserFactory
from tests.inventory.invariants import assert_books_hold

Say = Callable[[Any], None]
Meet = Callable[[], Any]

PAINT_IN_MIX, MEDIUM_IN_MIX, STRAIGHT = 20, 10, 5
PENNY = 10_000  # an invoice has no smaller coin
PLENTY = 10**9
POURS_A_SESSION = 2
PAINT_A_SESSION = PAINT_IN_MIX + POURS_A_SESSION * STRAIGHT


@dataclass(frozen=True)
class Scene:
    """The shelf that a story starts with, by primary keys, so that it can be handed to any process."""

    owner: int
    paint: int
    lots: tuple[int, ...]
    medium: int
    canvas: int
    version: int
    reason: int

    def of(self, model: Any, key: int) -> Any:
        return model.objects.get(pk=key)


@dataclass
class Tally:
    """How a worker's requests went: the longest that one of them took, and the seconds that all of them did."""

    posted: int = 0
    refused: int = 0
    errors: list[str] = field(default_factory=list)
    worst_wait: float = 0.0
    seconds: float = 0.0
    answers: dict[str, int] = field(default_factory=dict)

    def count(self, request: Callable[[], Any], refusal: type[MeniscusError] = NotEnough) -> Any:
        """Make one request and note how it went. Nothing but the expected refusal may stand in its way."""
        started = time.monotonic()
        try:
            made = request()
            self.posted += 1
        except refusal:
            made = None
            self.refused += 1
        except Exception as error:
            made = None
            self.errors.append(repr(error))
        waited = time.monotonic() - started
        self.worst_wait, self.seconds = max(self.worst_wait, waited), self.seconds + waited
        return made

    @classmethod
    def together(cls, tallies: Sequence["Tally"]) -> "Tally":
        return cls(
            posted=sum(tally.posted for tally in tallies),
            refused=sum(tally.refused for tally in tallies),
            errors=[error for tally in tallies for error in tally.errors],
            worst_wait=max(tally.worst_wait for tally in tallies),
            seconds=max(tally.seconds for tally in tallies),
        )


def migrate(*, say: Say, meet: Meet) -> None:
    call_command("migrate", verbosity=0, skip_checks=True)


def stock_shelf(*, paint_in_lots: Sequence[int], say: Say, meet: Meet) -> Scene:
    """A paint in several lots, a medium, a canvas, and a recipe of the first two.

    The lots' costs do not divide evenly, so that every draw has to round.
    """
    owner, canvas = making.make_owner(), making.make_surface(name="Canvas")
    paint, medium, thinned = (
        making.make_material(name=name) for name in ("Harbour blue", "Pouring medium", "Thinned blue")
    )
    merchant = making.make_supplier(name="Breakwater Colours")
    lines = [(paint, quantity, (quantity * 7 // PENNY + 3) * PENNY) for quantity in paint_in_lots]
    rest = [(medium, PLENTY, PLENTY * 3 + PENNY), (canvas, PLENTY, PLENTY * 5 + PENNY)]
    delivery = making.make_delivery(lines=[*lines, *rest], by=owner, on=POURED_ON, supplier=merchant)
    lots = delivery.lines.order_by("pk").values_list("lot_id", flat=True)[: len(paint_in_lots)]
    version = making.make_recipe(parts=[(paint, 2), (medium, 1)], makes=thinned, name=thinned.name)
    return Scene(owner.pk, paint.pk, tuple(lots), medium.pk, canvas.pk, version.pk, making.the_reason().pk)


def session_facts(scene: Scene, held_on: date = TODAY) -> SessionFacts:
    """One mix, poured on two canvases, with a little paint straight from the bottle."""
    paint, medium, canvas = (scene.of(Material, key) for key in (scene.paint, scene.medium, scene.canvas))
    mix = MixFacts(
        version=RecipeVersion.objects.select_related("recipe__makes").get(pk=scene.version),
        ingredients=[Ingredient(paint, PAINT_IN_MIX), Ingredient(medium, MEDIUM_IN_MIX)],
        leftover=Mix.Leftover.RESIDUE,
    )
    doses = [Dose(12, mix=0), Dose(STRAIGHT, material=paint)]
    pour = PourFacts(technique=making.the_technique(), doses=doses, surface=canvas)
    return SessionFacts(held_on=held_on, mixes=[mix], pours=[pour] * POURS_A_SESSION)


def spill(scene: Scene, quantity: int, key: str = "") -> Posting:
    """Write some of the scene's last lot of paint off."""
    lot = Lot.objects.select_related("material").get(pk=scene.lots[-1])
    owner, reason = scene.of(User, scene.owner), scene.of(Reason, scene.reason)
    return write_off(
        lot=lot, quantity=quantity, reason=reason, submission=making.make_submission(by=owner, key=key)
    )


def let_programs_in(*, count: int, say: Say, meet: Meet) -> list[str]:
    """Let so many programs sign in with a token, each as a helper of its own."""
    helpers = [UserFactory.create(username=f"program {number}") for number in range(count)]
    made = [
        add_token(user=helper, name=helper.username, scope=TokenScope.WRITE, days=1, at=timezone.now())
        for helper in helpers
    ]
    return [text for _, text in made]


def log_and_write_off(*, scene: Scene, name: str, count: int, say: Say, meet: Meet) -> Tally:
    """Log sessions and write a little paint off in turn, all from the same few lots."""
    owner, facts, tally = scene.of(User, scene.owner), session_facts(scene), Tally()

    def request(turn: int) -> object:
        key = f"{name}-{turn}"
        if turn % 2:
            return spill(scene, 1, key)
        return log_session(facts=facts, submission=making.make_submission(by=owner, key=key))

    meet()
    for turn in range(count):
        tally.count(partial(request, turn))
    return tally


def take(*, scene: Scene, count: int, say: Say, meet: Meet) -> Tally:
    """Take one thousandth of a lot, again and again."""
    tally = Tally()
    meet()
    for _ in range(count):
        tally.count(partial(spill, scene, 1))
    return tally


def send_again(*, scene: Scene, keys: Sequence[str], say: Say, meet: Meet) -> Tally:
    """Send one request for each key at the same moment as everybody else does, then each with other contents."""
    tally = Tally()
    for key in keys:
        meet()
        posting = tally.count(partial(spill, scene, 7, key))
        tally.answers[key] = posting.number if posting else 0
    for key in keys:
        tally.count(partial(spill, scene, 8, key), refusal=KeyReused)
    return tally


def spill_some(*, scene: Scene, count: int, say: Say, meet: Meet) -> list[int]:
    """Make postings to be taken back."""
    return [spill(scene, 3).number for _ in range(count)]


def take_back(*, scene: Scene, postings: Sequence[int], say: Say, meet: Meet) -> Tally:
    """Reverse each posting at the same moment as everybody else does."""
    owner, tally = scene.of(User, scene.owner), Tally()
    for number in postings:
        posting = Posting.objects.get(pk=number)
        meet()
        tally.count(
            partial(reverse, posting=posting, submission=making.make_submission(by=owner)),
            refusal=CannotReverse,
        )
    return tally


def make_pieces(*, scene: Scene, count: int, say: Say, meet: Meet) -> list[int]:
    """Make pieces that are for sale."""
    owner, facts = scene.of(User, scene.owner), session_facts(scene, POURED_ON)
    for number in range(count):
        session = log_session(
            facts=replace(facts, pours=facts.pours[:1]), submission=making.make_submission(by=owner)
        )
        piece = make_piece(
            facts=PieceFacts(title=f"Low water {number}", pours=session.pours.all()),
            submission=making.make_submission(by=owner),
        )
        moved_to(piece, State.FOR_SALE)
    make_channel()
    return list(Piece.objects.values_list("pk", flat=True))


def sell_each(*, scene: Scene, pieces: Sequence[int], say: Say, meet: Meet) -> Tally:
    """Sell each piece at the same moment as everybody else does."""
    owner, channel, tally = scene.of(User, scene.owner), make_channel(), Tally()
    for key in pieces:
        piece = Piece.objects.get(pk=key)
        selling = partial(
            sell, piece=piece, channel=channel, price=30_000_000, submission=making.make_submission(by=owner)
        )
        meet()
        tally.count(selling, refusal=PieceError)
    return tally


def post_until_killed(*, scene: Scene, name: str, start: int, say: Say, meet: Meet) -> str:
    """Log session after session and acknowledge each once it is committed. Ends when the server goes away."""
    owner, facts = scene.of(User, scene.owner), session_facts(scene)
    turn = start
    try:
        while True:
            session = log_session(
                facts=facts, submission=making.make_submission(by=owner, key=f"{name}-{turn}")
            )
            say((f"{name}-{turn}", session.posting_id))
            turn += 1
    except OperationalError as error:
        return str(error)


def look_over(*, say: Say, meet: Meet) -> None:
    """The product's own check of the books finds nothing."""
    report = books.check()
    assert report.is_clean, report.breaks


def look_through(*, say: Say, meet: Meet) -> dict[str, Any]:
    """Check every rule of the books, and say what they hold."""
    assert_books_hold()
    _assert_nothing_half_written()
    look_over(say=say, meet=meet)
    left = LotBalance.objects.values_list("lot__material").annotate(Sum("quantity"))
    kinds = Counter(Posting.objects.values_list("kind", flat=True))
    return {
        "postings": Books.objects.get().last_number,
        "kinds": dict(kinds),
        "left": dict(left),
        "keys": dict(Posting.objects.exclude(key="").order_by("number").values_list("key", "number")),
        "sold": Pour.objects.filter(entries__place="sold").distinct().count(),
        "sales": Sale.objects.count(),
    }


def _assert_nothing_half_written() -> None:
    """Each session stands whole with its mix and its pours, and no row stands without a posting."""
    sessions = Session.objects.annotate(mixed=Count("mixes"))
    assert not sessions.exclude(posting__kind="session").exists()
    assert not sessions.exclude(mixed=1).exists()
    poured = Session.objects.annotate(poured=Count("pours"), last=Max("pours__number"))
    assert not poured.exclude(poured__gt=0, poured=F("last")).exists()
    assert Session.objects.count() == Posting.objects.filter(kind="session").count()
    assert not Lot.objects.filter(entries__isnull=True).exists()
