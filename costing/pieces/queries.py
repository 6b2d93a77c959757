"""Readers for pieces: which stand, which pours they are made of, and what the work on them usually takes."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta

from django.db.models import Count, Exists, OuterRef, Prefetch, QuerySet, Sum

from costing.pieces.calculations import ENDS, State
from costing.pieces.models import Piece, PiecePour
from inventory.ledger.balances import in_work
from inventory.ledger.models import Entry, EntryRole, Place
from inventory.materials.models import Material, MeasureChoice
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.actions.work import with_poured_over
from inventory.sessions.models import Pour, Session, SessionPhoto, Stage
from studio.auditing.queries import FieldChange, history
from studio.preferences.models import Studio
from studio.values.allocation import THOUSANDTHS, divide_half_up


def standing_pieces() -> QuerySet[Piece]:
    """Pieces whose sessions stand: a reversed session takes its pieces off every list."""
    return Piece.objects.exclude(parts__pour__session__posting__reversed_by__isnull=False)


def pieces_by_state() -> dict[str, int]:
    """How many pieces are in each state."""
    states = standing_pieces().order_by().values_list("state")
    return dict(states.annotate(Count("pk", distinct=True)))


def with_parts(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    """Read the pours of pieces along with them: their surfaces and techniques, in one query more."""
    parts = PiecePour.objects.select_related("pour__surface", "pour__technique").order_by("pour_id")
    return pieces.prefetch_related(Prefetch("parts", queryset=parts))


def with_colours(pieces: Collection[Piece]) -> None:
    """Give pieces the colours poured on them, the most first: a piece without a photo is drawn in them. One query."""
    bare = [piece.pk for piece in pieces if not piece.photo]
    poured = Entry.objects.filter(place=Place.WORK, pour__piece_part__piece__in=bare, quantity__gt=0)
    coloured = poured.exclude(material__colour="").order_by()
    colours: dict[int, dict[str, int]] = defaultdict(dict)
    for piece, colour, total in coloured.values_list("pour__piece_part__piece", "material__colour").annotate(
        total=Sum("quantity")
    ):
        colours[piece][colour] = total
    for piece in pieces:
        amounts = colours.get(piece.pk, {})
        piece.colours = sorted(amounts, key=lambda colour: (-amounts[colour], colour))


def on_canvas(text: str) -> QuerySet[Piece]:
    """The pieces with this number on a back; none for other words."""
    parts = PiecePour.objects.filter(pour__in=Pour.objects.on_canvas(text))
    return Piece.objects.filter(pk__in=parts.values("piece"))


def pours_of(piece: Piece) -> list[Pour]:
    """The pours a piece is made of, without what lies beneath them."""
    return list(Pour.objects.filter(piece_part__piece=piece).order_by("pk"))


def names_by_pour(pours: Collection[int]) -> dict[int, str]:
    """The titles of the pieces that pours are part of, by pour."""
    parts = PiecePour.objects.filter(pour__in=pours)
    return dict(parts.values_list("pour_id", "piece__title"))


def pours_without_piece() -> QuerySet[Pour]:
    """Pours in unsold work, none of them failed, in no piece yet and under no other pour; newest session first."""
    above = Pour.objects.standing().filter(over__isnull=False)
    held = Entry.objects.filter(pour=OuterRef("pk"), place=Place.WORK).order_by().values("material")
    held = held.annotate(quantity=Sum("quantity"), money=Sum("money")).exclude(quantity=0, money=0)
    return (
        Pour.objects.standing()
        .filter(Exists(held), piece_part__isnull=True)
        .exclude(outcome=Pour.Outcome.FAILED)
        .exclude(pk__in=above.values("over"))
        .select_related("technique", "surface", "session")
        .order_by("-session__held_on", "-session_id", "number")
    )


def poured_over_by(piece: Piece) -> list[Pour]:
    """The pours that lie upon a scraped piece's."""
    if piece.state != State.SCRAPED:
        return []
    return list(Pour.objects.standing().filter(over__piece_part__piece=piece).order_by("pk"))


def ready_on(piece: Piece, studio: Studio) -> date:
    """The day from which a piece may be varnished: its latest pour's, and the studio's drying time."""
    return piece.made_on + timedelta(days=studio.varnish_after_days)


def is_judged_dry(piece: Piece) -> bool:
    """Whether somebody has judged all of its pours dry."""
    return not Pour.objects.filter(piece_part__piece=piece).exclude(judgements__stage=Stage.DRY).exists()


def work_of(piece: Piece) -> list[Pour]:
    """The pours whose cost goes where the piece goes: its own, and those beneath that still hold cost."""
    own = pours_of(piece)
    beneath = [pour for pour in with_poured_over(own) if pour not in own]
    still = holding(beneath)
    return own + [pour for pour in beneath if pour.pk in still]


def covered(pours: Sequence[Pour]) -> set[int | None]:
    """Which of these pours another pour lies upon."""
    above = Pour.objects.standing().filter(over__in=[pour.pk for pour in pours])
    return set(above.values_list("over_id", flat=True))


def holding(pours: Iterable[Pour]) -> set[int]:
    """Which of these pours hold something in unsold work."""
    return {pour for (pour, _place), held in in_work([p.pk for p in pours]).items() if any(held)}


def photos_of_pours(piece: Piece) -> list[SessionPhoto]:
    """Photos that were taken at the bench of this piece's pours; without any, those of the whole table."""
    taken = SessionPhoto.objects.filter(pours__piece_part__piece=piece).distinct()
    table = SessionPhoto.objects.filter(
        session__pours__piece_part__piece=piece, pours__isnull=True
    ).distinct()
    return list(taken) or list(table)


def price_history(piece: Piece) -> list[FieldChange]:
    """Every change of its asking price, the latest first."""
    return [change for change in history(Piece, piece.pk) if change.field == "price"]


def photos_of_session(session: Session) -> tuple[dict[int, list[SessionPhoto]], list[SessionPhoto]]:
    """Photos that were taken at the bench, by the pour that they show; and those of the whole table."""
    by_pour: dict[int, list[SessionPhoto]] = defaultdict(list)
    table: list[SessionPhoto] = []
    for photo in SessionPhoto.objects.filter(session=session).prefetch_related("pours"):
        shown = list(photo.pours.all())
        for pour in shown:
            by_pour[pour.pk].append(photo)
        if not shown:
            table.append(photo)
    return by_pour, table


def pieces_of_session(session: Session) -> list[Piece]:
    """Pieces that have not left and are made of pours of this session, in the order of their first pours."""
    parts = PiecePour.objects.filter(pour__session=session)
    here = standing_pieces().filter(pk__in=parts.values("piece")).exclude(state__in=ENDS)
    return sorted(with_parts(here), key=lambda piece: [pour.pk for pour in piece.pours])


def usual_materials(own: Sequence[Pour], role: EntryRole) -> list[Ingredient]:
    """The materials of the last such work on a piece of the same surface, for as many pours as these.

    Amounts are thousandths of the base unit; what is counted comes in whole ones. Empty when there was none yet.
    """
    alike = (
        Entry.objects.standing()
        .filter(role=role, pour__surface__in=[pour.surface_id for pour in own], quantity__gt=0)
        .exclude(pour__in=own)
    )
    last = alike.order_by("-posting_id").first()
    part = PiecePour.objects.filter(pour=last.pour_id).first() if last else None
    if last is None or part is None:
        return []
    theirs = list(PiecePour.objects.filter(piece=part.piece_id).values_list("pour_id", flat=True))
    took: dict[int, int] = defaultdict(int)
    for material, quantity in Entry.objects.filter(
        posting=last.posting_id, role=role, pour__in=theirs, quantity__gt=0
    ).values_list("material_id", "quantity"):
        took[material] += quantity
    materials = Material.objects.filter(is_archived=False).in_bulk(took)
    return [
        Ingredient(materials[pk], _scaled(materials[pk], quantity, len(own), len(theirs)))
        for pk, quantity in took.items()
        if pk in materials
    ]


def _scaled(material: Material, quantity: int, pours: int, of_pours: int) -> int:
    scaled = divide_half_up(quantity * pours, of_pours)
    if material.measure != MeasureChoice.COUNT:
        return scaled
    return max(divide_half_up(scaled, THOUSANDTHS), 1) * THOUSANDTHS
