"""Pieces of the demo that hung in the net loft before the books began, at costs from the sisters' old notebook."""

from costing.brought_in.actions import BroughtInPiece, bring_in_pieces
from costing.demo.figures import millionths
from costing.demo.setting_up import Loft

POUND = 1_000_000
# Title, surface, technique, what materials and work cost, price (none: not for sale), year.
OLDER = [
    ("Before the thaw", "Canvas 20 × 20 cm", "Flip cup", "4.10", "9.00", 38, 2022),
    ("Slack water", "Tile 15 × 15 cm", "Ring pour", "2.35", "5.50", 24, 2023),
    ("First skin", "Tile 15 × 15 cm", "Dirty pour", "2.20", "0.00", None, 2021),
]


def hang_older_pieces(loft: Loft, days_ago: int) -> None:
    """Two that are for sale, and the first that worked out, which is not."""
    day = loft.diary.ago(days_ago)
    pieces = [
        BroughtInPiece(
            title=title,
            surface=loft.materials[surface],
            technique=loft.techniques[technique],
            cost=millionths(cost),
            labour=millionths(labour),
            price=price and price * POUND,
            is_for_sale=price is not None,
            year=year,
        )
        for title, surface, technique, cost, labour, price, year in OLDER
    ]
    bring_in_pieces(pieces=pieces, submission=loft.submission(loft.owner, day))
