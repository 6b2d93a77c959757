"""Words of costs and prices."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.term import Word

COSTS = (
    Word(
        "first-in-first-out",
        pgettext_lazy("glossary", "First in, first out"),
        gettext_lazy(
            "A costing method: each amount costs what its own bottle cost, and the oldest is used first."
        ),
        gettext_lazy(
            "Two litre bottles cost 10.00 and 14.00. The first litre used costs 10.00, the second 14.00."
        ),
    ),
    Word(
        "weighted-average",
        pgettext_lazy("glossary", "Weighted average"),
        gettext_lazy(
            "The other costing method: all bottles of a material cost the same, and each delivery "
            "changes the average. The posting “Average cost updated” spreads the new cost; no "
            "material moves."
        ),
        gettext_lazy("Two litre bottles cost 10.00 and 14.00. Each litre used costs 12.00."),
    ),
    Word(
        "landed-cost",
        pgettext_lazy("glossary", "Landed cost"),
        gettext_lazy("The price of a line plus its share of carriage, duty and tax that you cannot reclaim."),
        gettext_lazy(
            "Paint for 40.00 and canvas for 60.00 came with 10.00 of carriage: the paint costs 44.00."
        ),
    ),
    Word(
        "cost-correction",
        pgettext_lazy("glossary", "Cost correction"),
        gettext_lazy(
            "A change of cost after the delivery, such as a credit note. It follows the paint to "
            "wherever it is now: in stock, in unsold work, in cost of sales or in a loss."
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
        "overhead",
        pgettext_lazy("glossary", "Overhead"),
        gettext_lazy(
            "What the studio costs whether you pour or not, such as rent and light, shared by hours worked."
        ),
        gettext_lazy("At 3.00 an hour, a piece with 40 minutes of labour carries 2.00."),
    ),
    Word(
        "rework",
        pgettext_lazy("glossary", "Rework"),
        gettext_lazy(
            "Paint and time from a failed pour beneath a good one. The piece carries that cost too."
        ),
    ),
    Word(
        "unsold-work",
        pgettext_lazy("glossary", "Unsold work"),
        gettext_lazy("Pours and pieces that have not been sold, with the cost of their materials."),
    ),
)

PRICES = (
    Word(
        "route",
        pgettext_lazy("glossary", "Sales channel"),
        gettext_lazy("A way you sell, and what it takes from each price: a stall, a gallery, a web shop."),
    ),
    Word(
        "commission",
        pgettext_lazy("glossary", "Commission"),
        gettext_lazy("The share of the price that a gallery or a shop keeps for selling the piece."),
        gettext_lazy("35% of 200.00 is 70.00."),
    ),
    Word(
        "tax-inside",
        pgettext_lazy("glossary", "Tax included in the price"),
        gettext_lazy("The sales tax the buyer pays as part of the price, which you pass on."),
        gettext_lazy("With 20% tax, a price of 120.00 includes 20.00 tax."),
    ),
    Word(
        "lowest-price",
        pgettext_lazy("glossary", "Lowest price (price floor)"),
        gettext_lazy(
            "The price that covers the cost of the piece, the tax in the price and the fees, with no profit."
        ),
        gettext_lazy("A piece cost 26.00 and a gallery keeps 35%: 26.00 ÷ 0.65 = 40.00."),
    ),
    Word(
        "profit-on-top",
        pgettext_lazy("glossary", "Markup"),
        gettext_lazy(
            "Profit as a share of cost. As a share of the price it is called a margin, which is smaller."
        ),
        gettext_lazy(
            "It cost 20.00 and makes 10.00 profit after tax and fees: a markup of 50%, a margin of 33.3%."
        ),
    ),
    Word(
        "net-proceeds",
        pgettext_lazy("glossary", "Net proceeds and profit"),
        gettext_lazy(
            "Net proceeds are the price less tax and fees. Subtract what the piece cost, and you "
            "have the profit."
        ),
        gettext_lazy(
            "Sold for 45.00 with 9.00 of fees: net proceeds of 36.00. It cost 20.00, so the profit is 16.00."
        ),
    ),
    Word(
        "price-list",
        pgettext_lazy("glossary", "Price list"),
        gettext_lazy("The pieces for sale with size, technique and price, to print for a stall or gallery."),
    ),
)
