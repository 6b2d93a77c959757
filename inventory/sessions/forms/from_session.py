"""An earlier session written into the form again, to be logged as it was or changed a little."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.ledger.movements import RecordedMovement
from inventory.materials.models import Material
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cup_totals import MOST_ADDED, MUCH, TENTH
from inventory.recipes.forms.cups import MOST_CUPS
from inventory.recipes.models import RecipeVersion
from inventory.sessions.forms.draft import CUPS, POURS, SUNDRIES, FormRows
from inventory.sessions.queries.session_costs import MixAccount, PourAccount, SessionAccount
from studio.values.allocation import allocate, divide_half_up
from studio.values.quantities import input_text
from studio.values.units import Measure

# One row of pours where the amounts lie within a quarter of their mean: nobody pours twice the same to the drop.
ALIKE_WITHIN = 4
# One figure for all cups where each gave, to a twentieth of the pour, what its share of the paint was.
FOLLOWS_WITHIN = 20


class RowsFromSession:
    """The form's first values for an earlier session: recipes in their latest version, cups as they were mixed.

    Pours that were alike become one row at their mean; what was seen that day (consistency, run-off, failures) is new.
    """

    def __init__(self, account: SessionAccount, form_choices: FormChoices) -> None:
        self.account, self.form_choices = account, form_choices
        self.mixes = [mix for mix in account.mixes if mix.mix.version.recipe_id in form_choices.recipes]
        self.lots = {mix.mix.lot_id: number for number, mix in enumerate(self.mixes)}
        # What came from the shelf without being mixed that day, leftovers of earlier days among it.
        lines = [line for pour in account.pours for line in pour.paint if self._mixed_in(line) is None]
        self.straight = [
            item for item in dict.fromkeys(line.material for line in lines) if item.pk in form_choices.ready
        ]
        self.materials = [mix.mix.version.recipe.makes for mix in self.mixes] + self.straight
        self.taken = {pour.pour.pk: self._by_cup(pour) for pour in account.pours}
        used = [sum(taken) for taken in zip(*self.taken.values(), strict=True)]
        self.in_cups = [mix.made for mix in self.mixes] + used[len(self.mixes) :]

    def day(self) -> dict[str, Any]:
        session = self.account.session
        return {"title": session.title, "minutes": session.minutes or None}

    def newer_recipes(self) -> list[tuple[RecipeVersion, RecipeVersion]]:
        """Recipes that were changed since: the version that was used, and the one in force."""
        in_force = self.form_choices.recipes
        used = {mix.mix.version_id: mix.mix.version for mix in self.mixes}
        pairs = [(version, in_force[version.recipe_id]) for version in used.values()]
        return [(then, now) for then, now in pairs if then.pk != now.pk]

    def rows(self) -> FormRows:
        return {CUPS: self._cups(), POURS: self._pours(), SUNDRIES: self._sundries()}

    def _mixed_in(self, line: RecordedMovement) -> int | None:
        """The cup of the mix that a line was poured from."""
        return self.lots.get(line.source_lot.pk) if line.source_lot is not None else None

    def _by_cup(self, account: PourAccount) -> list[int]:
        """What a pour took from each cup."""
        taken = [0] * len(self.materials)
        for line in account.paint:
            cup = self._mixed_in(line)
            if cup is None and line.material in self.straight:
                cup = len(self.mixes) + self.straight.index(line.material)
            if cup is not None:
                taken[cup] += line.quantity
        return taken

    def _cups(self) -> list[dict[str, Any]]:
        rows = [self._mixed(mix) for mix in self.mixes]
        for material, used in zip(self.straight, self.in_cups[len(self.mixes) :], strict=False):
            wanted = self._typed(-(-used // TENTH) * TENTH, material.measure)
            rows.append({"contents": f"m{material.pk}", "wanted": wanted})
        return rows[:MOST_CUPS]

    def _mixed(self, mix: MixAccount) -> dict[str, Any]:
        """A mix as it really was where its recipe still stands; else its amount, to be calculated again."""
        version, wanted = mix.mix.version, _to_a_tenth(mix.made)
        row: dict[str, Any] = {
            "contents": f"r{version.recipe_id}",
            "wanted": self._typed(wanted, version.recipe.makes.measure),
            "leftover": mix.mix.leftover,
        }
        if self.form_choices.recipes[version.recipe_id].pk == version.pk:
            used = _in_tenths(mix.parts, version.recipe.makes.measure)
            for part in self.form_choices.recipes[version.recipe_id].parts.all():
                row[f"amount_{part.material_id}"] = self._typed(
                    used.pop(part.material, 0), part.material.measure
                )
            for number, (material, quantity) in enumerate(list(used.items())[:MOST_ADDED], start=1):
                row[f"added_{number}"] = material.name
                row[f"added_amount_{number}"] = self._typed(quantity, material.measure)
            row["planned_for"] = f"{version.pk}:{wanted}"
        return row

    def _pours(self) -> list[dict[str, Any]]:
        groups: dict[tuple[Any, ...], list[PourAccount]] = {}
        hidden = hidden_arms()
        for account in self.account.pours:
            pour = account.pour
            key = (pour.surface_id, pour.technique_id, hidden.arm_of(pour))
            groups.setdefault(key, []).append(account)
        return [
            self._alike(members, arm)
            for (_surface, _technique, arm), group in groups.items()
            for members in _like_amounts(group)
        ]

    def _alike(self, members: Sequence[PourAccount], arm: str) -> dict[str, Any]:
        first = members[0].pour
        row: dict[str, Any] = {
            "alike": len(members),
            "surface": first.surface_id if first.surface_id in self.form_choices.surfaces else "",
            "technique": first.technique_id,
            "arm": arm,
        }
        each = [self.taken[account.pour.pk] for account in members]
        if self._follows_the_cups(members, each):
            poured = _mean([account.pour.poured for account in members])
            return row | {"each": self._typed(poured, Measure.VOLUME)}
        for number, material in enumerate(self.materials[:MOST_CUPS], start=1):
            amount = _mean([cups[number - 1] for cups in each])
            if amount:
                row[f"cup_{number}"] = self._typed(amount, material.measure)
        return row

    def _follows_the_cups(self, members: Sequence[PourAccount], each: Sequence[Sequence[int]]) -> bool:
        """Whether the amounts were shared by what was in the cups, so that one figure says it all."""
        whole, poured = sum(self.in_cups), sum(account.pour.poured for account in members)
        if not whole or any(material.measure != Measure.VOLUME for material in self.materials):
            return False
        given = [sum(amounts) for amounts in zip(*each, strict=True)]
        return all(
            FOLLOWS_WITHIN * abs(amount * whole - poured * part) <= poured * whole
            for amount, part in zip(given, self.in_cups, strict=True)
        )

    def _sundries(self) -> list[dict[str, Any]]:
        return [
            {"material": item.pk, "amount": self._typed(quantity, item.measure)}
            for item, quantity, _money in self.account.sundries
            if item.pk in self.form_choices.sundries
        ]

    def _typed(self, amount: int, measure: str) -> str:
        return input_text(amount, Measure(measure), decimal_comma=self.form_choices.formatter.decimal_comma)


def _mean(amounts: Sequence[int]) -> int:
    """Rounded down, so that together they never come to more than there was."""
    return _to_a_tenth(sum(amounts) // len(amounts))


def _to_a_tenth(amount: int) -> int:
    """Rounded down; the least amounts are left whole."""
    return amount // TENTH * TENTH or amount


def _in_tenths(lines: Iterable[RecordedMovement], measure: str) -> Counter[Material]:
    """What went into a mix, to a tenth; little of something as it was, for there a tenth would be another recipe.

    The rounding is shared, so that the mix comes to as much as its pours, rounded down, can take from it.
    """
    used = Counter[Material]()
    for line in lines:
        used[line.material] += line.quantity
    for own in dict.fromkeys(item.measure for item in used):
        much = {item: amount for item, amount in used.items() if item.measure == own and amount >= MUCH}
        if much:
            whole = sum(much.values())
            tenths = whole // TENTH if own == measure else -(-whole // TENTH)
            shares = allocate(tenths, list(much.values()))
            used.update({item: share * TENTH - much[item] for item, share in zip(much, shares, strict=True)})
    return used


def _like_amounts(group: Sequence[PourAccount]) -> list[list[PourAccount]]:
    """One row if the amounts poured lie close together, else a row for every amount."""
    poured = [account.pour.poured for account in group]
    if all(ALIKE_WITHIN * abs(amount * len(poured) - sum(poured)) <= sum(poured) for amount in poured):
        return [list(group)]
    rows: dict[int, list[PourAccount]] = {}
    for account in group:
        rows.setdefault(divide_half_up(account.pour.poured, TENTH), []).append(account)
    return list(rows.values())
