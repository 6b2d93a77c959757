"""The passwords of the demo's people: public ones on this machine, secret ones where others could try them."""

import secrets

from costing.demo.people import PEOPLE
from studio.accounts.actions import reset_password
from studio.accounts.models import User

# Short words that nobody mistakes for another. Five of 32 and a number of 900 make 30,000 million phrases, and five
# wrong ones lock the account for half an hour.
WORDS = (
    "amber", "anchor", "barley", "beacon", "bramble", "canvas", "cobalt", "copper", "coral", "ember", "fennel",
    "flint", "harbour", "hazel", "indigo", "ivory", "juniper", "kelp", "lantern", "linen", "maple", "marble", "meadow",
    "ochre", "pebble", "quartz", "russet", "saffron", "thistle", "umber", "velvet", "willow",
)  # fmt: skip


def give_phrases(*, are_secret: bool) -> dict[str, str]:
    """Give the demo's people their passwords, and return them by user name."""
    phrases = {each.username: _new_phrase() if are_secret else each.phrase for each in PEOPLE}
    for person in User.objects.filter(username__in=phrases):
        phrase = phrases[person.username]
        if not person.check_password(phrase):
            reset_password(person=person, password=phrase, submission=None)
    return phrases


def _new_phrase() -> str:
    words = [secrets.choice(WORDS) for _ in range(5)]
    return "-".join([*words, str(secrets.randbelow(900) + 100)])
