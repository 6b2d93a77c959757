"""The year's sessions as they will be: what is poured on what, when, which leftovers come back. No database."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random

from costing.demo.recipes import PALETTES, WHITE_AND_BLUE, Palette
from inventory.sessions.calculations import paint_needed
from studio.values.allocation import allocate

ML = 1_000
KEEPS_LEFTOVER_DAYS = 45


@dataclass(frozen=True, slots=True)
class Bout:
    """One kind of session: what it is called, the surfaces poured in it, the technique, the minutes it takes."""

    word: str
    surfaces: Sequence[str]
    technique: str
    minutes: int
    may_fail: bool = True


RINGS = Bout("rings", ["Round board 30 cm", "Round board 30 cm", "Round board 20 cm"], "Ring pour", 75)
TILES = Bout("tiles", ["Tile 15 × 15 cm"] * 5, "Flip cup", 60)
COASTERS = Bout("coasters", ["Coaster 10 cm"] * 4, "Puddle pour", 55, may_fail=False)
DUTCH = Bout("blown", ["Canvas 30 × 30 cm"] * 3, "Dutch pour", 80)
SWIPE = Bout("swipe", ["Canvas 40 × 50 cm", "Round board 20 cm"], "Swipe", 80)
LARGE = Bout("large canvas", ["Canvas 60 × 80 cm, deep"], "Straight pour", 95, may_fail=False)
DIPTYCH = Bout(
    "diptych",
    ["Canvas 30 × 30 cm", "Canvas 30 × 30 cm", "Canvas 20 × 20 cm"],
    "Dirty pour",
    70,
    may_fail=False,
)
COMPARISON = Bout("comparison", ["Round board 20 cm"] * 6, "Ring pour", 110, may_fail=False)

# What the two sisters wrote on each board of the comparison, wet on the day and dry a week later.
JUDGED = (
    (
        "White first",
        (
            "Wet: both like the open rings. Dry: still open, a little paler.",
            "Wet: rings drift to one side. Dry: settled; we disagree about the middle.",
            "Wet: widest white edge. Dry: both would hang it.",
        ),
    ),
    (
        "White last",
        (
            "Wet: strong blue, rings closer. Dry: white has sunk into the blue.",
            "Wet: both find it heavy. Dry: better, the gold shows again.",
            "Wet: white lies like a lid. Dry: two small pits near the rim.",
        ),
    ),
)

USUAL = [(RINGS, 23), (TILES, 13), (COASTERS, 10), (DUTCH, 12), (SWIPE, 9), (LARGE, 8)]
# Where the unusual sessions stand in the full year's list of eighty; every tenth place is in a small demo too. The
# last two leave the loft full of wet work.
FIXED_PLACES = {20: DIPTYCH, 50: COMPARISON, 60: DIPTYCH, 78: TILES, 79: RINGS}


@dataclass(slots=True)
class PlannedMix:
    colour: str
    quantity: int = 0
    leftover: str = "residue"
    left: int = 0


@dataclass(slots=True)
class PlannedPour:
    """Doses are (position of the mix, thousandths of a mL); `from_shelf` is a leftover: session, mix, thousandths."""

    surface: str
    doses: dict[int, int] = field(default_factory=dict)
    from_shelf: tuple[int, int, int] | None = None
    run_off: int | None = None
    failed: bool = False
    over: tuple[int, int] | None = None
    arm: str = ""
    notes: str = ""


@dataclass(slots=True)
class PlannedSession:
    number: int
    days_ago: int
    bout: Bout
    palette: Palette
    mixes: list[PlannedMix]
    pours: list[PlannedPour]

    @property
    def title(self) -> str:
        return f"{self.palette.name}, {self.bout.word}"


def plan_year(
    rng: Random, *, scale: float, rate: Mapping[str, int], area: Callable[[str], int], first: int = 358
) -> list[PlannedSession]:
    """The sessions from the first day to the last. Rates are microlitres per cm², areas thousandths of a cm²."""
    bouts = _bouts(rng, scale)
    last = len(bouts) - 1
    palettes = _palettes(rng)
    sessions = [
        _session(
            rng,
            number,
            first - round(number * first / last),
            bout,
            next(palettes),
            rate[bout.technique],
            area,
        )
        for number, bout in enumerate(bouts)
    ]
    _fail(rng, sessions)
    _pour_over(sessions)
    for session in sessions:
        _fill_cups(rng, session)
    _use_leftovers(sessions)
    return sessions


def _bouts(rng: Random, scale: float) -> list[Bout]:
    usual = [bout for bout, times in USUAL for _ in range(times)]
    rng.shuffle(usual)
    every = iter(usual)
    full = [FIXED_PLACES.get(place) or next(every) for place in range(len(usual) + len(FIXED_PLACES))]
    return full[:: max(round(1 / scale), 1)]


def _palettes(rng: Random) -> Iterator[Palette]:
    """Palettes in turn, in another order each time round."""
    while True:
        order = list(PALETTES)
        rng.shuffle(order)
        yield from order


def _session(
    rng: Random,
    number: int,
    days_ago: int,
    bout: Bout,
    palette: Palette,
    rate: int,
    area: Callable[[str], int],
) -> PlannedSession:
    if bout is COMPARISON:
        return _comparison(number, days_ago, rate, area)
    colours = list(palette.shares)
    pours = []
    for surface in bout.surfaces:
        poured = paint_needed(area(surface), rate) * rng.randint(90, 112) // 100 // ML * ML
        shares = allocate(poured // ML, list(palette.shares.values()))
        pour = PlannedPour(surface, {mix: amount * ML for mix, amount in enumerate(shares) if amount})
        if rng.random() < 0.8:
            pour.run_off = poured * rng.randint(18, 38) // 100 // ML * ML
        pours.append(pour)
    return PlannedSession(number, days_ago, bout, palette, [PlannedMix(colour) for colour in colours], pours)


def _comparison(number: int, days_ago: int, rate: int, area: Callable[[str], int]) -> PlannedSession:
    """Six ring pours that differ in their order only: three begin with white, three end with it."""
    mixes = [PlannedMix("Ring White"), PlannedMix("Tide Blue"), PlannedMix("Lamp Gold")]
    pours = []
    for place, surface in enumerate(COMPARISON.surfaces):
        poured = paint_needed(area(surface), rate) // ML * ML
        gold = poured // 10
        doses = {0: poured - poured // 3 - gold, 1: poured // 3, 2: gold}
        arm, judged = JUDGED[place % 2]
        run_off = poured * (24 + 3 * place % 7) // 100
        pours.append(PlannedPour(surface, doses, run_off=run_off, arm=arm, notes=judged[place // 2]))
    return PlannedSession(number, days_ago, COMPARISON, WHITE_AND_BLUE, mixes, pours)


def _fail(rng: Random, sessions: Sequence[PlannedSession]) -> None:
    """One session in six has a pour that fails: usual rejects."""
    risky = [session for session in sessions if session.bout.may_fail]
    for session in rng.sample(risky, max(len(sessions) // 6, 2)):
        rng.choice(session.pours).failed = True


def _pour_over(sessions: Sequence[PlannedSession]) -> None:
    """The first two failed pours with time to dry are poured over: the later session needs no new surface for them."""
    done = 0
    for earlier in sessions:
        for place, pour in enumerate(earlier.pours):
            if not pour.failed or done == 2:
                continue
            later = _same_surface_later(sessions, earlier, pour)
            if later is not None:
                later.over = (earlier.number, place)
                done += 1


def _same_surface_later(
    sessions: Sequence[PlannedSession], earlier: PlannedSession, pour: PlannedPour
) -> PlannedPour | None:
    """A pour on the same surface two weeks later or more: the cover. It succeeds and covers one pour only."""
    for later in sessions:
        if later.days_ago <= earlier.days_ago - 14 and later.bout.may_fail:
            for other in later.pours:
                if other.surface == pour.surface and not other.failed and other.over is None:
                    return other
    return None


def _fill_cups(rng: Random, session: PlannedSession) -> None:
    """Mix what is poured and a little over; now and then more than that, which is kept or thrown away."""
    for place, mix in enumerate(session.mixes):
        poured = sum(pour.doses.get(place, 0) for pour in session.pours)
        mix.quantity = poured + rng.randint(3, 8) * ML
    turn = session.number % 6
    if session.bout is COMPARISON or turn not in (0, 2, 4):
        return
    mix = session.mixes[rng.randrange(len(session.mixes))]
    mix.leftover = "discarded" if turn == 4 else "kept"
    mix.left = rng.randint(45, 90) * ML
    mix.quantity += mix.left


def _use_leftovers(sessions: Sequence[PlannedSession]) -> None:
    """A kept leftover goes into the next session with its colour, in place of paint mixed for the first pour."""
    for earlier in sessions:
        for place, mix in enumerate(earlier.mixes):
            if mix.leftover == "kept":
                _use_leftover(sessions, earlier, place, mix)


def _use_leftover(
    sessions: Sequence[PlannedSession], earlier: PlannedSession, place: int, mix: PlannedMix
) -> None:
    for later in sessions[earlier.number + 1 :]:
        if earlier.days_ago - later.days_ago > KEEPS_LEFTOVER_DAYS or later.bout is COMPARISON:
            continue
        pour = later.pours[0]
        for position, same in enumerate(later.mixes):
            wanted = pour.doses.get(position, 0)
            if same.colour == mix.colour and pour.from_shelf is None and wanted > 10 * ML:
                used = min(mix.left, wanted - 5 * ML)
                pour.from_shelf = (earlier.number, place, used)
                pour.doses[position] = wanted - used
                same.quantity -= used
                mix.left -= used
                return
