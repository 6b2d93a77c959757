"""Past sessions from a table, in their simplest form: surfaces poured alike on a day, straight from the shelf."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy

from inventory.ledger.imported_rows import PostedRows
from inventory.materials.models import Kind, Material
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.models import Pour, Technique
from inventory.sessions.queries.day_shelves import DayShelves
from studio.accounts.roles import WORKERS
from studio.errors import InputError
from studio.imports.cells import Cells, folded, words_of
from studio.imports.kinds import ImportColumn, ImportKind
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.numbers import split_number
from studio.values.units import find_unit

COLUMNS = (
    ImportColumn(
        "held_on",
        gettext_lazy("Day"),
        ("date", "poured on", "session", "sitzung", "on", "datum", "tag", "gegossen am"),
        gettext_lazy("On which it was poured."),
        required=True,
        is_day=True,
    ),
    ImportColumn(
        "title", gettext_lazy("Title"), ("name", "subject", "session", "titel", "bezeichnung", "sitzung")
    ),
    ImportColumn(
        "technique",
        gettext_lazy("Technique"),
        ("pour", "how", "technik"),
        gettext_lazy("One that you have added."),
        required=True,
    ),
    ImportColumn(
        "surface",
        gettext_lazy("Surface"),
        ("canvas", "board", "on what", "untergrund", "malgrund", "leinwand"),
        gettext_lazy("The name used in Meniscus."),
        required=True,
    ),
    ImportColumn(
        "count",
        gettext_lazy("How many"),
        ("number", "pieces", "anzahl", "stück"),
        gettext_lazy("Blank is one."),
    ),
    ImportColumn(
        "paint",
        gettext_lazy("Poured per surface"),
        ("paint", "poured", "colours", "colors", "farbe", "farben", "gegossen"),
        gettext_lazy(
            "Amounts and materials with a plus between them: 60 ml Ebb Blue + 20 ml Sail Loft White."
        ),
        required=True,
    ),
    ImportColumn(
        "minutes",
        gettext_lazy("Minutes"),
        ("time", "minuten", "zeit", "dauer"),
        gettext_lazy("Of work, in all."),
    ),
    ImportColumn(
        "outcome",
        gettext_lazy("Outcome"),
        ("result", "ergebnis"),
        gettext_lazy("Good or failed. Blank is good."),
    ),
    ImportColumn("notes", gettext_lazy("Notes"), ("note", "comment", "notizen", "bemerkung")),
)
MOST_ALIKE = 50
_BETWEEN = re.compile(r"\s+\+\s+|\s*[;\n]\s*")


@dataclass(frozen=True, slots=True)
class SessionRow:
    """One session; `key` tells its row from every other of the table."""

    facts: SessionFacts
    count: int
    key: str


@dataclass(slots=True)
class SessionReader:
    """Reads rows against the materials and techniques that there are, and knows which rows were posted before."""

    studio: Studio
    today: date
    materials: dict[str, Material] = field(default_factory=dict)
    techniques: dict[str, Technique] = field(default_factory=dict)
    outcomes: Mapping[str, str] = field(default_factory=lambda: words_of(Pour.Outcome))
    posted: PostedRows = field(default_factory=PostedRows.read)
    shelves: DayShelves | None = field(default_factory=DayShelves)  # None once the ledger itself refuses rows

    def __post_init__(self) -> None:
        self.materials = {folded(each.name): each for each in Material.objects.all()}
        self.techniques = {folded(each.name): each for each in Technique.objects.all()}

    def read(self, cells: Cells) -> SessionRow:
        held_on = cells.day("held_on", required=_("Enter the day, such as 2026-03-12."))
        if held_on and held_on > self.today:
            cells.note("held_on", _("That day is still to come."))
        technique = cells.choice("technique", self.techniques, required=_("Enter the technique."))
        surface = cells.read("surface", self._surface, required=_("Enter the surface."))
        count = cells.whole("count", least=1, most=MOST_ALIKE) or 1
        doses = cells.read(
            "paint", lambda text: self._doses(text, cells), required=_("Enter what was poured.")
        )
        minutes = cells.whole("minutes", most=10_000) or 0
        outcome = cells.choice("outcome", self.outcomes) or str(Pour.Outcome.GOOD)
        title, notes = cells.words("title", most=120), cells.words("notes", most=2_000)
        cells.refuse()
        if held_on is None or technique is None or surface is None or not doses:
            raise InputError(_("This row cannot be read."))
        pour = PourFacts(technique, doses, surface, outcome=outcome)
        facts = SessionFacts(held_on, pours=[pour] * count, minutes=minutes, title=title, notes=notes)
        if self.shelves is not None and not self.posted.stands(cells.key):
            _refuse_short(self.shelves.short(facts))
        return SessionRow(facts, count, cells.key)

    def _surface(self, name: str) -> Material:
        surface = self._material(name)
        if surface.kind != Kind.SURFACE:
            raise InputError(_("{name} is no surface.", name=surface.name))
        return surface

    def _material(self, name: str) -> Material:
        material = self.materials.get(folded(name))
        if material is None:
            raise InputError(
                _("“{name}” is not one of your materials. Import the materials first.", name=name[:120])
            )
        return material

    def _doses(self, text: str, cells: Cells) -> list[Dose]:
        doses = []
        for piece in filter(None, _BETWEEN.split(text)):
            number, rest = split_number(" ".join(piece.split()))
            unit, name = _unit_and_name(rest.split(), cells.numbers)
            if not number or not unit or not name:
                raise InputError(
                    _(
                        "“{text}” cannot be read. Enter for example 60 ml Ebb Blue + 20 ml Foam.",
                        text=piece[:60],
                    )
                )
            material = self._material(name)
            reading = cells.amount(f"{number} {unit}", material.measure, density=material.density)
            doses.append(Dose(reading.quantity.amount, material=material))
        return doses

    def is_there(self, facts: SessionRow) -> bool:
        return self.posted.stands(facts.key)

    def words(self, facts: SessionRow, formatter: Formatter) -> Mapping[str, str]:
        pour = facts.facts.pours[0]
        poured = (
            f"{formatter.quantity(dose.quantity, dose.material.measure)} {dose.material.name}"
            for dose in pour.doses
            if dose.material is not None
        )
        return {
            "held_on": formatter.day(facts.facts.held_on),
            "paint": " + ".join(poured),
            "count": str(facts.count),
            "outcome": str(Pour.Outcome(pour.outcome).label),
        }

    def save(self, facts: SessionRow, submission: Submission) -> None:
        self.shelves, key = None, self.posted.key_for(facts.key)
        log_session(facts=facts.facts, submission=replace(submission, on=facts.facts.held_on, key=key))

    def keep(self, facts: SessionRow) -> None:
        if self.shelves is not None:
            self.shelves.take(facts.facts)
        self.posted.keep(facts.key)


def _refuse_short(shortfalls: Sequence[str]) -> None:
    if shortfalls:
        advice = _(
            "Not enough in stock on that day. {shortfalls} Enter what was there as opening stock of an earlier day "
            "first.",
            shortfalls=" ".join(shortfalls),
        )
        raise InputError(advice, field="paint")


def _unit_and_name(words: Sequence[str], numbers: Formatter) -> tuple[str, str]:
    """Of “fl oz of Foam”, the unit and the material."""
    for length in (2, 1):
        unit = " ".join(words[:length])
        if find_unit(unit, numbers.fluid_system):
            return unit, " ".join(words[length:]).removeprefix("of ")
    return "", ""


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """An afternoon at the net loft."""
    technique = Technique.objects.order_by("name").values_list("name", flat=True).first() or "Ring pour"
    return [
        {"held_on": date(2026, 5, 9), "title": "Rings", "technique": technique, "surface": "Round board 20 cm",
         "count": 2, "paint": "60 ml Sail Loft White + 20 ml Lantern Amber", "minutes": 90},
    ]  # fmt: skip


SESSIONS = ImportKind(
    code="sessions",
    title=gettext_lazy("Past sessions from a file"),
    lead=gettext_lazy("Surfaces poured alike on a day. Paint and surfaces leave the stock of that day."),
    columns=COLUMNS,
    reader=SessionReader,
    example=example,
    list_url="inventory:sessions",
    roles=WORKERS,
)
