"""What is added to the shopping list by hand, beside what is low and what plans are short of."""

from costing.demo.figures import thousandths
from costing.demo.setting_up import Loft
from inventory.shopping.actions import Addition, add_to_list, tick

IN_WORDS = ("Kitchen roll", "Clear bags for the stall")


def add_by_hand(loft: Loft) -> None:
    """Gold for the spring market, and two things from anywhere, one of them in the basket already."""
    submission = loft.submission(loft.helper, loft.diary.today)
    gold = Addition(loft.materials["Pearl Gold"], thousandths("250"))
    add_to_list(addition=gold, submission=submission)
    entries = [add_to_list(addition=Addition(text=text), submission=submission) for text in IN_WORDS]
    tick(entry=entries[0], ticked=True, submission=submission)
