"""An earlier session written into the form again, to be logged as it was or changed a little."""

from collections.abc import Iterable, Sequence
from typing import Any

from inventory.forms.bench import Bench
from inventory.forms.cups import MOST_CUPS
from inventory.forms.sessions import CUPS, POURS, SUNDRIES
from inventory.models import EntryRole, Material
from inventory.session_account import Line, MixAccount, PourAccount, SessionAccount
from studio.quantities import typed
from studio.sharing import divide_half_up
from studio.units import Measure

# Alike pours of one row differ by the thousandths that sharing leaves: 0.1 mL tells one row from the next.
ALIKE_WITHIN = 100


class Repeat:
    """The form's first values for an earlier session: recipes in their latest version, amounts as they were."""

    def __init__(self, account: SessionAccount, bench: Bench) -> None:
        self.account, self.bench = account, bench
        self.mixes = [mix for mix in account.mixes if mix.mix.version.recipe_id in bench.recipes]
        self.straight = self._poured_straight()

    def main(self) -> dict[str, Any]:
        session = self.account.session
        return {"title": session.title, "minutes": session.minutes or None}

    def rows(self) -> dict[str, list[dict[str, Any]]]:
        return {CUPS: self._cups(), POURS: self._pours(), SUNDRIES: self._sundries()}

    def _poured_straight(self) -> list[Material]:
        """What came from the shelf without being mixed that day, leftovers of earlier days among it."""
        mixed = {mix.mix.lot_id for mix in self.mixes}
        lines = (line for pour in self.account.pours for line in pour.paint)
        found = {
            line.material.pk: line.material for line in lines if line.lot is None or line.lot.pk not in mixed
        }
        return [material for pk, material in found.items() if pk in self.bench.ready]

    def _cups(self) -> list[dict[str, Any]]:
        rows = [self._mixed(mix) for mix in self.mixes]
        for material in self.straight:
            used = sum(self._from(pour.paint, material=material.pk) for pour in self.account.pours)
            rows.append({"contents": f"m{material.pk}", "wanted": self._typed(used, material)})
        return rows[:MOST_CUPS]

    def _mixed(self, mix: MixAccount) -> dict[str, Any]:
        """A mix as it really was where its recipe still stands; else its amount, to be worked out afresh."""
        version = mix.mix.version
        row: dict[str, Any] = {
            "contents": f"r{version.recipe_id}",
            "wanted": self._typed(mix.made, version.recipe.makes),
            "rest": mix.mix.rest,
            "consistency": mix.mix.consistency,
        }
        if self.bench.recipes[version.recipe_id].pk == version.pk:
            used: dict[int, int] = {}
            for line in mix.parts:
                used[line.material.pk] = used.get(line.material.pk, 0) + line.quantity
            for part in self.bench.recipes[version.recipe_id].parts.all():
                row[f"amount_{part.material_id}"] = self._typed(used.get(part.material_id, 0), part.material)
            row["planned_for"] = f"{version.pk}:{mix.made}"
        return row

    def _pours(self) -> list[dict[str, Any]]:
        groups: dict[tuple[Any, ...], list[PourAccount]] = {}
        for account in self.account.pours:
            pour = account.pour
            poured = divide_half_up(pour.poured, ALIKE_WITHIN)
            groups.setdefault((pour.surface_id, pour.technique_id, pour.arm, poured), []).append(account)
        return [self._alike(members) for members in groups.values()]

    def _alike(self, members: Sequence[PourAccount]) -> dict[str, Any]:
        first = members[0].pour
        row: dict[str, Any] = {
            "alike": len(members),
            "surface": first.surface_id if first.surface_id in self.bench.surfaces else "",
            "technique": first.technique_id,
            "arm": first.arm,
        }
        each = [self._by_cup(account) for account in members]
        if self._follows_the_cups(members):
            row["each"] = self._typed_volume(min(account.pour.poured for account in members))
            return row
        materials = [mix.mix.version.recipe.makes for mix in self.mixes] + self.straight
        for number, material in enumerate(materials[:MOST_CUPS], start=1):
            amount = min(cups[number - 1] for cups in each)
            if amount:
                row[f"cup_{number}"] = self._typed(amount, material)
        return row

    def _follows_the_cups(self, members: Sequence[PourAccount]) -> bool:
        """Whether the amounts were shared by what was in the cups, so that one figure says it all."""
        made = [mix.made for mix in self.mixes]
        if (
            self.straight
            or not made
            or any(mix.mix.version.recipe.makes.measure != "volume" for mix in self.mixes)
        ):
            return False
        return all(
            abs(amount * sum(made) - account.pour.poured * part) < ALIKE_WITHIN * sum(made)
            for account in members
            for amount, part in zip(self._by_cup(account), made, strict=True)
        )

    def _by_cup(self, account: PourAccount) -> list[int]:
        mixed = [self._from(account.paint, lot=mix.mix.lot_id) for mix in self.mixes]
        return mixed + [self._from(account.paint, material=material.pk) for material in self.straight]

    def _sundries(self) -> list[dict[str, Any]]:
        used: dict[int, list[Line]] = {}
        for account in self.account.pours:
            for line in account.lines:
                if line.role == EntryRole.SUNDRY and line.material.pk in self.bench.sundries:
                    used.setdefault(line.material.pk, []).append(line)
        return [
            {"material": pk, "amount": self._typed(sum(line.quantity for line in lines), lines[0].material)}
            for pk, lines in used.items()
        ]

    def _from(self, lines: Iterable[Line], *, lot: int | None = None, material: int | None = None) -> int:
        mixed = {mix.mix.lot_id for mix in self.mixes}
        return sum(
            line.quantity
            for line in lines
            if (line.lot is not None and line.lot.pk == lot)
            or (line.material.pk == material and (line.lot is None or line.lot.pk not in mixed))
        )

    def _typed(self, amount: int, material: Material) -> str:
        return typed(amount, Measure(material.measure), decimal_comma=self.bench.shown.decimal_comma)

    def _typed_volume(self, amount: int) -> str:
        return typed(amount, Measure.VOLUME, decimal_comma=self.bench.shown.decimal_comma)
