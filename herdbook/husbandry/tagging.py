"""The next tag in a herd's own style, told from the tags that its latest calves got."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

OLDEST_YEARS = 15
"""Years back within which two figures of a tag may stand for a year of birth."""


@dataclass(frozen=True)
class Worn:
    """A tag, and the year in which its wearer was born."""

    tag: str
    year: int


def next_tag(latest: Sequence[Worn], year: int, taken: Callable[[str], bool], style: str = "") -> str | None:
    """Return a tag that nobody wears, in the style of the latest calf's; None where no style can be told.

    A tag is words and numbers in a row. A number that is the year of its wearer's birth (26 or 2026) is the
    year; of the others the last one counts. In the same year counting goes on after the highest number of the
    calves that are tagged in that way; in a new year it begins again at 1. Leading zeros are kept. A style
    without a year simply counts on. Common practice, no source.

    Parameters
    ----------
    latest : sequence of Worn
        Calves' tags, the latest first.
    year : int
        In which the new calf is born.
    taken : callable (tag) -> bool
        Whether a tag cannot be given again.
    style : str
        An example of a tag, for a herd that has tagged no calf yet.
    """
    for worn in latest:
        parts = _parts(worn.tag)
        place = _year_place(parts, worn.year)
        counting = _count_place(parts, place)
        if counting is not None:
            same = [w for w in latest if _alike(w, parts, place)]
            return _count_on(parts, place, counting, year, _highest(same, counting, place, year), taken)
    parts = _parts(style.strip())
    place = _likely_year(parts, year)
    counting = _count_place(parts, place)
    return None if counting is None else _count_on(parts, place, counting, year, 0, taken)


def _parts(tag: str) -> list[str]:
    """Return words and numbers in turn; every second part is a number."""
    return re.split(r"([0-9]+)", tag)


def _year_place(parts: Sequence[str], year: int) -> int | None:
    """Return where the year stands among the numbers, where there is another number to count with."""
    numbers = range(1, len(parts), 2)
    years = [n for n in numbers if parts[n] in (str(year), f"{year % 100:02d}")]
    return years[0] if years and len(numbers) > 1 else None


def _likely_year(parts: Sequence[str], year: int) -> int | None:
    """Return where an example's year stands: the number nearest to this year, none far from it."""
    found = []
    for n in range(1, len(parts), 2):
        number = int(parts[n])
        whole = number if len(parts[n]) == 4 else 2000 + number if len(parts[n]) == 2 else 0
        if year - OLDEST_YEARS <= whole <= year + 1:
            found.append((abs(year - whole), n))
    return min(found)[1] if found and len(parts) > 3 else None


def _count_place(parts: Sequence[str], year_place: int | None) -> int | None:
    return next((n for n in range(len(parts) - 2, 0, -2) if n != year_place), None)


def _alike(worn: Worn, parts: Sequence[str], place: int | None) -> bool:
    """Tell whether a tag is made as `parts` is: the same words, the year in the same place."""
    others = _parts(worn.tag)
    return others[::2] == list(parts[::2]) and _year_place(others, worn.year) == place


def _highest(same: Sequence[Worn], counting: int, place: int | None, year: int) -> int:
    counted = [int(_parts(w.tag)[counting]) for w in same if place is None or w.year == year]
    return max(counted, default=0)


def _count_on(
    parts: Sequence[str],
    place: int | None,
    counting: int,
    year: int,
    last: int,
    taken: Callable[[str], bool],
) -> str:
    made, figures = list(parts), len(parts[counting])
    if place is not None:
        made[place] = str(year) if len(parts[place]) == 4 else f"{year % 100:02d}"
    zeros = parts[counting].startswith("0") or (place is None and figures > 1)
    number = last
    while True:
        number += 1
        made[counting] = f"{number:0{figures}d}" if zeros else str(number)
        if not taken("".join(made)):
            return "".join(made)
