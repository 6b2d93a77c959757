"""What of the price tag can be printed, for programs too: its pages' own views."""

from costing.commissions.views import paper as commission
from costing.consignments.views import paper as consignment
from costing.markets.views.packing import paper as packing_list
from costing.markets.views.report import report as market_report
from costing.papers.forms import PriceListForm
from costing.papers.views import certificate, labels, piece_cost_sheet
from costing.papers.views import paper as price_list
from costing.reports.views import paper as year_end
from costing.selling.views.papers import credit_note, receipt
from studio.api.papers import USUAL, Printable, register


def register_papers() -> None:
    choices = (*PriceListForm.base_fields, "p", "under")
    register(
        Printable("receipt", "sale", receipt),
        Printable("credit-note", "refund", credit_note),
        Printable("consignment-note", "consignment note", consignment),
        Printable("certificate", "piece", certificate),
        Printable("cost-sheet", "piece", piece_cost_sheet),
        Printable("commission", "commission", commission),
        Printable("packing-list", "market day", packing_list),
        Printable("market-report", "market day", market_report),
        Printable("year-end", "", year_end, (*USUAL, "first", "last")),
        Printable("price-list", "", price_list, choices, many=("p",)),
        Printable("price-labels", "", labels, choices, many=("p",)),
    )
