"""When to order: use by day, its kind and forecast, lead times, and the level. Pure: no Django, no ledger.

Quantities are thousandths of the material's base unit, time is whole days. What is estimated is a float; what is
ordered by it is rounded up, once, at the end.
"""
