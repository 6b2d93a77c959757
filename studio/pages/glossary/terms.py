"""The words of the glossary."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy, pgettext_lazy

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class Word:
    """One word: where it stands on the page, what it means, and an example in numbers where that helps."""

    anchor: str
    term: "_StrOrPromise"
    meaning: "_StrOrPromise"
    example: "_StrOrPromise" = ""


SHELF = (
    Word(
        "lot",
        pgettext_lazy("glossary", "Lot"),
        gettext_lazy(
            "What came in together of one material: the bottles on one delivery line, or one mix. A "
            "lot has a number, such as L0012, to write on the bottle, and its own cost."
        ),
    ),
    Word(
        "ratio",
        pgettext_lazy("glossary", "Ratio"),
        gettext_lazy(
            "Parts by role, for any paint and medium: so much paint to so much medium and water, with any additive in "
            "% of the cup or in drops per 100 mL. A recipe names its materials, for what you make again."
        ),
        gettext_lazy("1 : 2 : ½ is 100 mL of paint, 200 mL of medium and 50 mL of water in a cup of 350 mL."),
    ),
    Word(
        "opening-stock",
        pgettext_lazy("glossary", "Opening stock"),
        gettext_lazy("What you already had when you started with Meniscus, entered once with what it cost."),
    ),
    Word(
        "running-total",
        pgettext_lazy("glossary", "Running total"),
        gettext_lazy(
            "What a scale that is zeroed once, with the empty cup on it, or one measuring cup shows after each part. "
            "These are rounded to what your scale can show, so the parts still add up to the cup."
        ),
        gettext_lazy(
            "40 g, 80 g and 40 g show as 40, 120 and 160 g. If 46 g of the first went in, the others become 92 g and "
            "46 g: 46, 138 and 184 g."
        ),
    ),
    Word(
        "run-off",
        pgettext_lazy("glossary", "Run-off"),
        gettext_lazy(
            "The paint that runs over the edge while you pour. It is part of what was poured, so its cost stays in "
            "the piece."
        ),
        gettext_lazy(
            "180 mL poured and 45 mL in the tray: the pour carries all 180 mL, and a quarter ran off."
        ),
    ),
    Word(
        "loss",
        pgettext_lazy("glossary", "Loss, normal and abnormal"),
        gettext_lazy(
            "A normal loss belongs to the work, such as what sticks to the cup, or the pours that fail now and "
            "then: the good pieces carry its cost. An abnormal loss was avoidable, such as a spill: it is recorded "
            "under its own reason, and no piece pays for it."
        ),
        gettext_lazy(
            "Five pours cost 4 each and one fails. Thrown away as a normal loss, its 4 goes to the other four, "
            "which then cost 5 each. If the table tipped over, 4 is the loss “Ruined pour” instead."
        ),
    ),
    Word(
        "count",
        pgettext_lazy("glossary", "Stocktake"),
        gettext_lazy(
            "What is really there, measured or weighed, compared with what is recorded. The "
            "difference is recorded, and then both agree."
        ),
    ),
    Word(
        "count-gain",
        pgettext_lazy("glossary", "Stocktake gain"),
        gettext_lazy("Material found that was not recorded. It is added at the cost the material last had."),
        gettext_lazy("100 mL is recorded and the bottle holds 120 mL: a gain of 20 mL."),
    ),
    Word(
        "unusual-amount",
        pgettext_lazy("glossary", "Unusual amount"),
        gettext_lazy(
            "An amount more than 5 times what is usual for you, or less than an eighth of it, and further from it "
            "where your amounts vary a lot; your last 20 of the same kind are looked at, once there are 4. You are "
            "asked once whether it is right, and what you confirm is recorded with it."
        ),
        gettext_lazy("Your last ring pours took 70 to 95 mL. 900 mL is asked about; 250 mL is not."),
    ),
    Word(
        "chasing",
        pgettext_lazy("glossary", "Asking where an order is"),
        gettext_lazy(
            "When an order is late, ask the supplier and record the day it promises. The order is then expected on "
            "that day; the day promised before is kept, and lead times learn from what the order really took."
        ),
    ),
    Word(
        "still-due",
        pgettext_lazy("glossary", "Still due"),
        gettext_lazy(
            "What was ordered less what has been received for it, in all its deliveries together. It counts as on "
            "order until it comes or the order is closed."
        ),
        gettext_lazy("4 packs of 500 mL ordered, 3 packs received: 500 mL is still due."),
    ),
    Word(
        "density",
        pgettext_lazy("glossary", "Density"),
        gettext_lazy(
            "What one millilitre weighs in grams. With it you can use scales instead of a measuring cup."
        ),
        gettext_lazy("If 50 mL of a paint weigh 60 g, 300 mL weigh 360 g."),
    ),
)

BOOKS = (
    Word(
        "ledger",
        pgettext_lazy("glossary", "Ledger"),
        gettext_lazy("The record of every movement, in order. Entries are added and never changed."),
    ),
    Word(
        "posting",
        pgettext_lazy("glossary", "Posting"),
        gettext_lazy(
            "One entry in the ledger for one event, such as a delivery, a session, a stocktake or a sale."
        ),
    ),
    Word(
        "move",
        pgettext_lazy("glossary", "Movement"),
        gettext_lazy(
            "One line of a posting: some of a material, with its cost, moves from one place to another."
        ),
        gettext_lazy("180 mL, which cost 2, moves from lot L0002 to pour P0001."),
    ),
    Word(
        "seal",
        pgettext_lazy("glossary", "Seal"),
        gettext_lazy(
            "A long number calculated from a posting and the seal before it; the year end and the daily email call it "
            "the check figure. Altering an old posting would break every later seal, and the ledger check would "
            "show it."
        ),
    ),
    Word(
        "reversal",
        pgettext_lazy("glossary", "Reversal"),
        gettext_lazy(
            "A posting that cancels an earlier one with the same movements backwards. Both stay in the ledger."
        ),
        gettext_lazy(
            "A delivery of 500 mL was entered twice. Reversing one takes 500 mL out of stock again."
        ),
    ),
    Word(
        "closed-period",
        pgettext_lazy("glossary", "Closed period"),
        gettext_lazy(
            "Nothing can be posted on or before the closing date, so the figures of a finished year "
            "stay as you submitted them."
        ),
    ),
)

COSTS = (
    Word(
        "first-in-first-out",
        pgettext_lazy("glossary", "First in, first out"),
        gettext_lazy(
            "A costing method: each amount costs what its own bottle cost, and the oldest delivery is used first."
        ),
        gettext_lazy("Two litre bottles cost 10 and 14. The first litre used costs 10, the second 14."),
    ),
    Word(
        "first-expired-first-out",
        pgettext_lazy("glossary", "First expired, first out"),
        gettext_lazy(
            "A costing method: each amount costs what its own bottle cost, and what is best before the "
            "earliest date is used first."
        ),
        gettext_lazy("A medium best before June is used before an older one that keeps until August."),
    ),
    Word(
        "weighted-average",
        pgettext_lazy("glossary", "Weighted average"),
        gettext_lazy(
            "A costing method: all bottles of a material cost the same, and each delivery changes the "
            "average. Its posting has lines that spread the new cost; no material moves in them."
        ),
        gettext_lazy("Two litre bottles cost 10 and 14. Each litre used costs 12."),
    ),
    Word(
        "landed-cost",
        pgettext_lazy("glossary", "Landed cost"),
        gettext_lazy("The price of a line plus its share of carriage, duty and tax that you cannot reclaim."),
        gettext_lazy("Paint for 40 and canvas for 60 came with 10 of carriage: the paint costs 44."),
    ),
    Word(
        "cost-correction",
        pgettext_lazy("glossary", "Correction"),
        gettext_lazy(
            "A change to a delivery or to opening stock after it was saved, such as a wrong pack size or a credit "
            "note. It follows the paint to wherever it is now: in stock, in unsold work, in cost of sales or in a loss."
        ),
    ),
    Word(
        "cost-sheet",
        pgettext_lazy("glossary", "Cost sheet"),
        gettext_lazy(
            "Everything that went into a piece, line by line, with its cost: materials, labour and overhead."
        ),
    ),
    Word(
        "piece-number",
        pgettext_lazy("glossary", "Piece number"),
        gettext_lazy(
            "The number on the back of the canvas, from its first pour to the sold piece: a pour over a failed one "
            "keeps it, and a set is named by its first canvas. Search for it in Pieces, Sales or Sessions."
        ),
        gettext_lazy(
            "Canvas P0012 is poured over: the second pour on it is P0012-2, and the piece is P0012. Four coasters "
            "are P0013–P0016, in short P0013."
        ),
    ),
    Word(
        "location",
        pgettext_lazy("glossary", "Location"),
        gettext_lazy(
            "Where a piece is now: the studio, a gallery, a market box, or lent. It is in one place at a time, and "
            "in a gallery or a box it is still yours until it is sold."
        ),
    ),
    Word(
        "consignment",
        pgettext_lazy("glossary", "Consignment, sale or return"),
        gettext_lazy(
            "Pieces given to a gallery that stay yours until they are sold. The gallery keeps its commission of each "
            "sale and pays you the rest; what it does not sell comes back."
        ),
        # xgettext:no-python-format for its % is a word
        gettext_lazy("Sold for 120 at 40% commission without tax: 48 for the gallery, 72 for you."),
    ),
    Word(
        "customer-deposit",
        pgettext_lazy("glossary", "Customer deposit"),
        gettext_lazy(
            "Money that a buyer pays before the piece is sold. You owe it until then, so it is a liability and no "
            "income; at the sale it is set off against the price."
        ),
        gettext_lazy("200 agreed, 60 paid when it was ordered: 140 is due at the sale, and 200 is income."),
    ),
    Word(
        "overhead",
        pgettext_lazy("glossary", "Overhead"),
        gettext_lazy(
            "What the studio costs whether you pour or not, such as rent and light, shared by hours worked."
        ),
        gettext_lazy("At 3 an hour, a piece with 40 minutes of labour carries 2."),
    ),
    Word(
        "rework",
        pgettext_lazy("glossary", "Rework"),
        gettext_lazy(
            "Paint and time from a failed or scraped layer beneath a good pour. The piece carries that cost too; the "
            "surface is taken from stock only once."
        ),
        gettext_lazy(
            "A canvas for 4 under paint for 2 is scraped and poured over with paint for 1: the new piece cost "
            "7, of which 2 is rework."
        ),
    ),
    Word(
        "rounding",
        pgettext_lazy("glossary", "Rounding"),
        gettext_lazy(
            "Costs are kept to a millionth; each amount is rounded separately, so it reads the same on every page. "
            "Where the rounded lines of a list do not add up to its rounded total, the difference has its own line."
        ),
        gettext_lazy(
            "Three pours share a cost of 10. Each is rounded down; the line “Rounding” adds the last penny."
        ),
    ),
    Word(
        "unsold-work",
        pgettext_lazy("glossary", "Unsold work"),
        gettext_lazy("Pours and pieces that have not been sold, with the cost of their materials."),
    ),
)
