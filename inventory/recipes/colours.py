"""A rough guess at the colour of a mix from those of its paints. No Django.

Each channel of an sRGB colour is made linear, averaged by parts, and encoded again (the transfer function of
IEC 61966-2-1). That is how coloured lights add up. Paints take light away, and a strong pigment counts for more than
its parts: blue and yellow come out greyer here than they dry, and black weaker. So it is a start for a swatch, never
a forecast.
"""

from collections.abc import Sequence

_LINEAR_UP_TO = 0.04045  # of an encoded channel, where the function's straight piece ends
_STRAIGHT, _OFFSET, _EXPONENT = 12.92, 0.055, 2.4


def mixed_colour(parts: Sequence[tuple[str, int]]) -> str:
    """The mean of colours such as "#1f5f6b", each by its parts; nothing where one is not known or none is there."""
    whole = sum(amount for _colour, amount in parts)
    if whole <= 0 or not all(colour for colour, _amount in parts):
        return ""
    mixed = (
        sum(_light(int(colour[at : at + 2], 16)) * amount for colour, amount in parts) / whole
        for at in (1, 3, 5)
    )
    return "#" + "".join(f"{_channel(light):02x}" for light in mixed)


def _light(channel: int) -> float:
    encoded = channel / 255
    if encoded <= _LINEAR_UP_TO:
        return encoded / _STRAIGHT
    return float(((encoded + _OFFSET) / (1 + _OFFSET)) ** _EXPONENT)


def _channel(light: float) -> int:
    if light <= _LINEAR_UP_TO / _STRAIGHT:
        return round(light * _STRAIGHT * 255)
    encoded: float = (1 + _OFFSET) * light ** (1 / _EXPONENT) - _OFFSET
    return round(encoded * 255)
