"""What of the shelf can be printed, for programs too: its pages' own views."""

from inventory.bench.views.papers import mixing_sheet
from inventory.comparisons.views.papers import recipes, report
from inventory.purchasing.views.order_page import paper as order
from inventory.shopping.views.papers import paper as shopping_list
from inventory.stock.views.labels import JarLabelForm, jar_labels
from inventory.stock.views.stocktakes import sheet_paper
from studio.api.papers import USUAL, Printable, register


def register_papers() -> None:
    labels = (*JarLabelForm.base_fields, "lot")
    register(
        Printable("order", "order", order),
        Printable("mixing-sheet", "plan", mixing_sheet),
        Printable("comparison", "comparison", report),
        Printable("recipes", "comparison", recipes),
        Printable("shopping-list", "", shopping_list),
        Printable(
            "stocktake-sheet",
            "",
            sheet_paper,
            (*USUAL, "kind", "place", "all", "emptied", "code", "expected"),
        ),
        Printable(
            "jar-labels",
            "",
            jar_labels,
            labels,
            (("print", "1"), ("paper", "A4"), ("start", "1")),
            many=("lot",),
        ),
    )
