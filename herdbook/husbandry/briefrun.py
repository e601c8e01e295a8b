"""A few days with a bull: he got in, or was taken out at once. Its plain due days are too narrow.

A run of a season is longer than gestations differ, so that its plain first and last due day say enough. Of
three days with a bull they do not: a calf comes as much earlier or later as gestations do.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from herdbook.husbandry.duedates import RULES, DueRules, due_date
from herdbook.husbandry.reasons import Reason


@dataclass(frozen=True)
class BriefRun:
    """Days with a bull that were fewer than a cycle; `first` and `last` both count.

    `plain` are the first and last day by her gestation alone, `window` those between which 98 of 100 calves
    of these days come (263 to 299 days where her gestation is 283; see `DueRules` for the source).
    """

    first: date
    last: date
    plain: tuple[date, date]
    window: tuple[date, date]

    def holds(self, first: date, last: date) -> bool:
        """Return whether days lie within these."""
        return self.first <= first and last <= self.last

    def note(self) -> Reason:
        """Return what to know of it in a sentence."""
        (early, late), (opens, closes) = self.plain, self.window
        values = {"first": self.first, "last": self.last, "from": opens, "to": closes}
        template = (
            "With a bull only from {first} to {last}, when few hold: a calf of those days comes from {from} "
            "to {to}, likeliest {early} to {late}."
        )
        return Reason("brief_run", template, values | {"early": early, "late": late})


def brief_run(runs: Iterable[tuple[date, date | None, int]], rules: DueRules = RULES) -> BriefRun | None:
    """Return a female's first company with a bull that was over in less than a cycle, if any.

    Bulls that follow one another within a cycle count as one company, so that a bull changed in the season
    makes none. Common practice, no source.

    Parameters
    ----------
    runs : iterable of (date, date or None, int)
        First and last day, and the days of gestation; a run without a last day still goes on.
    """
    together: list[tuple[date, date, int]] = []
    for first, ends, days in sorted((first, last or date.max, days) for first, last, days in runs):
        if together and (first - together[-1][1]).days <= rules.cycle:
            together[-1] = (together[-1][0], max(together[-1][1], ends), together[-1][2])
        else:
            together.append((first, ends, days))
    for first, last, days in together:
        if (last - first).days + 1 < rules.cycle:
            plain = due_date(first, days), due_date(last, days)
            opens = due_date(first, days - rules.earliest)
            closes = due_date(last, days + rules.look_again_from - 1)
            return BriefRun(first, last, plain, (opens, closes))
    return None
