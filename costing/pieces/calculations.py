"""Where a piece may go from where it is. Pure: a table, and a refusal that names what is possible."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from costing.errors import StepRefused
from studio.translation import _, noop, pgettext


class State(StrEnum):
    """Where a piece stands, wet on the shelf to sold."""

    WET = "wet"
    DRY = "dry"
    FINISHED = "finished"
    FOR_SALE = "for_sale"
    RESERVED = "reserved"
    SOLD = "sold"
    KEPT = "kept"
    GIVEN = "given"
    WRITTEN_OFF = "written_off"
    SCRAPED = "scraped"

    @property
    def words(self) -> str:
        """The state in the middle of a sentence."""
        return {
            State.WET: pgettext("state of a piece", "wet"),
            State.DRY: pgettext("state of a piece", "dry"),
            State.FINISHED: pgettext("state of a piece", "finished"),
            State.FOR_SALE: pgettext("state of a piece", "for sale"),
            State.RESERVED: pgettext("state of a piece", "reserved"),
            State.SOLD: pgettext("state of a piece", "sold"),
            State.KEPT: pgettext("state of a piece", "kept"),
            State.GIVEN: pgettext("state of a piece", "given away"),
            State.WRITTEN_OFF: pgettext("state of a piece", "written off"),
            State.SCRAPED: pgettext("state of a piece", "scraped"),
        }[self]


class Way(StrEnum):
    """How a step is taken. Only the first is a mere step: with the others the piece leaves or comes back."""

    STEP = "step"
    SALE = "sale"
    RETURN = "return"
    DISPOSAL = "disposal"
    BROUGHT_BACK = "brought back"


RUINED = (State.WRITTEN_OFF, State.SCRAPED)  # its pours count as failed
DISPOSED = (State.KEPT, State.GIVEN, *RUINED)
ENDS = (State.SOLD, *DISPOSED)
SELLABLE = (State.FINISHED, State.FOR_SALE, State.RESERVED)
WORKABLE = (State.DRY, State.FINISHED, State.FOR_SALE, State.RESERVED)

_OUT = dict.fromkeys(DISPOSED, Way.DISPOSAL)
_FORWARD: dict[State, dict[State, Way]] = {
    State.WET: {State.DRY: Way.STEP, **dict.fromkeys(RUINED, Way.DISPOSAL)},
    State.DRY: {State.FINISHED: Way.STEP, State.WET: Way.STEP, **_OUT},
    State.FINISHED: {
        State.FOR_SALE: Way.STEP,
        State.RESERVED: Way.STEP,
        State.DRY: Way.STEP,
        State.SOLD: Way.SALE,
        **_OUT,
    },
    State.FOR_SALE: {State.RESERVED: Way.STEP, State.FINISHED: Way.STEP, State.SOLD: Way.SALE, **_OUT},
    State.RESERVED: {State.FOR_SALE: Way.STEP, State.SOLD: Way.SALE, **_OUT},
    State.SOLD: {State.FOR_SALE: Way.RETURN},
}
_BACK = {
    end: {state: Way.BROUGHT_BACK for state, steps in _FORWARD.items() if end in steps} for end in DISPOSED
}

ALLOWED: Mapping[State, Mapping[State, Way]] = MappingProxyType({**_FORWARD, **_BACK})


def steps_from(state: str) -> tuple[State, ...]:
    """Where a piece may be moved on to by hand, the usual next step first."""
    return tuple(to for to, way in ALLOWED[State(state)].items() if way is Way.STEP)


def check_step(title: str, state: str, to: str, way: Way = Way.STEP) -> None:
    """Raise StepRefused, naming what is possible, unless a piece may go from its state to another this way."""
    here, wanted = State(state), State(to)
    needed = ALLOWED[here].get(wanted)
    if needed is way:
        return
    facts = {"title": title, "wanted": wanted.words, "ways": possibilities(here)}
    if needed is None:
        raise StepRefused(
            _(
                "“{title}” is {state}, so it cannot be changed to {wanted}. You can: {ways}.",
                state=here.words,
                **facts,
            )
        )
    raise StepRefused(_("“{title}” cannot be changed to {wanted} directly. You can: {ways}.", **facts))


# What a piece can do next: by where it goes, or by the way where that is all there is to say.
PHRASES: Mapping[State | Way, str] = {
    State.WET: noop("mark it as wet"),
    State.DRY: noop("mark it as dry"),
    State.FINISHED: noop("finish it"),
    State.FOR_SALE: noop("offer it for sale"),
    State.RESERVED: noop("reserve it"),
    State.KEPT: noop("keep it for own use"),
    State.GIVEN: noop("give it away"),
    State.WRITTEN_OFF: noop("write it off"),
    State.SCRAPED: noop("scrape it"),
    Way.SALE: noop("record a sale"),
    Way.RETURN: noop("record a return"),
    Way.BROUGHT_BACK: noop("bring it back, if that was entered by mistake"),
}


def possibilities(state: str) -> str:
    """What a piece in this state can do, in words."""
    ways = ALLOWED[State(state)].items()
    return "; ".join(dict.fromkeys(_(PHRASES[way if way in PHRASES else to]) for to, way in ways))
