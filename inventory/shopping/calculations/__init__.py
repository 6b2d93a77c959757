"""How much to buy, and from whom: pure arithmetic.

Quantities are thousandths of the base unit, money millionths of the studio's currency.
"""
