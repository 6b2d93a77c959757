"""What the price tag adds to the pages that the search finds: tasks, and other words for the pages of its menu."""

from django.utils.translation import gettext_lazy

from studio.search.filters import SearchPage

WORDS = {
    "costing:pieces": gettext_lazy("finished work, paintings, varnish, for sale"),
    "costing:stall": gettext_lazy("market stall, cash, till, change"),
    "costing:locations": gettext_lazy("gallery, market box, where pieces are, loan, exhibition"),
    "costing:consignments": gettext_lazy("gallery, delivered to a gallery, on commission"),
    "costing:markets": gettext_lazy("fair, stall, packing list, cash count"),
    "costing:prices": gettext_lazy("what should I charge, suggest a price, raise prices, cost plus"),
    "costing:sales": gettext_lazy("sold, receipt, return, refund, credit note"),
    "costing:commissions": gettext_lazy("made to order, deposit, ordered by a buyer"),
    "costing:earnings": gettext_lazy("profit, takings, turnover, revenue"),
    "costing:year-end": gettext_lazy("close the year, accountant, profit and loss, tax return, annual"),
    "costing:price-list": gettext_lazy("price tags, labels, catalogue, print"),
    "costing:contacts": gettext_lazy("customers, buyers, addresses, galleries"),
    "costing:overhead": gettext_lazy("rent, electricity, insurance, running costs"),
    "costing:channels": gettext_lazy(
        "gallery terms, commission, fees, online shop, market stall, how buyers pay"
    ),
    "costing:price-rules": gettext_lazy("markup, hourly wage, rounding, minimum price"),
    "api-start": gettext_lazy("program, token, automation, developer"),
}
PAGES = (
    SearchPage(
        "costing:sale-new",
        gettext_lazy("Sell pieces"),
        words=gettext_lazy("sale, sold, cash, receipt"),
        allowed=lambda user: user.may_write,
    ),
    SearchPage(
        "costing:slow-sellers",
        gettext_lazy("Slow sellers"),
        words=gettext_lazy("unsold, waiting"),
        allowed=lambda user: user.sees_money,
    ),
    SearchPage(
        "costing:write-downs",
        gettext_lazy("Stock below its cost"),
        words=gettext_lazy("write down, worth less"),
        allowed=lambda user: user.is_owner,
    ),
)
