"""Print what reorder levels achieve: `python -m tests.backtest`.

For every kind of use: the share of deliveries that came in time for 90, 95 and 98% asked, the stock that it took
against average use × lead time × a factor tuned in hindsight to the same service, and what the textbook's formula
achieves. The third of three years is out of sample. `--demo` plays the demo studio's own use as well.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterable, Sequence

from tests.backtest.families import drawn_world
from tests.backtest.playing import Outcome, Prepared, Rule, levels_by_week, play, prepare, tuned
from tests.backtest.real_series import demo_world, half_a_year_known, monthly_constants, sera_world
from tests.backtest.rules import our_levels, textbook_levels

TARGETS = (0.90, 0.95, 0.98)
NEW, ALL = "new", "all but new"


def row(name: str, cases: Sequence[Prepared], *, days_between_checks: int = 1) -> str:
    """One line of the table."""
    ours, textbook = (_outcomes(cases, rule, days_between_checks) for rule in (our_levels, textbook_levels))
    naive = [tuned(cases, each.service, days_between_checks=days_between_checks) for each in ours]
    stock = " ".join(f"{_more(ours[n].held, naive[n].held):>4}" for n in range(len(TARGETS)))
    return f"{name:<24}{_services(ours):>16}{stock:>16}{_services(textbook):>18}{ours[1].deliveries:>12,}"


def _outcomes(cases: Sequence[Prepared], rule: Rule, days_between_checks: int) -> list[Outcome]:
    by_target = [Outcome() for _target in TARGETS]
    for each in cases:
        for outcome, levels in zip(by_target, levels_by_week(each, rule, TARGETS), strict=True):
            outcome.add(play(each, levels, days_between_checks=days_between_checks))
    return by_target


def _services(outcomes: Iterable[Outcome]) -> str:
    return " ".join(f"{outcome.service:.1f}" for outcome in outcomes)


def _more(ours: float, theirs: float) -> str:
    return f"{100 * (ours / theirs - 1):+.0f}%" if theirs else "-"


def main(words: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.backtest", description=__doc__)
    parser.add_argument("--seeds", type=_numbers, default=[31, 32], help="Seeds, commas between.")
    parser.add_argument("--each", type=int, default=40, help="Materials of each kind, for a seed.")
    parser.add_argument("--new", type=int, default=120, help="New materials, for a seed.")
    parser.add_argument("--weekly", action="store_true", help="Look once a week instead of every evening.")
    parser.add_argument("--demo", action="store_true", help="Build the demo studio and play its use as well.")
    asked = parser.parse_args(words)
    checks = 7 if asked.weekly else 1
    print(f"{'':<24}{'in time':>16}{'stock':>16}{'textbook in time':>18}{'deliveries':>12}")
    families: dict[str, list[Prepared]] = defaultdict(list)
    for seed in asked.seeds:
        world = drawn_world(seed, each=asked.each, new=asked.new)
        for each in prepare(world, days_between_checks=checks):
            families[each.case.family].append(each)
    young = families.pop(NEW, [])
    for name, cases in families.items():
        print(row(name, cases, days_between_checks=checks), flush=True)
    print(row(ALL, [each for cases in families.values() for each in cases], days_between_checks=checks))
    if young:
        print(row("new in the last 90 days", young, days_between_checks=checks), flush=True)
    with monthly_constants():
        print(row("immune sera, by month", prepare(sera_world())), flush=True)
    if asked.demo:
        with half_a_year_known():
            print(row("the demo studio", prepare(demo_world())), flush=True)


def _numbers(text: str) -> list[int]:
    return [int(number) for number in text.split(",")]


if __name__ == "__main__":
    main()
