"""Words of the shelf, of ordering and of the books."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.term import Word

SHELF = (
    Word(
        "lot",
        pgettext_lazy("glossary", "Lot"),
        gettext_lazy(
            "What came in together of one material: the bottles of one line of a delivery, or one mix. A lot has a "
            "number, such as L0012, to write on the bottle, and a cost of its own."
        ),
    ),
    Word(
        "opening-stock",
        pgettext_lazy("glossary", "Opening stock"),
        gettext_lazy("What stood on the shelf when the books began, entered once with what it had cost."),
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
            "A normal loss belongs to the work, such as what sticks to the cup: the pieces carry its cost. An "
            "abnormal loss need not have happened, such as a spill: it stands in the books under its own cause, and "
            "no piece pays for it."
        ),
        gettext_lazy(
            "Of a cup that cost 6.00 a third is spilt: 4.00 go into the pour, 2.00 into the loss “Spill”."
        ),
    ),
    Word(
        "count",
        pgettext_lazy("glossary", "Count, or stocktake"),
        gettext_lazy(
            "What is really on the shelf, measured or weighed, set against what the books say. The difference is "
            "posted, and from then on both agree."
        ),
    ),
    Word(
        "count-gain",
        pgettext_lazy("glossary", "Count gain"),
        gettext_lazy(
            "Material that is there though the books did not know of it. It enters the books at what the material "
            "last cost."
        ),
        gettext_lazy("The books say 100 mL, the bottle held 120 mL: 20 mL are gained."),
    ),
    Word(
        "density",
        pgettext_lazy("glossary", "Density"),
        gettext_lazy(
            "What one millilitre weighs in grams. With it, a scale can take the place of a measuring cup."
        ),
        gettext_lazy("300 mL of a paint at 1.2 g/mL weigh 360 g."),
    ),
)

ORDERING = (
    Word(
        "reorder-level",
        pgettext_lazy("glossary", "Reorder level"),
        gettext_lazy(
            "When the shelf and what is on order fall to this amount, it is time to order: it lasts until the "
            "delivery comes, and the safety stock remains."
        ),
        gettext_lazy("10 mL a day for 14 days of waiting, and 60 mL of safety stock: 10 × 14 + 60 = 200 mL."),
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
            "Some extra for a busy month or a late parcel: your own figure, or worked out from past use."
        ),
    ),
    Word(
        "cover",
        pgettext_lazy("glossary", "Lasts until (cover)"),
        gettext_lazy("How long the stock lasts if you go on using as much as you did."),
        gettext_lazy("300 mL at 10 mL a day last 30 days."),
    ),
    Word(
        "reserve",
        pgettext_lazy("glossary", "Reserve of paint"),
        gettext_lazy("Extra paint planned on top of what a set should take, so that no cup runs short."),
        gettext_lazy("500 mL and a reserve of 10 %: 550 mL are mixed."),
    ),
)

BOOKS = (
    Word(
        "ledger",
        pgettext_lazy("glossary", "Ledger"),
        gettext_lazy("The book of everything that moved, in order. It is added to, and never changed."),
    ),
    Word(
        "posting",
        pgettext_lazy("glossary", "Posting"),
        gettext_lazy(
            "One entry in the ledger for one event, such as a delivery, a session, a count or a sale."
        ),
    ),
    Word(
        "move",
        pgettext_lazy("glossary", "Move"),
        gettext_lazy(
            "One line of a posting: some of a material, with its cost, goes from one place to another."
        ),
        gettext_lazy("180 mL, with 1.20 of cost, go from lot L0002 to pour P0001."),
    ),
    Word(
        "seal",
        pgettext_lazy("glossary", "Seal"),
        gettext_lazy(
            "A long number worked out from a posting and from the seal before it. Whoever altered an old posting would "
            "break every later seal, and the check of the books would show it."
        ),
    ),
    Word(
        "reversal",
        pgettext_lazy("glossary", "Reversal (taking back)"),
        gettext_lazy(
            "A posting that undoes an earlier one by the same moves backwards. Both stay in the ledger."
        ),
        gettext_lazy(
            "A delivery of 500 mL was entered twice. Taking one back takes 500 mL off the shelf again."
        ),
    ),
    Word(
        "closed-period",
        pgettext_lazy("glossary", "Closed period"),
        gettext_lazy(
            "Nothing can be posted any more up to the day through which the books are closed, so that the figures "
            "of a finished year stay as they were handed in."
        ),
    ),
)
