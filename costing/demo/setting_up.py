"""Furnishing the loft before the first day: people, settings, materials, suppliers, recipes, routes."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from random import Random

from costing.demo.figures import Diary, millionths, thousandths
from costing.demo.materials import the_materials
from costing.demo.people import PEOPLE
from costing.demo.recipes import FORMULAS, RATIOS, Formula
from costing.demo.suppliers import HOUSES, WEIGHED, House, barcode
from costing.overhead.actions import add_year, take_over_rate
from costing.overhead.models import OverheadLine, OverheadYear
from costing.pieces.models import Piece
from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms, SalesChannel
from inventory.ledger.models import Reason
from inventory.materials.models import Material, PriceBreak, Supplier, Supply
from inventory.recipes.actions.ratios import RatioFacts, RatioPartFacts, save_ratio
from inventory.recipes.actions.recipes import write_recipe
from inventory.recipes.models import Basis, RecipeVersion
from inventory.recipes.queries import latest_versions
from inventory.recipes.ratio_parts import RatioUnit, read_notation
from inventory.sessions.models import Flaw, SessionPhoto, Technique
from studio.accounts.actions import add_person
from studio.accounts.models import User
from studio.preferences.models import Rates, Studio
from studio.submission import Submission

STUDIO_NAME = "Wrackline Studio"

# name, how buyers pay, commission, card rate, fixed fee, monthly fee
ROUTES = [
    ("Market stall, card", "card", "0", "0.0175", "0", "0"),
    ("Market stall, cash", "cash", "0", "0", "0", "0"),
    ("Online shop", "online", "0", "0.029", "0.30", "6.50"),
    ("Upturned Herring Gallery", "gallery", "0.4", "0", "0", "0"),
]
# name, estimated, paid; by 175 hours they make 2.40 an hour
OVERHEAD = [
    ("Share of the loft's rent", "240", "240"),
    ("Insurance", "84", "88.50"),
    ("Electricity", "96", "109.20"),
]
OVERHEAD_HOURS, OVERHEAD_DAYS = 175, 364
GALLERY = "Upturned Herring Gallery"
# Days ago from which an hour costs more, and the gallery takes more.
WAGE_RISE, GALLERY_RISE = 150, 60


@dataclass(slots=True)
class Loft:
    """The demo studio as it is being lived: who and what is there, by name."""

    diary: Diary
    rng: Random
    owner: User
    helper: User
    materials: dict[str, Material]
    suppliers: dict[str, Supplier]
    supplies: dict[tuple[str, str], Supply]
    techniques: dict[str, Technique]
    reasons: dict[str, Reason]
    flaws: dict[str, Flaw]
    channels: dict[str, SalesChannel]
    versions: dict[str, RecipeVersion] = field(default_factory=dict)
    photos: list[Piece | SessionPhoto] = field(
        default_factory=list
    )  # whose files go where the build is undone

    def read_recipes(self) -> None:
        """Look up the latest version of every recipe, by the name of what it makes."""
        self.versions = {version.recipe.makes.name: version for version in latest_versions().values()}

    def supply(self, house: str, material: str) -> Supply:
        """The pack of a material that is usually bought from a house."""
        return self.supplies[house, material]

    def submission(self, by: User, day: date) -> Submission:
        """What somebody enters in the evening of a day, about that day."""
        return Submission(by=by, at=self.diary.evening(day), on=day)

    def who(self) -> User:
        """Whoever is at the bench: mostly the owner."""
        return self.helper if self.rng.random() < 0.3 else self.owner


def set_up(diary: Diary, rng: Random) -> Loft:
    """Write everything that stands before the first posting."""
    _sign_above_the_door()
    _enter_rates(diary)
    people = [
        add_person(User(username=each.username, role=each.role), password=each.phrase, submission=None)
        for each in PEOPLE
    ]
    for material in the_materials(diary.today):
        material.clean_fields()
        material.save()
    loft = Loft(
        diary=diary,
        rng=rng,
        owner=people[0],
        helper=people[1],
        materials={material.name: material for material in Material.objects.all()},
        suppliers={},
        supplies={},
        techniques={technique.name: technique for technique in Technique.objects.all()},
        reasons={reason.code: reason for reason in Reason.objects.all()},
        flaws={flaw.name: flaw for flaw in Flaw.objects.all()},
        channels={channel.name: channel for channel in _routes(diary)},
    )
    _share_out_overhead(loft)
    for number, house in enumerate(HOUSES, start=1):
        _list(loft, number, house)
    for formula in FORMULAS:
        _write(loft, formula)
    for name, written, notes in RATIOS:
        _keep_ratio(loft, name, written, notes)
    loft.read_recipes()
    loft.materials = {material.name: material for material in Material.objects.all()}
    return loft


def _sign_above_the_door() -> None:
    studio = Studio.current()
    studio.name, studio.currency, studio.locale = STUDIO_NAME, "GBP", "en_GB"
    studio.scale_step, studio.measuring_step = 100, 1000  # a scale of 0.1 g, syringes marked by the mL
    studio.water_limit, studio.water_reason = 400_000, "Two boards crazed above it."
    studio.numbers_receipts = True
    studio.delivery_address = "The net loft, up the outside stairs\nLantern Quay"
    studio.contact = "wrackline@example.org\n@wrackline on the quay\nOpen on Saturdays"
    studio.is_demo = True
    studio.save()


def _enter_rates(diary: Diary) -> None:
    """The first rates, and a wage rise that the sisters gave themselves within the year."""
    Rates.objects.create(wage_per_hour=millionths("12.50"), tax_rate=0)
    Rates.objects.create(holds_from=diary.ago(WAGE_RISE), wage_per_hour=millionths("13.20"))


def _share_out_overhead(loft: Loft) -> None:
    """What the loft was expected to cost in the year, for an hour of work, and what it did cost."""
    first, last = loft.diary.ago(OVERHEAD_DAYS), loft.diary.ago(0)
    lines = [
        OverheadLine(name=name, estimated=millionths(estimated), paid=millionths(paid))
        for name, estimated, paid in OVERHEAD
    ]
    year = OverheadYear(starts_on=first, ends_on=last, hours=OVERHEAD_HOURS)
    submission = loft.submission(loft.owner, loft.diary.ago(366))
    take_over_rate(add_year(year, lines, submission=submission), submission=submission)


def _routes(diary: Diary) -> Iterator[SalesChannel]:
    for name, payment, commission, card_rate, fixed_fee, monthly_fee in ROUTES:
        terms = ChannelTerms(
            commission=millionths(commission),
            commission_before_tax=True,
            card_rate=millionths(card_rate),
            fixed_fee=millionths(fixed_fee),
            monthly_fee=millionths(monthly_fee),
        )
        channel = add_channel(SalesChannel(name=name, payment=payment), terms, submission=None)
        if name == GALLERY:
            dearer = millionths("0.42")
            ChannelTerms.objects.create(
                channel=channel, holds_from=diary.ago(GALLERY_RISE), commission=dearer
            )
        yield channel


def _list(loft: Loft, number: int, house: House) -> None:
    """A supplier and what it sells, with a barcode for every pack."""
    supplier = Supplier.objects.create(
        name=house.name,
        country=house.country,
        currency=house.currency,
        lead_time_days=house.lead_days,
        lead_time_variation_days=house.spread_days,
        carriage=millionths(house.carriage),
        free_carriage_from=millionths(house.free_from) if house.free_from else None,
        minimum_order=millionths(house.minimum) if house.minimum else None,
        email=house.email,
        address=house.address,
        customer_number=house.customer_number,
        notes=house.notes,
    )
    loft.suppliers[house.name] = supplier
    for place, pack in enumerate(house.packs, start=1):
        supply = Supply.objects.create(
            supplier=supplier,
            material=loft.materials[pack.material],
            pack_size=thousandths(pack.size),
            price=millionths(pack.price),
            barcode=barcode(number, place),
            is_preferred=pack.preferred and pack.material not in WEIGHED,
        )
        for packs, price in pack.breaks:
            PriceBreak.objects.create(supply=supply, from_packs=packs, price=millionths(price))
        loft.supplies.setdefault((house.name, pack.material), supply)


def _write(loft: Loft, formula: Formula) -> None:
    write_recipe(
        name=formula.makes,
        makes=loft.materials[formula.makes],
        basis=Basis.MASS if formula.by_mass else Basis.VOLUME,
        parts=parts_of(loft, formula),
        notes=formula.notes,
        submission=loft.submission(loft.owner, loft.diary.ago(366)),
    )


def _keep_ratio(loft: Loft, name: str, written: str, notes: str) -> None:
    """A ratio; the oil of the one that has some is always the same, and the one without is the favourite."""
    oil = loft.materials["Silicone oil"]
    parts = [
        RatioPartFacts(part.role, part.amount, part.unit, oil if part.unit is RatioUnit.DROPS else None)
        for part in read_notation(written, decimal_comma=False)
    ]
    is_favourite = all(part.unit == RatioUnit.PARTS for part in parts)
    facts = RatioFacts(parts, name=name, notes=notes, is_favourite=is_favourite)
    save_ratio(facts=facts, submission=loft.submission(loft.owner, loft.diary.ago(366)))


def parts_of(loft: Loft, formula: Formula) -> list[tuple[Material, int]]:
    """A formula's parts in thousandths of a part."""
    return [(loft.materials[name], thousandths(part)) for name, part in formula.parts.items()]
