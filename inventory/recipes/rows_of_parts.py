"""Recipes with a row for each part, as spreadsheets have them: gathered into a line for each recipe."""

import re
from collections.abc import Mapping, Sequence

from studio.imports.cells import folded
from studio.imports.headings import LINES_SEARCHED, plain
from studio.imports.reading import Line

_MATERIALS = frozenset(
    [
        "ingredient", "ingredients", "material", "materials", "component", "components", "part of", "paint", "colour",
        "zutat", "zutaten", "bestandteil", "bestandteile", "farbe", "komponente", "womit",
    ]
)  # fmt: skip
_NUMBERS = frozenset(
    [
        "parts", "part", "ratio", "share", "amount", "quantity", "number", "teile", "teil", "anteil", "anteile",
        "menge", "anzahl", "verhaltnis",
    ]
)  # fmt: skip
_NUMBER = re.compile(r"[0-9.,/½¼¾⅓⅔ ]+(?:%|parts?|teile?|x)?", re.IGNORECASE)


def heading_meanings(lines: Sequence[Line]) -> Mapping[str, str]:
    """A heading over bare numbers beside one over materials: those are the parts, and these what they are of."""
    for number, line in enumerate(lines[:LINES_SEARCHED], start=1):
        named = {plain(cell): place for place, cell in enumerate(line.cells)}
        materials = [
            name for name in named if name in _MATERIALS and not _are_numbers(lines[number:], named[name])
        ]
        numbers = [name for name in named if name in _NUMBERS and _are_numbers(lines[number:], named[name])]
        if materials and numbers:
            return {materials[0]: "part", numbers[0]: "parts"}
    return {}


def _are_numbers(lines: Sequence[Line], place: int) -> bool:
    cells = [line.cells[place] for line in lines if place < len(line.cells) and line.cells[place]]
    return bool(cells) and all(_NUMBER.fullmatch(cell) for cell in cells)


def gather(lines: Sequence[Line], keys: Sequence[str]) -> list[Line]:
    """A line a recipe, its parts with a plus between them. A row without a name, or with the same, goes on with it."""
    if "part" not in keys or "parts" not in keys or "name" not in keys:
        return list(lines)
    name, part, parts = (keys.index(key) for key in ("name", "part", "parts"))
    found: list[list[str]] = []
    numbers: list[int] = []
    for line in lines:
        cells = [*line.cells, *[""] * (len(keys) - len(line.cells))]
        goes_on = bool(found and cells[part]) and folded(cells[name]) in ("", folded(found[-1][name]))
        if cells[part]:
            cells[parts], cells[part] = f"{cells[parts]} {cells[part]}".strip(), ""
        if goes_on:
            above = found[-1]
            cells[parts] = f"{above[parts]} + {cells[parts]}"
            found[-1] = [
                cells[place] if place == parts else text or cells[place] for place, text in enumerate(above)
            ]
        else:
            found.append(cells)
            numbers.append(line.number)
    return [Line(number, tuple(cells)) for number, cells in zip(numbers, found, strict=True)]
