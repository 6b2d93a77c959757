"""The list of comparisons, the arms of one side by side, and how pours turned out."""

from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.comparisons.models import Comparison
from inventory.comparisons.queries.outcomes import OutcomeGroup
from inventory.comparisons.queries.results import ArmResult
from inventory.sessions.columns import GroupColumn, ShareColumn, SharesColumn
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, DayColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table

FINISHED: Badge = ("good", _("Finished"))
SCORING: Badge = ("wait", _("Being scored"))


def state_badge(comparison: Comparison) -> Badge:
    return FINISHED if comparison.is_finished else SCORING


class ComparisonTable(Table[Any]):
    """Comparisons annotated with `pour_count`, their arms prefetched."""

    caption = _("Comparisons")
    file_name = "comparisons"
    columns = (
        Column(
            "name",
            _("Name"),
            lambda row: row.name,
            link=lambda row: row_address("inventory:comparison", row.pk),
        ),
        DayColumn("day", _("Started"), lambda row: row.started_on),
        Column("varied", _("What differs on purpose"), lambda row: row.get_varied_display(), css="bare"),
        Column("arms", _("Arms"), lambda row: ", ".join(row.shown_arms) or _("hidden")),
        NumberColumn("pours", _("Pours"), lambda row: row.pour_count),
        Column("state", _("State"), lambda row: "", badge=state_badge),
    )


def failure_words(arm: ArmResult) -> str:
    """What was noted of the pours that failed."""
    return " ".join(dict.fromkeys(pour.notes for pour in arm.failed if pour.notes))


def noted_failures(arm: ArmResult) -> str:
    """The same, saying of which pours it was noted."""
    words = failure_words(arm)
    return translation._("Failed: {notes}", notes=words) if words else ""


def drying_words(arm: ArmResult) -> str:
    return "" if arm.drying_days is None else str(round(arm.drying_days))


def _repeat_url(arm: ArmResult) -> str:
    """The page that plans the pours of an arm once more."""
    pours = [("name", arm.arm.name), *(("pour", each.pour_id) for each in arm.pours)]
    return f"{reverse('inventory:plan-repeat')}?{urlencode(pours)}"


class ArmTable(Table[ArmResult]):
    caption = _("Arms")
    columns = (
        Column("arm", _("Arm"), lambda row: row.arm.name, note=lambda row: noted_failures(row)),
        NumberColumn("pours", _("Pours"), lambda row: len(row.pours)),
        NumberColumn("good", _("Good"), lambda row: row.good),
        NumberColumn("failed", _("Failed"), lambda row: len(row.failed)),
        NumberColumn("open", _("Not judged yet"), lambda row: row.not_judged or None),
        Column("flaws", _("Flaws"), lambda row: ", ".join(f"{name} ({n})" for name, n in row.flaws)),
        ShareColumn("run_off", _("Run-off"), lambda row: row.run_off_share),
        NumberColumn("drying", _("Days until judged dry"), lambda row: drying_words(row)),
        NumberColumn("minutes", _("Minutes a pour"), lambda row: row.minutes_each),
        MoneyColumn("cost", _("Cost per good pour"), lambda row: row.cost_per_good_pour),
        Column(
            "repeat",
            _("Pour it again"),
            lambda row: _("Repeat exactly") if row.pours else "",
            link=_repeat_url,
            hidden_words=lambda row: row.arm.name,
        ),
    )


class OutcomeTable(Table[OutcomeGroup]):
    """Groups of pours, and how they turned out."""

    caption = _("How pours turned out")
    columns = (
        GroupColumn("group", pgettext_lazy("of a list", "Group"), lambda row: row.key or _("no medium")),
        NumberColumn("pours", _("Pours"), lambda row: row.pours),
        NumberColumn("good", pgettext_lazy("pours", "Good"), lambda row: row.good),
        NumberColumn("seconds", _("Seconds"), lambda row: row.seconds),
        NumberColumn("failed", pgettext_lazy("pours", "Failed"), lambda row: row.failed),
        ShareColumn("share", _("Share failed"), lambda row: row.share),
        SharesColumn("likely", _("Fails probably"), lambda row: row.likely),
    )
