"""The words of the glossary about prices, selling, and what stock stands at."""

from django.utils.translation import gettext_lazy, pgettext_lazy

from studio.pages.glossary.terms import Word

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
        # xgettext:no-python-format for its % is a word
        gettext_lazy("35% of 200 is 70."),
    ),
    Word(
        "absorbed-overhead",
        pgettext_lazy("glossary", "Absorbed overhead"),
        gettext_lazy(
            "Overhead that hours of work are charged with, at a rate estimated beforehand. Paying more than that is "
            "under-absorbed, paying less over-absorbed."
        ),
        gettext_lazy("At 2 an hour 450 hours absorb 900. Of 970 paid, 70 is under-absorbed."),
    ),
    Word(
        "tax-inside",
        pgettext_lazy("glossary", "Tax included in the price"),
        gettext_lazy("The sales tax the buyer pays as part of the price, which you pass on."),
        gettext_lazy("With 20% tax, a price of 120 includes 20 tax."),
    ),
    Word(
        "lowest-price",
        pgettext_lazy("glossary", "Lowest price (price floor)"),
        gettext_lazy(
            "The price that covers the cost of the piece and its packing, the tax in the price and the fees, "
            "with no profit."
        ),
        gettext_lazy(
            "A piece cost 26 and a gallery keeps 35%: 26 is the other 65%, so the lowest price is 40."
        ),
    ),
    Word(
        "profit-on-top",
        pgettext_lazy("glossary", "Markup"),
        gettext_lazy(
            "Profit as a share of cost. As a share of the price it is called a margin, which is smaller."
        ),
        gettext_lazy("It cost 20 and makes 20 profit after tax and fees: a markup of 100%, a margin of 50%."),
    ),
    Word(
        "net-proceeds",
        pgettext_lazy("glossary", "Net proceeds and profit"),
        gettext_lazy(
            "Net proceeds are the price less tax and fees. Subtract what the piece cost, and you "
            "have the profit."
        ),
        gettext_lazy("Sold for 45 with 9 of fees: net proceeds of 36. It cost 20, so the profit is 16."),
    ),
    Word(
        "contribution",
        pgettext_lazy("glossary", "Contribution"),
        gettext_lazy(
            "What a sale leaves towards costs that are the same however much is sold, such as a pitch fee: net "
            "proceeds less the cost of the piece."
        ),
        gettext_lazy(
            "Net proceeds of 36 for a piece that cost 20: a contribution of 16 to the costs of the day."
        ),
    ),
    Word(
        "break-even",
        pgettext_lazy("glossary", "Break-even and margin of safety"),
        gettext_lazy(
            "Break-even is the point at which contributions just cover the fixed costs. The margin of safety is how "
            "far takings could have fallen before that."
        ),
        gettext_lazy(
            "A day costs 70 and each piece contributes 14: 5 pieces break even. With 8 sold at 30 each, "
            "the margin of safety is 90 of 240."
        ),
    ),
    Word(
        "price-list",
        pgettext_lazy("glossary", "Price list"),
        gettext_lazy("The pieces for sale with size, technique and price, to print for a stall or gallery."),
    ),
    Word(
        "write-down",
        pgettext_lazy("glossary", "Write-down"),
        gettext_lazy(
            "Stock that will not bring what it cost is valued at what it will bring, less what finishing and selling "
            "it still cost. It goes up again when it will bring more, but never above its cost."
        ),
        gettext_lazy("A piece with 9 of materials in it that will leave 6 is written down by 3."),
    ),
)
