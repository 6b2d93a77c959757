"""Words of costs and prices."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.term import Word

COSTS = (
    Word(
        "first-in-first-out",
        pgettext_lazy("glossary", "First in, first out"),
        gettext_lazy(
            "A way to count costs: every amount costs what its own bottle cost, and the oldest is used first."
        ),
        gettext_lazy(
            "Two litre bottles cost 10.00 and 14.00. The first litre used costs 10.00, the second 14.00."
        ),
    ),
    Word(
        "weighted-average",
        pgettext_lazy("glossary", "Weighted average"),
        gettext_lazy(
            "The other way to count costs: all bottles of a material cost the same, and each delivery changes the "
            "average. The posting “Average cost evened” spreads the cost anew; nothing moves on the shelf."
        ),
        gettext_lazy("Two litre bottles cost 10.00 and 14.00. Each litre used costs 12.00."),
    ),
    Word(
        "landed-cost",
        pgettext_lazy("glossary", "Cost on arrival (landed cost)"),
        gettext_lazy(
            "The price of a line with its share of carriage, duty and tax that you cannot claim back."
        ),
        gettext_lazy(
            "Paint for 40.00 and canvas for 60.00 came with 10.00 of carriage: the paint costs 44.00."
        ),
    ),
    Word(
        "cost-correction",
        pgettext_lazy("glossary", "Cost correction"),
        gettext_lazy(
            "A change of cost after the delivery, such as a credit note. It follows the paint to wherever that is now: "
            "the shelf, unsold work, sold work or a loss."
        ),
    ),
    Word(
        "cost-sheet",
        pgettext_lazy("glossary", "Cost sheet"),
        gettext_lazy(
            "All that went into a piece, line by line, with its cost: materials, work and overhead."
        ),
    ),
    Word(
        "overhead",
        pgettext_lazy("glossary", "Overhead"),
        gettext_lazy(
            "What the studio costs whether you pour or not, such as rent and light, shared by hours worked."
        ),
        gettext_lazy("At 3.00 an hour, a piece with 40 minutes of work carries 2.00."),
    ),
    Word(
        "rework",
        pgettext_lazy("glossary", "Rework"),
        gettext_lazy(
            "Paint and time of a failed pour that lies beneath a good one. The piece carries them too."
        ),
    ),
    Word(
        "unsold-work",
        pgettext_lazy("glossary", "Unsold work"),
        gettext_lazy("Pours and pieces that have not left yet, with the cost of the material in them."),
    ),
)

PRICES = (
    Word(
        "route",
        pgettext_lazy("glossary", "Selling route"),
        gettext_lazy(
            "A place where you sell, and what it takes of each price: a stall, a gallery, a page on the web."
        ),
    ),
    Word(
        "commission",
        pgettext_lazy("glossary", "Commission"),
        gettext_lazy("The share of the price that a gallery or a shop keeps for selling the piece."),
        gettext_lazy("35 % of 200.00 are 70.00."),
    ),
    Word(
        "tax-inside",
        pgettext_lazy("glossary", "Tax inside the price"),
        gettext_lazy("The sales tax that the buyer pays with the price, and that you pass on."),
        gettext_lazy("With 20 % tax, a price of 120.00 holds 20.00 of it."),
    ),
    Word(
        "lowest-price",
        pgettext_lazy("glossary", "Lowest price (price floor)"),
        gettext_lazy(
            "The price that covers the cost of the piece, the tax inside it and the fees, and leaves nothing."
        ),
        gettext_lazy("A piece cost 26.00 and a gallery keeps 35 %: 26.00 ÷ 0.65 = 40.00."),
    ),
    Word(
        "profit-on-top",
        pgettext_lazy("glossary", "Profit on top of the cost"),
        gettext_lazy(
            "Profit as a share of the cost. As a share of the price it is called a margin, and is smaller."
        ),
        gettext_lazy(
            "It cost 20.00 and leaves 30.00 after tax and fees: 50 % on top of the cost, a margin of 33.3 %."
        ),
    ),
    Word(
        "takings",
        pgettext_lazy("glossary", "Takings, and what is left after cost"),
        gettext_lazy(
            "Takings are what the price leaves when tax and fees are paid. Take away what the piece cost, and you "
            "have what is left."
        ),
        gettext_lazy("Sold for 45.00 with 9.00 of fees: takings of 36.00. It cost 20.00, so 16.00 are left."),
    ),
    Word(
        "price-list",
        pgettext_lazy("glossary", "Price list"),
        gettext_lazy(
            "The pieces for sale with size, technique and price, to print for the stall or the gallery."
        ),
    ),
)
