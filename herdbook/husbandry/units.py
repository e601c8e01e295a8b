"""Weights and lengths: kept in kilograms and centimetres, read and shown in the keeper's own unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from herdbook.husbandry.reasons import Reason

KG_PER_LB = 0.45359237
"""Kilograms in a pound; exact by the international definition of the pound (1959)."""

CM_PER_INCH = 2.54
"""Centimetres in an inch; exact by the same agreement."""

_KG_IN = {"kg": 1.0, "lb": KG_PER_LB}
_CM_IN = {"cm": 1.0, "in": CM_PER_INCH}

_WEIGHT_WORDS = {
    "kg": "kg", "kgs": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg",
    "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb", "#": "lb",
}  # fmt: skip
_LENGTH_WORDS = {
    "cm": "cm", "cms": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "in": "in", "ins": "in", "inch": "in", "inches": "in", '"': "in",
}  # fmt: skip

_NUMBER = re.compile(
    r"""(?P<number> [1-9][0-9]{0,2}(?:[ ,'\u00a0\u202f][0-9]{3})+(?:\.[0-9]+)?   # 1,062 or 1 062.5
                  | [0-9]*[.,]?[0-9]+ | [0-9]+[.,] )                        # 520, 236.5, 236,5, .5, 40.
        \s* (?P<unit> [^\W\d_]+\.? | \# | " )?""",
    re.VERBOSE,
)


@dataclass(frozen=True)
class Weight:
    """A weight in kilograms with the unit in which it was typed ("kg" or "lb")."""

    kg: float
    unit: str


@dataclass(frozen=True)
class Length:
    """A length in centimetres with the unit in which it was typed ("cm" or "in")."""

    cm: float
    unit: str


def to_kg(value: float, unit: str) -> float:
    """Return `value` in kilograms; `unit` is "kg" or "lb". Raises ValueError for another unit."""
    return value * _factor(_KG_IN, unit)


def from_kg(kg: float, unit: str) -> float:
    """Return `kg` kilograms in `unit` ("kg" or "lb"), not rounded. Raises ValueError for another unit."""
    return kg / _factor(_KG_IN, unit)


def to_cm(value: float, unit: str) -> float:
    """Return `value` in centimetres; `unit` is "cm" or "in". Raises ValueError for another unit."""
    return value * _factor(_CM_IN, unit)


def from_cm(cm: float, unit: str) -> float:
    """Return `cm` centimetres in `unit` ("cm" or "in"), not rounded. Raises ValueError for another unit."""
    return cm / _factor(_CM_IN, unit)


def parse_weight(text: str, default_unit: str) -> Weight:
    """Read a typed weight such as ``520``, ``520 lb`` or ``236,5 kg``.

    A comma, space or apostrophe before exactly three digits parts thousands (``1,062``), unless the
    number begins with 0; any other single comma is a decimal comma.

    Parameters
    ----------
    text : str
        What was typed.
    default_unit : str
        "kg" or "lb": what a bare number means.

    Raises
    ------
    ValueError
        Carrying a `Reason`, when no weight can be read or it is not above nothing.
    """
    value, unit = _parse(text, default_unit, _WEIGHT_WORDS, _KG_IN, "weight", "520 or 520 lb or 236.5 kg")
    return Weight(to_kg(value, unit), unit)


def parse_length(text: str, default_unit: str) -> Length:
    """Read a typed length such as ``178``, ``70 in`` or ``178 cm``; see `parse_weight`."""
    value, unit = _parse(text, default_unit, _LENGTH_WORDS, _CM_IN, "length", "70 in or 178 cm")
    return Length(to_cm(value, unit), unit)


def _factor(table: dict[str, float], unit: str) -> float:
    if unit not in table:
        raise ValueError(f"The unit {unit!r} is not known here; use {' or '.join(table)}.")
    return table[unit]


def _parse(
    text: str, default: str, words: dict[str, str], table: dict[str, float], what: str, example: str
) -> tuple[float, str]:
    _factor(table, default)
    found = _NUMBER.fullmatch(text.strip())
    typed = text.strip()
    if found is None:
        template = "“{typed}” cannot be read as a {what}; type it like {example}."
        raise ValueError(Reason("unreadable", template, {"typed": typed, "what": what, "example": example}))
    written = found["unit"]
    unit = default if written is None else words.get(written.rstrip(".").casefold())
    if unit is None:
        template = "“{unit}” is not a unit known here for a {what}; use {units}."
        known = " / ".join(table)
        raise ValueError(Reason("unknown_unit", template, {"unit": written, "what": what, "units": known}))
    value = float(_plain(found["number"]))
    if not 0 < value < math.inf:
        template = "A {what} must be more than nothing; “{typed}” is not."
        raise ValueError(Reason("not_positive", template, {"what": what, "typed": typed}))
    return value, unit


def _plain(number: str) -> str:
    """Turn a matched number into what `float` reads."""
    if re.match(r"[1-9][0-9]{0,2}([ ,'\u00a0\u202f][0-9]{3})+(\.|$)", number):
        return re.sub(r"[ ,'\u00a0\u202f]", "", number)
    return number.replace(",", ".")
