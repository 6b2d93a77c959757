"""The shelf's own rules."""

from inventory.alerts.rules import levels, lots, purchases, stocktakes

RULES = (*levels.RULES, *lots.RULES, *purchases.RULES, *stocktakes.RULES)
