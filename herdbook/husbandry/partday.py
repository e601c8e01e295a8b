"""A day that may be known only to its month or year."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from herdbook.husbandry.days import Precision


@dataclass(frozen=True)
class PartDay:
    """A civil day with how well it is known.

    Parameters
    ----------
    day : date
        The first day of the period meant.
    precision : {"day", "month", "year", "before"}
        How much of it is known; ``"before"`` is some time before `day`.
    """

    day: date
    precision: str = "day"

    def __post_init__(self) -> None:
        if self.precision not in tuple(Precision):
            raise ValueError(f"precision must be one of {', '.join(Precision)}, not {self.precision!r}")

    def __str__(self) -> str:
        if self.precision == "year":
            return f"{self.day.year}"
        if self.precision == "month":
            return f"{self.day.year}-{self.day.month:02d}"
        return f"before {self.day}" if self.precision == "before" else f"{self.day}"
