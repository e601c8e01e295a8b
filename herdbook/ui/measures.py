"""Weights as this book shows them: kilograms or pounds, whole figures unless asked otherwise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QLocale

from herdbook.husbandry.units import from_kg
from herdbook.ui.desk import Desk


def unit_of(desk: Desk) -> str:
    """Return the unit in which this book shows weights, "kg" or "lb"."""
    return "lb" if getattr(desk.settings, "weight_unit", "kg") == "lb" else "kg"


def weight_text(kg: float | None, desk: Desk, decimals: int = 0) -> str:
    """Return a weight with its unit; None is empty."""
    if kg is None:
        return ""
    unit = unit_of(desk)
    return f"{QLocale().toString(from_kg(kg, unit), 'f', decimals)} {unit}"


def weight_shower(desk: Desk, decimals: int = 0) -> Callable[[Any], str]:
    """Return what a table's column shows for a weight in kg."""
    return lambda kg: weight_text(kg, desk, decimals)
