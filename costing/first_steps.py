"""The way from an empty studio to its first price list, step by step."""

from dataclasses import dataclass

from costing.models import Piece, SellingRoute
from costing.states import State
from inventory.models import Material, Posting, PostingKind, Recipe, Session
from studio.models import Studio

LISTED = (State.FOR_SALE, State.RESERVED, State.SOLD)
UNNAMED = Studio._meta.get_field("name").default


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One step: what to do, why, the page it is done on, and whether it is done."""

    title: str
    text: str
    to: str
    is_done: bool
    is_for_owner: bool = False
    shows_money: bool = False
    may_wait: bool = False


def first_steps(studio: Studio) -> list[FirstStep]:
    """Every step in its order; none any more once a piece has been priced and put up for sale."""
    if Piece.objects.filter(price__isnull=False, state__in=LISTED).exists():
        return []
    return _setting_up(studio) + _making()


def _setting_up(studio: Studio) -> list[FirstStep]:
    posted = set(Posting.objects.order_by().values_list("kind", flat=True).distinct())
    return [
        FirstStep(
            "Settle how the studio works",
            "Its name, its currency, what an hour of work costs, where you sell. How costs are counted is chosen "
            "before anything is posted.",
            "admin:index",
            studio.name != UNNAMED or SellingRoute.objects.exists(),
            is_for_owner=True,
        ),
        FirstStep(
            "List your materials",
            "Paints, media, canvases, varnish, boxes: whatever is used up.",
            "admin:inventory_material_changelist",
            Material.objects.filter(is_free=False).exists(),
            is_for_owner=True,
        ),
        FirstStep(
            "Enter what is on the shelf",
            "Count once what stands there today. From now on each parcel is logged as a delivery.",
            "inventory:opening-stock",
            bool(posted & {PostingKind.OPENING, PostingKind.DELIVERY}),
        ),
        FirstStep(
            "Write down a recipe",
            "So many parts of this to so many of that: every cup is then worked out for you.",
            "inventory:recipes",
            Recipe.objects.exists(),
            may_wait=True,
        ),
    ]


def _making() -> list[FirstStep]:
    return [
        FirstStep(
            "Log a session",
            "What was mixed and poured. The paint leaves the shelf, and its cost goes into each pour.",
            "inventory:session-new",
            Session.objects.standing().exists(),
        ),
        FirstStep(
            "Make a piece of a pour",
            "It has a cost from the first day, and every hour of finishing adds to it.",
            "costing:piece-new",
            Piece.objects.exists(),
        ),
        FirstStep(
            "Print your first price list",
            "Finish a piece, give it a price, put it up for sale: it is on the list.",
            "costing:price-list",
            is_done=False,
            shows_money=True,
        ),
    ]
