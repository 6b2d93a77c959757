"""Every page that an owner can open, collected from the URL configuration, with sample keys from the demo."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import Count, Model, QuerySet
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from costing.commissions.models import Commission, CommissionPayment
from costing.consignments.models import Consignment
from costing.contacts.models import Contact
from costing.locations.models import Location
from costing.markets.models import MarketDay
from costing.overhead.models import OverheadLine, OverheadYear
from costing.pieces.models import Piece, PieceState
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.models import Refund, Sale, SaleLine
from inventory.alerts.models import Alert
from inventory.comparisons.models import ComparedPour, Comparison, PhotoCount
from inventory.ledger.models import Lot, Posting, Reason
from inventory.materials.models import Material, Supplier, Supply
from inventory.plans.models import Plan
from inventory.purchasing.models import Delivery, Order
from inventory.recipes.models import Ratio, Recipe
from inventory.sessions.models import Flaw, Pour, Session, SessionPhoto, Technique
from inventory.stock.actions.opening_stock import opening_stock
from inventory.stock.models import Stocktake
from studio.accounts.models import User
from studio.issued.models import IssuedPaper
from studio.preferences.models import Rates
from tests.browser.unvisited import FILES, ONLY_SENT

# Pages whose table comes as a CSV file too.
LISTS = (
    "change-log",
    "costing:markets",
    "inventory:alerts",
    "inventory:comparisons",
    "inventory:deliveries",
    "inventory:materials",
    "inventory:order",
    "inventory:orders",
    "inventory:plans",
    "inventory:posting",
    "inventory:postings",
    "inventory:pour",
    "inventory:ratios",
    "inventory:recipe",
    "inventory:recipes",
    "inventory:sessions",
    "inventory:shopping-list",
    "inventory:stock",
    "inventory:stocktake",
    "inventory:stocktakes",
    "inventory:suppliers",
    "costing:commission",
    "costing:commissions",
    "costing:consignment",
    "costing:consignments",
    "costing:contact",
    "costing:location",
    "costing:locations",
    "costing:pieces",
    "costing:earnings",
    "costing:year-end",
    "costing:year-end-owned",
    "costing:sales",
    "costing:slow-sellers",
)
# No backup is made in the demo, it is fit to serve only after a check of its books, and
# nobody there has codes on: `test_codes.py` looks at the pages of somebody who has.
NOT_IN_THE_DEMO = {
    "backup-download",
    "health-ready",
    "login-code",
    "inventory:calendar-feed",
    "first-owner",  # these three are closed once a studio has begun
    "begin",
    "begin-stock",
    "inventory:webhook",  # none is added there
    "inventory:webhook-edit",
    "inventory:webhook-delete",
}


@dataclass(frozen=True, slots=True)
class Stop:
    """One page to look at: a url name, and what is chosen on it."""

    name: str
    note: str = ""
    query: Callable[[], str] = str
    sample: Callable[[], Model | None] | None = None

    def __str__(self) -> str:
        return f"{self.name} {self.note}".strip()

    def address(self) -> str:
        """Where it is in the demo that stands in the database now."""
        keys = []
        if self.sample is not None:
            found = self.sample()
            if found is None:
                raise LookupError(f"The demo holds nothing to show on {self}.")
            keys.append(found.pk)
        return reverse(self.name, args=keys) + self.query()


def _first(rows: Callable[[], QuerySet[Any]]) -> Callable[[], Model | None]:
    return lambda: rows().first()


def _piece(*states: str) -> Callable[[], Model | None]:
    return _first(lambda: Piece.objects.filter(state__in=states).order_by("-pk"))


def _material() -> QuerySet[Material]:
    """The paint that moves most."""
    return Material.objects.filter(kind="paint").annotate(moves=Count("entries")).order_by("-moves")


def _supplier() -> QuerySet[Supplier]:
    """The one that sells most."""
    return Supplier.objects.annotate(packs=Count("supplies")).order_by("-packs", "pk")


def _lot() -> QuerySet[Lot]:
    """A delivered lot with something left in it."""
    return Lot.objects.filter(balance__quantity__gt=0, delivery_line__isnull=False).order_by("pk")


def _made_medium() -> Recipe:
    return Recipe.objects.filter(makes__kind="medium").order_by("pk")[0]


def _posting() -> QuerySet[Posting]:
    return Posting.objects.filter(session__isnull=False).order_by("-number")


def _comparison() -> QuerySet[Comparison]:
    return Comparison.objects.order_by("pk")


# The object shown wherever an address names one; the richest that the demo holds.
def _paint_by_volume() -> QuerySet[Material]:
    return _material().filter(measure="volume")


SAMPLES: dict[str, Callable[[], Model | None]] = {
    "inventory:alert": _first(lambda: Alert.objects.standing().order_by("pk")),
    "inventory:material": _first(_material),
    "inventory:material-edit": _first(_material),
    "inventory:material-density": _first(_paint_by_volume),
    "inventory:material-delete": _first(_material),
    "inventory:shopping-choose": _first(
        lambda: Material.objects.filter(alerts__cleared_at__isnull=True, supplies__isnull=False).order_by(
            "pk"
        )
    ),
    "inventory:supplier": _first(_supplier),
    "inventory:supplier-edit": _first(_supplier),
    "inventory:supplier-delete": _first(_supplier),
    "inventory:pack-edit": _first(lambda: Supply.objects.order_by("pk")),
    "inventory:pack-delete": _first(lambda: Supply.objects.order_by("pk")),
    "inventory:technique-edit": _first(lambda: Technique.objects.order_by("pk")),
    "inventory:technique-delete": _first(lambda: Technique.objects.order_by("pk")),
    "inventory:reason-edit": _first(lambda: Reason.objects.order_by("pk")),
    "inventory:lot": _first(_lot),
    "inventory:lot-edit": _first(_lot),
    "inventory:write-off": _first(_lot),
    "inventory:decant": _first(_lot),
    "inventory:stocktake": _first(lambda: Stocktake.objects.order_by("-pk")),
    "inventory:session": _first(lambda: Session.objects.order_by("-pk")),
    "inventory:session-photo": _first(lambda: SessionPhoto.objects.order_by("pk")),
    "inventory:session-thumbnail": _first(lambda: SessionPhoto.objects.order_by("pk")),
    **{
        f"inventory:comparison{page}": _first(_comparison)
        for page in ("", "-edit", "-pours", "-codes", "-score", "-report", "-recipes", "-recipes-text")
    },
    "inventory:comparison-piece-photo": _first(
        lambda: ComparedPour.objects.filter(pour__photos__isnull=False)
    ),
    "inventory:comparison-piece-count": _first(
        lambda: ComparedPour.objects.filter(photo_counts__isnull=False)
    ),
    "inventory:comparison-count": _first(lambda: PhotoCount.objects.order_by("pk")),
    "inventory:comparison-count-picture": _first(lambda: PhotoCount.objects.order_by("pk")),
    "inventory:session-correct": _first(lambda: Session.objects.order_by("-pk")),
    "inventory:session-throw-away": _first(lambda: Session.objects.filter(pours__outcome="failed")),
    "inventory:technique-paint": _first(lambda: Technique.objects.order_by("pk")),
    "inventory:session-judge": _first(lambda: Session.objects.filter(pours__isnull=False).order_by("-pk")),
    "inventory:session-weigh": _first(lambda: Session.objects.filter(pours__isnull=False).order_by("-pk")),
    "inventory:flaw-edit": _first(lambda: Flaw.objects.order_by("pk")),
    "inventory:flaw-delete": _first(lambda: Flaw.objects.order_by("pk")),
    "inventory:pour": _first(lambda: Pour.objects.order_by("-pk")),
    "inventory:recipe": _first(lambda: Recipe.objects.annotate(n=Count("versions")).order_by("-n", "pk")),
    "inventory:ratio-edit": _first(lambda: Ratio.objects.order_by("pk")),
    "inventory:cup": _first(lambda: Recipe.objects.filter(makes__kind="mix").order_by("pk")),
    "inventory:recipe-version": _first(lambda: Recipe.objects.order_by("pk")),
    "inventory:recipe-duplicate": _first(lambda: Recipe.objects.order_by("pk")),
    "inventory:recipe-for-paints": _first(lambda: Recipe.objects.filter(makes__kind="mix").order_by("pk")),
    "inventory:recipe-colour": _first(lambda: Recipe.objects.filter(makes__kind="mix").order_by("pk")),
    "inventory:delivery": _first(lambda: Delivery.objects.annotate(n=Count("lines")).order_by("-n")),
    "inventory:delivery-correct": _first(lambda: Delivery.objects.order_by("-pk")),
    "inventory:opening-stock-correct": _first(lambda: opening_stock().order_by("pk")),
    "inventory:order": _first(lambda: Order.objects.order_by("-pk")),
    "inventory:order-edit": _first(lambda: Order.objects.filter(is_closed=False).order_by("-pk")),
    "inventory:order-chase": _first(lambda: Order.objects.filter(is_closed=False).order_by("-pk")),
    "inventory:order-paper": _first(lambda: Order.objects.order_by("-pk")),
    "inventory:bench": _first(lambda: Plan.objects.open().order_by("-pk")),
    "inventory:mixing-sheet": _first(lambda: Plan.objects.order_by("-pk")),
    "inventory:plan": _first(lambda: Plan.objects.order_by("-pk")),
    "inventory:plan-edit": _first(lambda: Plan.objects.order_by("-pk")),
    "inventory:plan-delete": _first(lambda: Plan.objects.order_by("-pk")),
    "inventory:posting": _first(_posting),
    "inventory:posting-reverse": _first(_posting),
    "costing:piece": _piece(PieceState.FOR_SALE),
    "costing:piece-edit": _piece(PieceState.FOR_SALE),
    "costing:pieces-of-session": _first(
        lambda: Session.objects.filter(pours__piece_part__piece__state=PieceState.FOR_SALE).order_by("-pk")
    ),
    **{
        f"costing:location{page}": _first(lambda: Location.objects.order_by("pk"))
        for page in ("", "-edit", "-delete")
    },
    **{
        f"costing:consignment{page}": _first(lambda: Consignment.objects.order_by("-pk"))
        for page in ("", "-sold", "-returned", "-paper")
    },
    **{
        f"costing:commission{page}": _first(lambda: Commission.objects.filter(state="open").order_by("pk"))
        for page in ("", "-edit", "-pay", "-cancel", "-reopen")
    },
    "costing:commission-payment-reverse": _first(lambda: CommissionPayment.objects.order_by("pk")),
    **{
        f"costing:contact{page}": _first(lambda: Contact.objects.order_by("pk"))
        for page in ("", "-edit", "-file", "-erase")
    },
    "costing:piece-lend": _piece(PieceState.FOR_SALE),
    "costing:piece-reserve": _piece(PieceState.FOR_SALE),
    "costing:piece-finish": _piece(PieceState.DRY, PieceState.FINISHED),
    "costing:piece-pack": _piece(PieceState.FOR_SALE),
    "costing:piece-give": _piece(PieceState.FOR_SALE),
    "costing:piece-write-off": _piece(PieceState.FOR_SALE),
    "costing:piece-scrape": _piece(PieceState.FOR_SALE),
    "costing:piece-bring-back": _piece(PieceState.GIVEN),
    "costing:market": _first(lambda: MarketDay.objects.order_by("held_on")),
    "costing:market-edit": _first(lambda: MarketDay.objects.order_by("held_on")),
    "costing:market-delete": _first(lambda: MarketDay.objects.order_by("-held_on")),
    "costing:market-packing": _first(lambda: MarketDay.objects.order_by("-held_on")),
    "costing:market-packing-paper": _first(lambda: MarketDay.objects.order_by("held_on")),
    "costing:market-report": _first(lambda: MarketDay.objects.order_by("held_on")),
    "costing:market-cash": _first(lambda: MarketDay.objects.order_by("held_on")),
    "costing:sell": _piece(PieceState.FOR_SALE),
    "costing:sale-return": _first(lambda: SaleLine.objects.filter(returned_on=None).order_by("-pk")),
    "costing:sale-return-undo": _first(lambda: SaleLine.objects.exclude(returned_on=None).order_by("-pk")),
    "costing:sale-refund": _first(lambda: SaleLine.objects.filter(returned_on=None).order_by("-pk")),
    "costing:sale-correct": _first(
        lambda: Sale.objects.filter(lines__returned_on=None, lines__refunds=None).order_by("-pk")
    ),
    "costing:sale": _first(lambda: Sale.objects.order_by("-pk")),
    "costing:sale-receipt": _first(lambda: Sale.objects.order_by("-pk")),
    "costing:refund-credit-note": _first(lambda: Refund.objects.order_by("pk")),
    "costing:piece-certificate": _piece(PieceState.FOR_SALE),
    "costing:piece-cost-sheet": _piece(PieceState.FOR_SALE),
    "costing:commission-paper": _first(lambda: Commission.objects.order_by("pk")),
    "issued-paper": _first(lambda: IssuedPaper.objects.order_by("pk")),
    "costing:piece-photo": _first(lambda: Piece.objects.exclude(photo="")),
    "costing:piece-thumbnail": _first(lambda: Piece.objects.exclude(photo="")),
    "person": _first(lambda: User.objects.order_by("-pk")),
    "person-password": _first(lambda: User.objects.order_by("-pk")),
    "costing:channel-edit": _first(lambda: SalesChannel.objects.order_by("pk")),
    "costing:channel-delete": _first(lambda: SalesChannel.objects.order_by("pk")),
    "costing:terms-edit": _first(lambda: ChannelTerms.objects.order_by("pk")),
    "costing:terms-delete": _first(lambda: ChannelTerms.objects.order_by("pk")),
    "costing:overhead-year": _first(OverheadYear.objects.all),
    "costing:overhead-edit": _first(OverheadYear.objects.all),
    "costing:overhead-delete": _first(OverheadYear.objects.all),
    "costing:overhead-line-edit": _first(OverheadLine.objects.all),
    "costing:overhead-line-delete": _first(OverheadLine.objects.all),
    "rates-edit": _first(lambda: Rates.objects.order_by("pk")),
    "rates-delete": _first(lambda: Rates.objects.order_by("pk")),
}


def _question() -> str:
    """Do I have enough for a dozen boards in a colour that has to be mixed?"""
    surface = Material.objects.filter(kind="surface").order_by("name")[0]
    recipe = Recipe.objects.filter(makes__kind="mix").order_by("pk")[0]
    technique = Technique.objects.order_by("pk")[0]
    return f"?surface={surface.pk}&count=12&technique={technique.pk}&colour_1={recipe.makes_id}&parts_1=1"


def _overshot() -> str:
    """A cup of 160 mL with 200 g of its first part in it, which is too much."""
    recipe = Recipe.objects.filter(makes__kind="mix").order_by("pk")[0]
    first = recipe.versions.order_by("-number")[0].parts.all()[0]
    return f"?wanted=160+ml&room=300+ml&shows_{first.material_id}=200+g"


def _a_while_ago() -> str:
    return f"?as_of={timezone.localdate() - timedelta(days=60)}"


# Whoever is signed in already is led past it.
DOOR = Stop("login")
# Pages that look different with something chosen on them.
MORE = [
    Stop("inventory:stock", "of two months ago", _a_while_ago),
    Stop("inventory:stock", "sorted", lambda: "?sort=-money"),
    Stop("inventory:stock", "with nothing found", lambda: "?search=nothing+of+this+name"),
    Stop("costing:earnings", "of one technique", lambda: "?by=piece&within=technique&key=Ring+pour"),
    Stop("costing:sales", "with nothing found", lambda: "?search=nothing+of+this+name"),
    Stop("inventory:stock-check", "answered", _question),
    Stop("inventory:cup", "overshot", _overshot, SAMPLES["inventory:cup"]),
    Stop("inventory:session-new", "repeated", lambda: f"?repeat={Session.objects.latest('pk').pk}"),
    Stop("inventory:session-new", "from a plan", lambda: _question()),
    Stop("inventory:mix-new", "worked out", lambda: f"?recipe={_made_medium().pk}&wanted=900 ml"),
    Stop("inventory:delivery-new", "to an order", lambda: f"?order={Order.objects.latest('pk').pk}"),
    Stop("inventory:plan-repeat", "of a session", lambda: f"?session={Session.objects.latest('pk').pk}"),
    Stop("inventory:plan", "poured", sample=_first(lambda: Plan.objects.filter(session__isnull=False))),
    Stop("costing:pieces", "in a list", lambda: "?state=all&view=list"),
    *(
        Stop("costing:piece", state, sample=_piece(state))
        for state in (PieceState.WET, PieceState.DRY, PieceState.FINISHED, PieceState.SOLD, PieceState.GIVEN)
    ),
]


def stops() -> list[Stop]:
    """Every page once, and some again in another state."""
    return [*(_stop(name, keys) for name, keys in names()), *MORE]


# Files that are asked for with a choice.
ASKED_WITH: dict[str, Callable[[], str]] = {"inventory:stocktake-sheet": lambda: "?all=1"}


def files() -> list[Stop]:
    """What comes back as a file or as data."""
    return [
        *(Stop(name, query=ASKED_WITH.get(name, str), sample=SAMPLES.get(name)) for name in sorted(FILES)),
        *(Stop(name, "as a file", lambda: "?export=csv", SAMPLES.get(name)) for name in LISTS),
    ]


def takes_key(name: str) -> bool:
    """Whether an address names an object."""
    patterns = dict(_walk(get_resolver().url_patterns, ""))
    return bool(patterns[name].pattern.converters)


def names() -> Iterator[tuple[str, int]]:
    """Every named page of the URL configuration, with how many keys its address takes."""
    shut = {DOOR.name} | ONLY_SENT | FILES | NOT_IN_THE_DEMO
    for name, pattern in _walk(get_resolver().url_patterns, ""):
        if name not in shut:
            yield name, len(pattern.pattern.converters)


def _walk(patterns: list[Any], room: str) -> Iterator[tuple[str, URLPattern]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            if str(pattern.pattern) == "api/":
                continue
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _walk(pattern.url_patterns, room + inner)
        elif not str(pattern.pattern).startswith("api/"):
            yield f"{room}{pattern.name}", pattern


def _stop(name: str, keys: int) -> Stop:
    if not keys:
        return Stop(name)
    sample = SAMPLES.get(name)
    if sample is None:
        raise LookupError(f"Say in SAMPLES which object {name} is looked at with.")
    return Stop(name, sample=sample)
