"""Words of the shelf, of ordering and of the books."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.term import Word

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
        "opening-stock",
        pgettext_lazy("glossary", "Opening stock"),
        gettext_lazy("What you already had when you started with Meniscus, entered once with what it cost."),
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
            "A normal loss belongs to the work, such as what sticks to the cup: the pieces carry its "
            "cost. An abnormal loss was avoidable, such as a spill: it is recorded under its own "
            "reason, and no piece pays for it."
        ),
        gettext_lazy(
            "A third of a cup that cost 6.00 is spilt: 4.00 goes into the pour and 2.00 into the loss “Spill”."
        ),
    ),
    Word(
        "count",
        pgettext_lazy("glossary", "Stocktake"),
        gettext_lazy(
            "What is really there, measured or weighed, compared with what is recorded. The "
            "difference is posted, and then both agree."
        ),
    ),
    Word(
        "count-gain",
        pgettext_lazy("glossary", "Stocktake gain"),
        gettext_lazy("Material found that was not recorded. It is added at the cost the material last had."),
        gettext_lazy("100 mL is recorded and the bottle holds 120 mL: a gain of 20 mL."),
    ),
    Word(
        "density",
        pgettext_lazy("glossary", "Density"),
        gettext_lazy(
            "What one millilitre weighs in grams. With it you can use scales instead of a measuring cup."
        ),
        gettext_lazy("300 mL of a paint at 1.2 g/mL weigh 360 g."),
    ),
)

ORDERING = (
    Word(
        "reorder-level",
        pgettext_lazy("glossary", "Reorder level"),
        gettext_lazy(
            "When stock plus what is on order falls to this amount, it is time to order: it lasts "
            "until the delivery arrives and leaves the safety stock."
        ),
        gettext_lazy(
            "10 mL a day for a lead time of 14 days, and 60 mL of safety stock: 10 × 14 + 60 = 200 mL."
        ),
    ),
    Word(
        "lead-time",
        pgettext_lazy("glossary", "Lead time"),
        gettext_lazy("The days from an order to its delivery. Each supplier has its own, set on its page."),
    ),
    Word(
        "safety-stock",
        pgettext_lazy("glossary", "Safety stock"),
        gettext_lazy(
            "Some extra for a busy month or a late delivery: your own figure, or calculated from past use."
        ),
    ),
    Word(
        "cover",
        pgettext_lazy("glossary", "Lasts until (cover)"),
        gettext_lazy("How long your stock lasts if you keep using it at the same rate."),
        gettext_lazy("300 mL at 10 mL a day lasts 30 days."),
    ),
    Word(
        "reserve",
        pgettext_lazy("glossary", "Extra paint"),
        gettext_lazy("Paint planned on top of what a set should need, so that no cup runs short."),
        gettext_lazy("500 mL and 10% extra paint: 550 mL is mixed."),
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
        gettext_lazy("180 mL, with 1.20 of cost, moves from lot L0002 to pour P0001."),
    ),
    Word(
        "seal",
        pgettext_lazy("glossary", "Seal"),
        gettext_lazy(
            "A long number calculated from a posting and the seal before it. Altering an old posting "
            "would break every later seal, and the ledger check would show it."
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
