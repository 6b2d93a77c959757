"""The first things that are written: how the studio counts and writes, and what was ticked of the starter set."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.utils import translation

from costing.first_run.starter_set import CHANNELS, starters
from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms, SalesChannel
from inventory.ledger.closing import choose_costing_method
from inventory.ledger.models import Posting
from inventory.materials.actions import save_material
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import OpeningLine, open_stock
from studio.auditing.reference_rows import save_row
from studio.preferences.models import Rates, Studio
from studio.setup.actions import change_settings
from studio.submission import Submission, transaction

# Until somebody says what it takes of a price.
NOTHING = {"commission": 0, "commission_before_tax": True, "card_rate": 0, "fixed_fee": 0, "monthly_fee": 0}


@dataclass(frozen=True, slots=True)
class StudioFacts:
    """The studio as it begins: its settings, how costs follow use, and what holds from the beginning."""

    studio: Studio
    costing_method: str
    wage_per_hour: int | None = None
    tax_rate: int | None = None


def begin_studio(facts: StudioFacts, *, submission: Submission) -> Studio:
    """Write how the studio begins, all of it or nothing. Raises InputError naming the field, LedgerError."""
    with transaction(submission):
        change_settings(facts.studio, submission=submission)
        choose_costing_method(costing_method=facts.costing_method, submission=submission)
        if facts.wage_per_hour is not None or facts.tax_rate is not None:
            first = Rates.objects.filter(holds_from__isnull=True).first() or Rates()
            first.wage_per_hour = (
                facts.wage_per_hour if facts.wage_per_hour is not None else first.wage_per_hour
            )
            first.tax_rate = facts.tax_rate if facts.tax_rate is not None else first.tax_rate
            save_row(first, submission=submission)
    return facts.studio


def add_starters(codes: Collection[str], *, studio: Studio, submission: Submission) -> Sequence[Material]:
    """Add what was ticked, named in the studio's language; what is there already stays as it is."""
    added = []
    with transaction(submission), translation.override(studio.language):
        for _group, items in starters(studio.paper):
            for item in items:
                material = item.material()
                if item.code in codes and not Material.objects.filter(name=material.name).exists():
                    added.append(save_material(material, submission=submission))
        for each in CHANNELS:
            channel = each.channel()
            if each.code in codes and not SalesChannel.objects.filter(name=channel.name).exists():
                add_channel(channel, ChannelTerms(**NOTHING), submission=submission)
    return added


def post_first_stock(
    lines: Sequence[OpeningLine], densities: Mapping[int, int], *, submission: Submission
) -> Posting:
    """Post what there is, and keep what each mL weighs (µg by material) where that was asked for: all or nothing.

    Raises InputError.
    """
    with transaction(submission):
        for material in Material.objects.filter(pk__in=densities, density__isnull=True):
            material.density = densities[material.pk]
            save_material(material, submission=submission)
        return open_stock(lines=lines, submission=submission)
