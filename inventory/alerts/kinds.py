"""The kinds of alert, and the rules that find their causes. Later rooms and higher floors register their own.

A rule looks and yields causes; it writes nothing. What a cause says is kept as figures (whole numbers, names, days as
text), and the kind's `words` make a sentence of them in the language of whoever reads it.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Figures = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Cause:
    """Why an alert of a kind stands: what it is about, since when, and its reason in figures.

    `key` names the subject within the kind; the figure "name" is what people call it. With `is_ordered` an order
    already takes care of it. One that does not `raise_new` only keeps an alert that stands already.
    """

    kind: str
    key: str
    since: date
    figures: Figures
    material: int | None = None
    is_ordered: bool = False
    raise_new: bool = True


@dataclass(frozen=True, slots=True)
class Look:
    """What a rule looks at: a day, and the materials whose stock has changed; without any, everything."""

    on: date
    studio: Studio
    materials: frozenset[int] | None = None

    def is_about(self, material: int | None) -> bool:
        return self.materials is None or material in self.materials


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of alert. The most urgent have the lowest `urgency`.

    `rule_in_words` says when one is raised; `link` is the page of what it is about, by its key; `badge` how its state
    is drawn. With `needs_money` only those who see costs and prices see it. `subject` is what it is about where its
    figures give no name.
    """

    code: str
    label: "_StrOrPromise"
    rule_in_words: "_StrOrPromise"
    words: Callable[[Figures, Formatter], str]
    link: Callable[[str], str]
    urgency: int
    badge: str = "low"
    needs_money: bool = False
    subject: "_StrOrPromise" = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """What finds the causes of some kinds.

    After a change of stock, rules that are `at_once` look at the materials that changed. Others that are `rechecked`
    do so only where an alert of theirs stands, to see whether its cause is gone. The daily run looks at everything.
    """

    kinds: tuple[Kind, ...]
    find: Callable[[Look], Iterable[Cause]]
    at_once: bool = False
    rechecked: bool = False


@dataclass
class _Known:
    kinds: dict[str, Kind] = field(default_factory=dict)
    rules: list[Rule] = field(default_factory=list)


_known = _Known()


def register(rule: Rule) -> None:
    """Look for these kinds of alert too."""
    if rule not in _known.rules:
        _known.rules.append(rule)
        _known.kinds.update({kind.code: kind for kind in rule.kinds})


def rules() -> list[Rule]:
    return list(_known.rules)


def kinds() -> list[Kind]:
    """Every kind, the most urgent first."""
    return sorted(_known.kinds.values(), key=lambda kind: kind.urgency)


def kind_of(code: str) -> Kind | None:
    """A kind by its code; None for one that this version no longer knows."""
    return _known.kinds.get(code)


def hidden_from(*, sees_money: bool) -> list[str]:
    """The codes of kinds that tell about money, for somebody who may not see it."""
    return [] if sees_money else [kind.code for kind in kinds() if kind.needs_money]


def choices() -> list[tuple[str, "_StrOrPromise"]]:
    return [(kind.code, kind.label) for kind in kinds()]


def rules_for(codes: Collection[str]) -> list[Rule]:
    """The rules that find these kinds."""
    return [rule for rule in rules() if any(kind.code in codes for kind in rule.kinds)]


def page(name: str) -> Callable[[str], str]:
    """A kind's link: the page of that name about the row whose number begins the key."""
    return lambda key: reverse(name, args=[int(key.split("/")[0])])


def day_of(figure: str) -> date:
    """A day among the figures."""
    return date.fromisoformat(figure)
