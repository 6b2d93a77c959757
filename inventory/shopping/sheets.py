"""The shopping list as plain rows for paper, and as the text of an email."""

from inventory.shopping.papers import PaperLine, PaperPart
from inventory.shopping.queries import Part, ShoppingList
from inventory.shopping.wording import ShoppingWords
from studio.translation import _


def paper_parts(listed: ShoppingList, words: ShoppingWords) -> list[PaperPart]:
    """What to buy by supplier, then what nobody sells and what was written in words."""
    parts = [_part(part, words) for part in listed.parts]
    elsewhere = [
        PaperLine(
            "", need.material.name, words.origin(need), is_ticked=bool(need.entry and need.entry.is_ticked)
        )
        for need in listed.unsold
    ]
    elsewhere += [PaperLine("", entry.text, is_ticked=entry.is_ticked) for entry in listed.others]
    if elsewhere:
        parts.append(PaperPart(_("Anywhere"), elsewhere))
    return parts


def _part(part: Part, words: ShoppingWords) -> PaperPart:
    lines = [
        PaperLine(
            words.packs(line),
            line.material.name,
            words.origin(line.need),
            words.money(line.cost, part) if words.sees_money else "",
            line.is_ticked,
        )
        for line in part.lines
    ]
    return PaperPart(part.supplier.name, lines, _sums(part, words), words.terms(part))


def _sums(part: Part, words: ShoppingWords) -> list[tuple[str, str]]:
    if not words.sees_money:
        return []
    carriage = [(_("Carriage"), words.money(part.carriage, part))] if part.carriage else []
    goods = [(_("Goods"), words.money(part.goods, part))] if carriage else []
    return [*goods, *carriage, (_("Total"), words.money(part.cost, part))]


def email_text(listed: ShoppingList, words: ShoppingWords, *, only: Part | None = None) -> str:
    """The list as text: a heading for each supplier and a line for each material.

    `only` one part is the text of an order to that supplier, without reasons and prices.
    """
    if only is not None:
        return "\n".join(f"- {words.packs(line)} {line.material.name}" for line in only.lines)
    blocks = []
    for part in paper_parts(listed, words):
        lines = [part.heading, *(_line(line) for line in part.lines)]
        lines += [f"{term}: {amount}" for term, amount in part.sums]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)


def _line(line: PaperLine) -> str:
    box = "[x]" if line.is_ticked else "[ ]"
    words = " ".join(filter(None, [line.packs, line.name]))
    return f"{box} {words}" + (f", {line.price}" if line.price else "")
