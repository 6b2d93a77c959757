"""Lists of sessions and pours, of what a plan takes, and of techniques."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.models import EntryRole, PostingKind
from inventory.ledger.movements import RecordedMovement
from inventory.ledger.tables import lot_column, reversed_badge
from inventory.materials.tables import material_column
from inventory.recipes.tables import FAVOURITE
from inventory.sessions.calculations import paint_rate
from inventory.sessions.columns import (
    DifferenceColumn,
    GroupColumn,
    RangeColumn,
    RateColumn,
    ShareColumn,
    SizeColumn,
)
from inventory.sessions.models import Flaw, Pour, Session, Technique
from inventory.sessions.paint_per_area import USUAL_EDGE, Learned
from inventory.sessions.queries.needs import Need
from inventory.sessions.queries.paint_per_area import CountedPour, SizePaint
from inventory.sessions.queries.planning import Choice, LineNeed
from inventory.sessions.queries.run_off import RunOffGroup
from inventory.sessions.queries.session_costs import PourAccount
from inventory.sessions.queries.weighings import BalanceRow
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    NumberColumn,
    ShortQuantityColumn,
    TenthsColumn,
    edit_column,
)
from studio.pages.tables import Table
from studio.values.units import Measure

OUTCOMES: dict[str, str] = {
    Pour.Outcome.OPEN: "wait",
    Pour.Outcome.GOOD: "good",
    Pour.Outcome.SECOND: "low",
    Pour.Outcome.FAILED: "stop",
}


def outcome_badge(pour: Pour) -> Badge:
    """How a pour turned out, or that nobody has judged it yet."""
    return OUTCOMES[pour.outcome], Pour.Outcome(pour.outcome).label


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One session with its pours, and the materials in them (millionths)."""

    session: Session
    cost: int

    @property
    def techniques(self) -> str:
        return ", ".join(dict.fromkeys(pour.technique.name for pour in self.session.pours.all()))

    @property
    def failed(self) -> int:
        return sum(pour.outcome == Pour.Outcome.FAILED for pour in self.session.pours.all())

    @property
    def badge(self) -> Badge | None:
        return reversed_badge(self.session.posting)


class SessionTable(Table[SessionRow]):
    caption = _("Sessions")
    file_name = "sessions"
    css = "is-brief"
    columns = (
        Column(
            "title",
            _("Session"),
            lambda row: str(row.session),
            link=lambda row: row_address("inventory:session", row.session.pk),
            badge=lambda row: row.badge,
        ),
        DayColumn("day", _("Day"), lambda row: row.session.held_on),
        Column("techniques", _("Technique"), lambda row: row.techniques, css="bare"),
        NumberColumn("pours", _("Pours"), lambda row: len(row.session.pours.all())),
        NumberColumn("failed", _("Failed"), lambda row: row.failed or None),
        MoneyColumn(
            "cost",
            _("Materials in the pours"),
            lambda row: row.cost,
            link=lambda row: row_address("inventory:posting", row.session.posting_id),
        ),
        Column("state", _("Status"), lambda row: "", badge=lambda row: row.badge, only_on=FILE),
    )


@dataclass(frozen=True, slots=True)
class PourRow:
    """One pour of a session."""

    account: PourAccount
    run_off_share: str
    arm: str

    @property
    def pour(self) -> Pour:
        return self.account.pour

    @property
    def surface(self) -> str:
        if self.pour.over is None:
            return self.pour.surface.name
        return translation._(
            "{surface}, over {beneath}", surface=self.pour.surface.name, beneath=self.pour.over.label
        )


class PourTable(Table[PourRow]):
    caption = _("Pours of this session")
    css = "is-brief"
    columns = (
        Column(
            "pour",
            _("Pour"),
            lambda row: row.pour.label,
            link=lambda row: row_address("inventory:pour", row.pour.pk),
            note=lambda row: row.arm,
        ),
        Column("surface", _("Surface"), lambda row: row.surface),
        Column("technique", _("Technique"), lambda row: row.pour.technique.name, css="bare"),
        ShortQuantityColumn("poured", _("Poured"), lambda row: (row.pour.poured, Measure.VOLUME)),
        RateColumn("rate", _("Per area"), lambda row: row.account.rate),
        ShortQuantityColumn(
            "run_off",
            _("Run-off"),
            lambda row: None if row.pour.run_off is None else (row.pour.run_off, Measure.VOLUME),
            note=lambda row: row.run_off_share,
            term="run-off",
        ),
        Column(
            "outcome",
            _("Outcome"),
            lambda row: "",
            badge=lambda row: outcome_badge(row.pour),
            note=lambda row: _("thrown away") if row.pour.thrown_away_by else "",
        ),
        MoneyColumn("cost", _("Materials"), lambda row: row.account.cost),
    )


def _role_of(line: RecordedMovement) -> str:
    return str(EntryRole(line.role).label) if line.role else str(PostingKind(line.posting.kind).label)


class PourLineTable(Table[RecordedMovement]):
    caption = _("Every line charged to this pour")
    file_name = "pour"
    is_breakdown = True
    columns = (
        Column(
            "material", _("Material"), lambda row: row.material.name, colour=lambda row: row.material.colour
        ),
        Column("role", pgettext_lazy("of a movement", "Role"), _role_of),
        lot_column(lambda row: row.source_lot),
        TenthsColumn(
            "quantity",
            _("Quantity"),
            lambda row: (row.quantity, row.material.measure) if row.quantity else None,
        ),
        MoneyColumn("cost", _("Cost"), lambda row: row.money),
        NumberColumn(
            "posting",
            _("Ledger no."),
            lambda row: row.posting.number,
            link=lambda row: row_address("inventory:posting", row.posting.number),
        ),
    )


def _amount(
    key: str, label: Any, amount: Callable[[Need], int | None], **how: Any
) -> ShortQuantityColumn[Need]:
    """A column of one of the amounts of a need; nothing where there is none."""
    return ShortQuantityColumn(
        key, label, lambda row: (amount(row), row.material.measure) if amount(row) else None, **how
    )


def _held(row: Need, amount: int | None) -> tuple[int, str] | None:
    return None if amount is None else (amount, row.material.measure)


class NeedTable(Table[Need]):
    """What a plan takes of each material, the mixes on the way among them."""

    caption = _("Needed, in stock, reserved, due and short")
    columns = (
        material_column(lambda row: row.material, template="stock_check/need.html"),
        ShortQuantityColumn("needed", _("Needed"), lambda row: (row.needed, row.material.measure)),
        ShortQuantityColumn(
            "held",
            _("In stock"),
            lambda row: _held(row, row.held),
            note=lambda row: _("never runs out") if row.never_runs_out else "",
        ),
        _amount("reserved", _("Reserved"), lambda row: row.reserved),
        _amount("due", _("Due by then"), lambda row: row.due),
        ShortQuantityColumn("available", _("Available"), lambda row: _held(row, row.available)),
        _amount(
            "short",
            pgettext_lazy("amount", "Short"),
            lambda row: row.short,
            template="stock_check/short.html",
        ),
        _amount("to_mix", _("To mix"), lambda row: row.to_mix),
        _amount("too_late", _("On order, later"), lambda row: row.too_late),
    )

    def row_css(self, row: Need) -> str:
        return "is-low" if row.short else ""


class ChoiceTable(Table[Choice]):
    """How many of each line of a set there is enough for, by what should give way."""

    caption = _("How many you can pour")
    columns = (
        Column(
            "surface",
            _("Surface"),
            lambda row: row.need.line.surface.name,
            link=lambda row: row_address("inventory:material", row.need.line.surface.pk),
            note=lambda row: row.need.line.technique.name,
        ),
        NumberColumn("asked", _("Planned"), lambda row: row.need.line.count),
        NumberColumn("most", _("Most pours"), lambda row: row.most),
        NumberColumn("in_proportion", _("Same share of each"), lambda row: row.in_proportion),
        NumberColumn("filled", _("Same share, then most"), lambda row: row.filled),
        NumberColumn("in_order", _("First line first"), lambda row: row.in_order),
    )


class RateTable(Table[LineNeed]):
    """Where each line's paint figure comes from."""

    caption = _("Paint for each surface")
    columns = (
        Column(
            "surface",
            _("Surface"),
            lambda row: row.line.surface.name,
            link=lambda row: row_address("inventory:material", row.line.surface.pk),
            note=lambda row: translation._(
                "{number} by {technique}", number=row.line.count, technique=row.line.technique.name
            ),
        ),
        ShortQuantityColumn("area", _("Area each"), lambda row: (row.area, Measure.AREA)),
        RateColumn("rate", _("Paint per area"), lambda row: row.rate.value),
        Column(
            "source",
            pgettext_lazy("of a figure", "Source"),
            lambda row: row.source,
            link=lambda row: row_address("inventory:technique-paint", row.line.technique.pk),
        ),
        ShortQuantityColumn("each", _("Paint each"), lambda row: (row.paint_each, Measure.VOLUME)),
        ShortQuantityColumn("total", _("Total"), lambda row: (row.paint, Measure.VOLUME)),
        RangeColumn(
            "range",
            _("Total, 8 times in 10"),
            lambda row: (row.least_paint, row.most_paint),
            note=lambda row: _("without extra paint"),
        ),
        NumberColumn(
            "most",
            _("Most you can pour"),
            lambda row: row.most,
            note=lambda row: _("no limit") if row.most is None else "",
        ),
    )


@dataclass(frozen=True, slots=True)
class TechniqueRow:
    """One technique, and what its pours have taught."""

    technique: Technique
    learned: Learned

    @property
    def pk(self) -> int:
        return self.technique.pk


class TechniqueTable(Table[TechniqueRow]):
    caption = _("Techniques")
    columns = (
        Column(
            "name",
            _("Technique"),
            lambda row: row.technique.name,
            link=lambda row: row_address("inventory:technique-paint", row.pk),
            badge=lambda row: FAVOURITE if row.technique.is_favourite else None,
        ),
        RateColumn("learned", _("Paint on 30 × 30 cm"), lambda row: row.learned.estimate(USUAL_EDGE).value),
        NumberColumn("pours", _("Learned from pours"), lambda row: row.learned.pours),
        RateColumn("coverage", _("Its own figure"), lambda row: row.technique.coverage),
        Column("source", _("Source"), lambda row: row.technique.source),
        edit_column("inventory:technique-edit", name=lambda row: row.technique.name),
    )


class SizePaintTable(Table[SizePaint]):
    """Sizes that a technique has not been poured on."""

    caption = _("Sizes not poured yet")
    columns = (
        SizeColumn("size", _("Size"), lambda row: row.size),
        ShortQuantityColumn("area", _("Area each"), lambda row: (row.area, Measure.AREA)),
        ShortQuantityColumn("expected", _("Paint each"), lambda row: (row.expected, Measure.VOLUME)),
        RangeColumn("range", _("8 times in 10"), lambda row: (row.low, row.high)),
    )


class BalanceTable(Table[BalanceRow]):
    """Where the paint of a weighing went."""

    caption = _("Where the paint went")
    columns = (
        Column("name", _("Paint"), lambda row: row.name),
        ShortQuantityColumn("mass", _("By weight"), lambda row: (row.mass, Measure.MASS)),
        ShortQuantityColumn(
            "volume", _("By volume"), lambda row: None if row.volume is None else (row.volume, Measure.VOLUME)
        ),
        ShareColumn("share", _("Share"), lambda row: row.share, note=lambda row: row.note),
    )


class RunOffTable(Table[RunOffGroup]):
    """Groups of pours, and how much of each ran off."""

    caption = _("Run-off")
    columns = (
        GroupColumn("group", pgettext_lazy("of a list", "Group"), lambda row: row.key or _("no medium")),
        NumberColumn("pours", _("Pours"), lambda row: row.pours),
        ShortQuantityColumn("poured", _("Poured"), lambda row: (row.poured, Measure.VOLUME)),
        ShortQuantityColumn("ran_off", _("Ran off"), lambda row: (row.ran_off, Measure.VOLUME)),
        ShareColumn("share", _("Share"), lambda row: row.share),
        ShareColumn("least", _("Least"), lambda row: row.least),
        ShareColumn("largest", _("Most"), lambda row: row.largest),
    )


class CountedPourTable(Table[CountedPour]):
    """The pours that a technique's figure was learned from, newest first."""

    caption = _("The pours behind the figure")
    file_name = "paint-per-area"
    columns = (
        Column(
            "pour",
            _("Pour"),
            lambda row: row.pour.label,
            link=lambda row: row_address("inventory:pour", row.pour.pk),
        ),
        DayColumn("day", _("Day"), lambda row: row.pour.session.held_on),
        Column("surface", _("Surface"), lambda row: row.pour.surface.name),
        RateColumn("rate", _("Per area"), lambda row: paint_rate(row.pour.poured, row.pour.area)),
        ShortQuantityColumn("poured", _("Poured"), lambda row: (row.pour.poured, Measure.VOLUME)),
        ShortQuantityColumn("expected", _("Expected"), lambda row: (row.expected, Measure.VOLUME)),
        DifferenceColumn("off", _("Off by"), lambda row: row.off),
    )


class FlawTable(Table[Flaw]):
    caption = _("Flaws")
    columns = (
        Column("name", _("Name"), lambda row: row.name),
        edit_column("inventory:flaw-edit", name=lambda row: row.name),
    )
