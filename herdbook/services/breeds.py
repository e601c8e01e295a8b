"""What an animal's breed, as people write it, says about gestation."""

from __future__ import annotations

import re
from functools import lru_cache

from herdbook.husbandry.breeds import DEFAULT_DAYS, gestation_days

_CROSS = re.compile(r"\s*(?:\bx\b|×|/|\bcross\b)\s*", re.IGNORECASE)


def shares(breed: str | None) -> dict[str, float] | None:
    """Return the parts of a breed written as ``Angus`` or ``Angus x Hereford``; equal parts in a cross."""
    parts = [part for part in _CROSS.split(breed or "") if part]
    return {part.lower(): parts.count(part) / len(parts) for part in parts} or None


@lru_cache(maxsize=1024)
def days_for(dam_breed: str | None, sire_breed: str | None, of_the_book: int | None = None) -> int:
    """Return the gestation in days of a calf of these parents: the book's own figure, else by breed."""
    if of_the_book is not None:
        return of_the_book
    return gestation_days(shares(dam_breed), shares(sire_breed), default=DEFAULT_DAYS)
