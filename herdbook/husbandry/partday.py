"""A day that may be known only to its month or year."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

PRECISIONS = ("day", "month", "year", "before")


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
        if self.precision not in PRECISIONS:
            raise ValueError(f"precision must be one of {', '.join(PRECISIONS)}, not {self.precision!r}")

    def __str__(self) -> str:
        if self.precision == "year":
            return f"{self.day.year}"
        if self.precision == "month":
            return f"{self.day.year}-{self.day.month:02d}"
        return f"before {self.day}" if self.precision == "before" else f"{self.day}"


_YEAR = re.compile(r"(\d{4})\Z")
_MONTH = re.compile(r"(\d{4})-(\d{1,2})\Z")


def read_part_day(text: str) -> PartDay:
    """Read ``2019``, ``2019-04`` or ``2019-04-03``.

    Raises
    ------
    ValueError
        In plain words, when `text` is none of these.
    """
    text = text.strip()
    try:
        if found := _YEAR.match(text):
            return PartDay(date(int(found[1]), 1, 1), "year")
        if found := _MONTH.match(text):
            return PartDay(date(int(found[1]), int(found[2]), 1), "month")
        return PartDay(date.fromisoformat(text))
    except ValueError:
        raise ValueError(f"{text!r} is no date: write a year, year-month or year-month-day") from None
