"""Where a piece may go from where it is. Pure: a table, and a refusal that names what is possible."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from costing.errors import StepRefused
from studio.translation import _, pgettext


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
        }[self]


class Way(StrEnum):
    """How a step is taken. Only the first is a mere step: the others move the cost of the piece too."""

    STEP = "step"
    SALE = "sale"
    RETURN = "return"
    DISPOSAL = "disposal"
    BROUGHT_BACK = "brought back"


ENDS = (State.SOLD, State.KEPT, State.GIVEN, State.WRITTEN_OFF)
DISPOSED = (State.KEPT, State.GIVEN, State.WRITTEN_OFF)
SELLABLE = (State.FINISHED, State.FOR_SALE, State.RESERVED)
WORKABLE = (State.DRY, State.FINISHED, State.FOR_SALE, State.RESERVED)

_OUT = dict.fromkeys(DISPOSED, Way.DISPOSAL)
_FORWARD: dict[State, dict[State, Way]] = {
    State.WET: {State.DRY: Way.STEP, State.WRITTEN_OFF: Way.DISPOSAL},
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


def possibilities(state: str) -> str:
    """What a piece in this state can do, in words."""
    phrases = list(dict.fromkeys(_phrase(to, way) for to, way in ALLOWED[State(state)].items()))
    return "; ".join(phrases)


def _phrase(to: State, way: Way) -> str:
    match way:
        case Way.STEP:
            return {
                State.WET: _("mark it as wet"),
                State.DRY: _("mark it as dry"),
                State.FINISHED: _("finish it"),
                State.FOR_SALE: _("offer it for sale"),
                State.RESERVED: _("reserve it"),
            }[to]
        case Way.SALE:
            return _("record a sale")
        case Way.RETURN:
            return _("record a return")
        case Way.BROUGHT_BACK:
            return _("bring it back, if that was entered by mistake")
        case Way.DISPOSAL:
            return {
                State.KEPT: _("keep it for own use"),
                State.GIVEN: _("give it away"),
                State.WRITTEN_OFF: _("write it off"),
            }[to]
