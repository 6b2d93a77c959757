"""Results in words, the same on page, paper and API. A winner is named only where the scores show one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.comparisons.calculations.agreement import Agreement
from inventory.comparisons.calculations.counting import Sizes
from inventory.comparisons.calculations.facts import Fact
from inventory.comparisons.calculations.likeness import Difference, Fairness, Likeness
from inventory.comparisons.calculations.verdicts import Finding, Verdict
from inventory.comparisons.models import FIGURES, Comparison, Criterion, Scale, Score
from inventory.comparisons.queries.counting import CountedArm, CountOutcome
from inventory.comparisons.queries.results import Measured, Results
from inventory.sessions.models import Stage
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext
from studio.values.allocation import divide_half_up
from studio.values.numbers import format_scaled

FACTS = {
    Fact.SURFACE: gettext_lazy("surface"),
    Fact.SIDES: gettext_lazy("sides"),
    Fact.TECHNIQUE: gettext_lazy("technique"),
    Fact.ORDER: gettext_lazy("order of the colours"),
    Fact.POURED_OVER: gettext_lazy("poured over a failed pour"),
    Fact.HANDS: gettext_lazy("who poured"),
    Fact.AMOUNT: gettext_lazy("poured per area"),
    Fact.TEMPERATURE: gettext_lazy("temperature"),
    Fact.HUMIDITY: gettext_lazy("humidity"),
    Fact.MIX_AGE: gettext_lazy("age of the mix"),
    Fact.COLOURS: gettext_lazy("cup"),
    Fact.PART: gettext_lazy("parts per 1 of paint"),
    Fact.CUP_SHARE: gettext_lazy("share of the pour"),
    Fact.DAY: gettext_lazy("day"),
    Fact.COMPARED: gettext_lazy("what is compared"),
    Fact.LOT: gettext_lazy("lot"),
    Fact.TIME: gettext_lazy("time of day"),
    Fact.TURN: gettext_lazy("turn in the session"),
}
UNITS = {Fact.AMOUNT: "mL/cm²", Fact.TEMPERATURE: "°C", Fact.HUMIDITY: "%", Fact.MIX_AGE: "h"}
FEW = 4  # sizes: too few for quartiles to say anything (own choice)
PLACES = {Fact.AMOUNT: 3}
ROLES = {"medium": gettext_lazy("medium"), "paint": gettext_lazy("paint")}
BADGES = {
    Finding.SHOWS: ("good", gettext_lazy("Shows")),
    Finding.LEANS: ("low", gettext_lazy("Leans")),
    Finding.ALIKE: ("note", gettext_lazy("Alike")),
    Finding.CANNOT_TELL: ("wait", gettext_lazy("Cannot tell")),
    Finding.ONE_EACH: ("wait", gettext_lazy("Cannot tell")),
    Finding.MAY_BE_OTHER: ("stop", gettext_lazy("Not fair")),
}


@dataclass(frozen=True, slots=True)
class Statement:
    """What is said of one criterion and two arms; `share` is how often equally good arms differ as much by chance."""

    label: str
    text: str
    badge: tuple[str, object]
    finding: str = ""
    better: str = ""
    share: str = ""

    @property
    def in_short(self) -> str:
        """The better arm with the share where that is all there is to say, else a word."""
        if self.finding == Finding.SHOWS.value:
            return f"{self.better} ({self.share})"
        if self.finding == Finding.LEANS.value:
            return _("leans to {arm} ({share})", arm=self.better, share=self.share)
        return str(self.badge[1])

    @property
    def is_said_by_share(self) -> bool:
        return self.finding in (Finding.SHOWS.value, Finding.LEANS.value)


def number(value: Fraction, formatter: Formatter, places: int = 2) -> str:
    """A figure with at most so many decimals, without trailing zeros."""
    scaled = value * 10**places
    rounded = divide_half_up(scaled.numerator, scaled.denominator)
    return format_scaled(rounded, places, decimal_comma=formatter.decimal_comma)


def with_unit(value: Fraction, unit: str, formatter: Formatter, places: int = 2) -> str:
    """A figure with its unit: "0.219 mL/cm²", "69%"."""
    if unit == "%":
        return formatter.percent(int(value * 10_000))
    return f"{number(value, formatter, places)} {unit}".strip()


def points(value: Fraction, criterion: Criterion, formatter: Formatter) -> str:
    """A difference with its unit: "2 points", "14 per 100 cm²"."""
    figure = number(value, formatter)
    if criterion.scale in FIGURES:
        return f"{figure} {criterion.measured_in}".strip()
    return ngettext("{figure} point", "{figure} points", 1 if value == 1 else 2, figure=figure)


def score_words(value: Fraction | None, measured: Measured, formatter: Formatter) -> str:
    """A mean score as an arm's row shows it."""
    criterion = measured.criterion
    if value is None:
        return ""
    if criterion.scale == Scale.OUTCOME:
        return formatter.percent(int(value * 1_000_000))
    if criterion.scale == Scale.WORDS:
        words = criterion.word_list
        place = divide_half_up(value.numerator, value.denominator)
        return words[min(max(place, 0), len(words) - 1)]
    return f"{number(value, formatter)} {criterion.measured_in}".strip()


def opened_words(comparison: Comparison, formatter: Formatter) -> str:
    """Who showed the arms of a blind comparison before its end, and when; empty where nobody did."""
    if comparison.opened_at is None:
        return ""
    return _(
        "{name} showed the arms on {day}, before it was finished, so it is not fully blind.",
        name=comparison.opened_by,
        day=formatter.day(timezone.localtime(comparison.opened_at).date()),
    )


def fairness_words(likeness: Likeness) -> str:
    """The verdict on the pours, in a sentence."""
    return {
        Fairness.FAIR: _("Nothing else differed: every fact that is held was recorded and alike."),
        Fairness.AS_FAR_AS_RECORDED: _("Fair as far as recorded: nothing else that was recorded differed."),
        Fairness.NOT_FAIR: _("Not fair: other things differed too and may be the reason for the result."),
        Fairness.NO_COMPARISON: _(
            "No comparison: the arms do not differ in what is compared, or there are fewer than two of them."
        ),
    }[likeness.fairness]


def missing_words(likeness: Likeness) -> str:
    """What was not recorded; empty where everything was."""
    if not likeness.missing:
        return ""
    facts = ", ".join(str(FACTS[fact]) for fact in likeness.missing)
    return _("Not recorded for every pour, so not compared: {facts}.", facts=facts)


def difference_words(difference: Difference, arms: Mapping[int, str], formatter: Formatter) -> str:
    """One fact that differed, with its figure in each arm."""
    fact = difference.fact
    if fact == Fact.COMPARED:
        return _("Pours of one arm were not all alike in what is compared.")
    name = str(FACTS[fact])
    if difference.about:
        about, _colon, part = difference.about.rpartition(": ")
        about = f"{about}: {ROLES[part]}" if part in ROLES else difference.about
        name = f"{about} ({name})"
    by_arm = "; ".join(
        _("{value} in “{arm}”", value=_value(value, fact, formatter), arm=arms[arm])
        for arm, value in difference.by_arm.items()
    )
    return f"{name[:1].upper()}{name[1:]}: {by_arm}." if by_arm else f"{name}."


def _value(value: str | Fraction, fact: Fact, formatter: Formatter) -> str:
    if isinstance(value, str):
        return value
    if fact == Fact.COLOURS:
        return _("used") if value else _("not used")
    if fact == Fact.TIME:
        return clock(value)
    if fact == Fact.CUP_SHARE:
        return formatter.percent(int(value * 1_000_000))
    return with_unit(value, UNITS.get(fact, ""), formatter, PLACES.get(fact, 2))


def clock(hours: Fraction) -> str:
    """A time of day: "10:05"."""
    minutes = divide_half_up((hours * 60).numerator, (hours * 60).denominator)
    return f"{minutes // 60:02}:{minutes % 60:02}"


def statements_of(results: Results, formatter: Formatter) -> list[Statement]:
    """Every verdict in words, by criterion; only pairs of arms that met."""
    arms = [arm.arm.name for arm in results.arms]
    return [
        Statement(
            measured.label,
            _verdict_words(measured.criterion, verdict, arms, formatter),
            BADGES[verdict.finding],
            verdict.finding.value,
            arms[verdict.lower if measured.criterion.low_is_better else verdict.higher],
            _share(verdict.p, formatter),
        )
        for measured, verdict in results.verdicts
    ]


def _verdict_words(criterion: Criterion, verdict: Verdict, arms: Sequence[str], formatter: Formatter) -> str:
    better, worse = verdict.higher, verdict.lower
    if criterion.low_is_better:
        better, worse = worse, better
    names = {"better": arms[better], "worse": arms[worse]}
    lead = _lead(criterion, verdict, names, formatter)
    share = _share(verdict.p, formatter)
    if verdict.finding == Finding.SHOWS:
        return _(
            "{lead} Arms that are equally good differ this much in {share} of comparisons.",
            lead=lead,
            share=share,
        )
    if verdict.finding == Finding.LEANS:
        return _(
            "{lead} The scores lean that way, but those of equally good arms do so in {share} of comparisons.",
            lead=lead,
            share=share,
        )
    if verdict.finding == Finding.MAY_BE_OTHER:
        return _("{lead} Other things also differed and may be the reason.", lead=lead)
    if verdict.finding == Finding.ONE_EACH:
        return _("{lead} One pour of each cannot tell the arms from chance.", lead=lead)
    if verdict.finding == Finding.ALIKE and verdict.margin is not None:
        within = points(verdict.margin, criterion, formatter)
        return _("“{better}” and “{worse}” are alike within {within}.", within=within, **names)
    return " ".join(filter(None, [_cannot_tell(lead, share), _further(criterion, verdict, formatter)]))


def _lead(criterion: Criterion, verdict: Verdict, names: Mapping[str, str], formatter: Formatter) -> str:
    if not verdict.difference:
        return _("“{better}” and “{worse}” scored the same.", **names)
    if criterion.scale in (Scale.WORDS, Scale.OUTCOME):
        return _("“{better}” came out better than “{worse}”.", **names)
    by = points(verdict.difference, criterion, formatter)
    return _("“{better}” came out better than “{worse}” by {by}.", by=by, **names)


def _share(p: Fraction | None, formatter: Formatter) -> str:
    if p is None:
        return ""
    if p < Fraction(1, 1000):
        return _("less than {share}", share=formatter.percent(1000))
    return formatter.percent(int(p * 1_000_000))


def _cannot_tell(lead: str, share: str) -> str:
    return _(
        "{lead} Chance alone does as much in {share} of comparisons, so it proves nothing.",
        lead=lead,
        share=share,
    )


def _further(criterion: Criterion, verdict: Verdict, formatter: Formatter) -> str:
    """How many more pours it would take, and what so few could have found."""
    if verdict.more is None or verdict.margin is None:
        return ""
    margin = points(verdict.margin, criterion, formatter)
    more = ngettext(
        "About {n} more pour of each arm would find a difference of {margin}",
        "About {n} more pours of each arm would find a difference of {margin}",
        verdict.more,
        n=verdict.more,
        margin=margin,
    )
    if verdict.at_most is not None and verdict.at_most > verdict.more:
        more = _("{more} ({n} if like pours vary more than seen so far)", more=more, n=verdict.at_most)
    if verdict.smallest is None:
        return f"{more}."
    smallest = points(verdict.smallest, criterion, formatter)
    return _("{more}. So few pours find a difference only from {smallest} on.", more=more, smallest=smallest)


def count_words(outcome: CountOutcome, formatter: Formatter) -> str:
    """What a count came to: how many per 100 cm² with the standard error, how large they are; or the sizes alone."""
    if outcome.count.criterion.scale == Scale.SIZE:
        return size_words(outcome.sizes, formatter) or _("nothing measured")
    marks = sum(outcome.by_window)
    words = _(
        "{density} ± {error} per 100 cm² (standard error; {marks} in four windows)",
        density=thousandths(outcome.density.per_100, formatter),
        error=thousandths(outcome.density.error, formatter),
        marks=marks,
    )
    return f"{words}; {size_words(outcome.sizes, formatter)}" if outcome.sizes else words


def size_words(sizes: Sizes | None, formatter: Formatter) -> str:
    """Median and quartiles; empty where nothing was measured."""
    if sizes is None:
        return ""
    if sizes.number < FEW:
        median = thousandths(sizes.median, formatter)
        return _("median {median} mm, {n} measured", median=median, n=sizes.number)
    return _(
        "median {median} mm, middle half {lower} to {upper} mm, {n} measured",
        median=thousandths(sizes.median, formatter),
        lower=thousandths(sizes.lower, formatter),
        upper=thousandths(sizes.upper, formatter),
        n=sizes.number,
    )


def arm_count_words(arm: CountedArm, mean: Fraction | None, formatter: Formatter) -> str:
    """An arm's mean with the standard error of its counts: "42.5 ± 3.1"."""
    if mean is None:
        return ""
    figure = number(mean, formatter, 1)
    return figure if arm.error is None else f"{figure} ± {thousandths(arm.error, formatter)}"


def thousandths(value: int, formatter: Formatter) -> str:
    """With one decimal: a count in four windows is no more exact."""
    return number(Fraction(value, 1000), formatter, 1)


def plan_words(results: Results) -> str:
    """Whether so few pours could show anything at all; empty where they could."""
    if results.judgement is None or results.judgement.can_show:
        return ""
    return _(
        "With so few pours of each arm no scores could show a difference: even the clearest would come up by "
        "chance in more than one comparison of twenty. Pour two or more of each arm in every session, four in all."
    )


def agreement_words(measured: Measured, agreed: Agreement, formatter: Formatter) -> str:
    """How far the judges agree. That says something of the pieces, not of the arms."""
    return _(
        "{criterion}: W = {w}; chance agrees as much in {share} of cases.",
        criterion=measured.label,
        w=number(agreed.w, formatter),
        share=_share(agreed.p, formatter),
    )


def session_words(results: Results, formatter: Formatter) -> str:
    """Which sessions are left out of the comparison; empty where all hold every arm."""
    left_out = [results.sessions[each] for each in results.likeness.left_out]
    if not left_out:
        return ""
    names = ", ".join(f"{session} ({formatter.day(session.held_on)})" for session in left_out)
    return _("Not every arm was poured in these sessions, so they are left out: {sessions}.", sessions=names)


def altered_words(old: Score, new: Score, formatter: Formatter) -> str:
    """One score that replaced another one."""
    measured = Measured(new.criterion, Stage(new.stage))
    return _(
        "{pour}, {criterion}, {judge}: {old} → {new} ({person}, {day})",
        pour=new.pour.pour.label,
        criterion=measured.label,
        judge=new.judge,
        old=score_words(Fraction(old.value, 1000), measured, formatter),
        new=score_words(Fraction(new.value, 1000), measured, formatter),
        person=new.recorded_by,
        day=formatter.day(timezone.localtime(new.recorded_at).date()),
    )
