"""The way from an empty studio to its first priced piece, step by step."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from django.db.models import Q
from django.http import HttpRequest
from django.urls import reverse

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces
from costing.pricing.models import SalesChannel
from inventory.ledger.models import Books, Posting, PostingKind
from inventory.materials.models import Kind, Material
from inventory.plans.models import Plan
from inventory.recipes.models import Recipe
from inventory.sessions.models import Session
from studio.accounts.models import User
from studio.preferences.context import current_studio
from studio.preferences.models import Rates, Studio
from studio.translation import _

LISTED = (State.FOR_SALE, State.RESERVED, State.SOLD)
LAST_SAID = (
    "first_step"  # in the session of who is signed in: the step that was named last, and what was done then
)
UNNAMED = Studio._meta.get_field("name").default


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One step: what to do, why, the page it is done on, and whether it is done."""

    title: str
    text: str
    to: str
    is_done: bool
    row: int | None = None
    query: str = ""
    is_for_owner: bool = False
    shows_money: bool = False
    may_wait: bool = False

    @property
    def href(self) -> str:
        return reverse(self.to, args=[] if self.row is None else [self.row]) + self.query

    def is_open_to(self, user: User) -> bool:
        """Whether this person may take the step."""
        return (
            user.may_write
            and (user.is_owner or not self.is_for_owner)
            and (user.sees_money or not self.shows_money)
        )


def first_steps(studio: Studio) -> list[FirstStep]:
    """Every step in its order; none any more once a piece has been priced and put up for sale, or sold."""
    if Piece.objects.filter(Q(price__isnull=False, state__in=LISTED) | Q(state=State.SOLD)).exists():
        return []
    return _setting_up(studio) + _making()


def following(steps: list[FirstStep]) -> FirstStep | None:
    """The step to take next."""
    return next((step for step in steps if not step.is_done and not step.may_wait), None)


def is_in_turn(step: FirstStep, steps: list[FirstStep]) -> bool:
    """Whether nothing was done that comes after a step: whoever is past it goes another way."""
    return not any(each.is_done and not each.may_wait for each in steps[steps.index(step) :])


def for_pages(request: HttpRequest) -> dict[str, Callable[[], FirstStep | None]]:
    """For every page: the way on to the next of the first steps. Nothing is looked up until a page asks for it.

    `new_first_step` names a step after each save that did one, and once while somebody is signed in: not after others.
    """

    def next_and_done() -> tuple[FirstStep | None, list[str]]:
        user: Any = getattr(request, "user", None)
        if request.method != "GET":  # a form that was sent and stands open still is finished first
            return None, []
        if not isinstance(user, User) or not user.may_write:
            return None, []
        steps = first_steps(current_studio(request))
        step = following(steps)
        if step is None or not is_in_turn(step, steps) or not step.is_open_to(user):
            return None, []
        leads_on = urlsplit(step.href).path != request.path
        return step if leads_on else None, [each.to for each in steps if each.is_done]

    def next_first_step() -> FirstStep | None:
        return next_and_done()[0]

    def new_first_step() -> FirstStep | None:
        step, done = next_and_done()
        if step is None or request.session.get(LAST_SAID) == [step.to, *done]:
            return None
        request.session[LAST_SAID] = [step.to, *done]
        return step

    return {"next_first_step": next_first_step, "new_first_step": new_first_step}


def _setting_up(studio: Studio) -> list[FirstStep]:
    posted = set(Posting.objects.order_by().values_list("kind", flat=True).distinct())
    # Without a colour to pour, or nothing to pour it on, the steps after this one would lead nowhere.
    kinds = set(Material.objects.filter(is_free=False).order_by().values_list("kind", flat=True).distinct())
    return [
        FirstStep(
            _("Set up the studio"),
            _("Its name, currency and language, number format and fluid ounce."),
            "begin" if studio.confirmed_at is None else "studio-settings",
            studio.name != UNNAMED or studio.confirmed_at is not None,
            is_for_owner=True,
        ),
        FirstStep(
            _("Enter your hourly rate"),
            _("What an hour of your work costs, your overhead, and the tax in your prices."),
            "rates-new",
            Rates.objects.exists(),
            is_for_owner=True,
            may_wait=True,
        ),
        FirstStep(
            _("Choose a costing method"),
            _("How paint is costed as it is used. It cannot be changed once anything has been recorded."),
            "inventory:costing-method",
            bool(posted) or Books.objects.filter(costing_method_chosen_at__isnull=False).exists(),
            is_for_owner=True,
        ),
        FirstStep(
            _("List your materials"),
            _("Something to pour and something to pour it on; then varnish, boxes and all else you use up."),
            "inventory:material-new" if kinds else "begin-materials",
            Kind.SURFACE in kinds and not kinds.isdisjoint({Kind.PAINT, Kind.MIX}),
            is_for_owner=True,
        ),
        FirstStep(
            _("Enter your opening stock"),
            _("Enter what you have today. From then on, log each delivery."),
            "begin-stock" if not posted else "inventory:opening-stock",
            bool(posted & {PostingKind.OPENING, PostingKind.DELIVERY}),
            shows_money=True,
        ),
        FirstStep(
            _("Add a recipe"),
            _("What goes into a mix, in parts: amounts are then calculated for every cup."),
            "inventory:recipe-new",
            Recipe.objects.exists(),
            may_wait=True,
        ),
    ]


def _making() -> list[FirstStep]:
    piece = standing_pieces().order_by("pk").first()
    session = Session.objects.standing().order_by("-pk").first()
    plan = None if session else Plan.objects.open().first()
    return [
        FirstStep(
            _("Log a session"),
            _(
                "What you mixed and poured. The paint is taken out of stock, and its cost goes into each pour."
            ),
            "inventory:session-new",
            session is not None,
            query=f"?plan={plan.pk}" if plan else "",
        ),
        FirstStep(
            _("Create a piece"),
            _("Made from one or more pours. It carries their cost, and every hour of finishing adds to it."),
            "costing:pieces-of-session" if session else "costing:piece-new",
            piece is not None,
            row=session.pk if session else None,
        ),
        FirstStep(
            _("Add where you sell"),
            _("A stall, a gallery, a web shop, and what each takes of a price."),
            "costing:channel-new",
            SalesChannel.objects.exists(),
            is_for_owner=True,
            may_wait=True,
        ),
        FirstStep(
            _("Price your first piece"),
            _(
                "When it is dry, open it, record the finishing, set its price and offer it for sale. "
                "It is then on your price list, ready to print."
            ),
            "costing:piece" if piece else "costing:pieces",
            is_done=False,
            row=piece.pk if piece else None,
            query="#price" if piece and piece.state not in (State.WET, State.DRY) else "",
            shows_money=True,
        ),
    ]
