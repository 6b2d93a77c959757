"""Where a piece may go from where it is. Pure: a table, and a refusal that names what is possible."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from costing.errors import StepRefused


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
    SPOILT = "spoilt"

    @property
    def words(self) -> str:
        """The state in the middle of a sentence."""
        return "given away" if self is State.GIVEN else self.value.replace("_", " ")


class Way(StrEnum):
    """How a step is taken. Only the first is a mere step: the others move the cost of the piece too."""

    STEP = "step"
    SALE = "sale"
    RETURN = "return"
    WAY_OUT = "way out"
    TAKEN_BACK = "taken back"


ENDS = (State.SOLD, State.KEPT, State.GIVEN, State.SPOILT)
WAYS_OUT = (State.KEPT, State.GIVEN, State.SPOILT)
SELLABLE = (State.FINISHED, State.FOR_SALE, State.RESERVED)

_OUT = dict.fromkeys(WAYS_OUT, Way.WAY_OUT)
_FORWARD: dict[State, dict[State, Way]] = {
    State.WET: {State.DRY: Way.STEP, State.SPOILT: Way.WAY_OUT},
    State.DRY: {State.FINISHED: Way.STEP, State.WET: Way.STEP, **_OUT},
    State.FINISHED: {
        State.FOR_SALE: Way.STEP, State.RESERVED: Way.STEP, State.DRY: Way.STEP, State.SOLD: Way.SALE, **_OUT,
    },
    State.FOR_SALE: {State.RESERVED: Way.STEP, State.FINISHED: Way.STEP, State.SOLD: Way.SALE, **_OUT},
    State.RESERVED: {State.FOR_SALE: Way.STEP, State.SOLD: Way.SALE, **_OUT},
    State.SOLD: {State.FOR_SALE: Way.RETURN},
}  # fmt: skip
_BACK = {
    end: {state: Way.TAKEN_BACK for state, steps in _FORWARD.items() if end in steps} for end in WAYS_OUT
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
    if needed is None:
        refusal = f"“{title}” is {here.words}, so it cannot become {wanted.words}."
    else:
        refusal = f"“{title}” does not become {wanted.words} by a mere step."
    raise StepRefused(f"{refusal} From here it can {possibilities(here)}.")


def possibilities(state: str) -> str:
    """What a piece in this state can do, in words."""
    phrases = list(dict.fromkeys(_phrase(to, way) for to, way in ALLOWED[State(state)].items()))
    return "; ".join(phrases)


def _phrase(to: State, way: Way) -> str:
    match way:
        case Way.STEP:
            return f"become {to.words}"
        case Way.SALE:
            return "be sold (record the sale)"
        case Way.RETURN:
            return "come back for sale by a return (take the sale back)"
        case Way.TAKEN_BACK:
            return "be brought back, if that was entered by mistake"
        case Way.WAY_OUT:
            return {
                State.KEPT: "be kept for own use",
                State.GIVEN: "be given away",
                State.SPOILT: "be written off as spoilt",
            }[to]
