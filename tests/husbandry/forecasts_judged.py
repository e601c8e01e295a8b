"""The forecast held against cows that were played: do its bands hold what they say, and its chances?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from herdbook.husbandry.calvingforecast import RULES, Forecast, ForecastRules, forecast
from herdbook.husbandry.conceiving import Awaited
from tests.husbandry.cows_played import Kind, Laws, Played, play

AT_ONCE = 2000
BEFORE_ANY = date(2027, 1, 1)
"""Asked on this day no cow can have calved, and no check is still to come."""


@dataclass(frozen=True)
class Judged:
    """Of pregnancies: the mean mass that bands were said to hold, and the share that they held."""

    cows: int
    said: float
    held: float


@dataclass(frozen=True)
class Counted:
    """Calvings in the next 7 days, week by week, as said and as they came, of all not yet calved."""

    said: tuple[float, ...]
    came: tuple[int, ...]
    chi_square: float
    weeks: int


def _told(records: Sequence[Awaited], on: date, rules: ForecastRules) -> list[Forecast]:
    found: list[Forecast] = []
    for begin in range(0, len(records), AT_ONCE):
        found += forecast(records[begin : begin + AT_ONCE], on, rules)
    return found


def bands(
    kind: Kind, pregnancies: int, laws: Laws, seed: int, on: Callable[[Played], date] | None = None,
    rules: ForecastRules = RULES, of: Callable[[Awaited], Awaited] = lambda record: record,
) -> Judged:  # fmt: skip
    """Return how the bands of so many pregnancies did; `on` is the day each is asked about.

    A cow that has calved by then is not asked about.
    """
    asked: dict[date, list[Played]] = {}
    count = 0
    for cow in play(kind, 40 * pregnancies, laws, seed):
        day = BEFORE_ANY if on is None else on(cow)
        if cow.calves is not None and cow.calves >= day:
            asked.setdefault(day, []).append(cow)
            count += 1
            if count == pregnancies:
                break
    said = held = 0.0
    for day, cows in asked.items():
        for told, cow in zip(_told([of(c.record) for c in cows], day, rules), cows, strict=True):
            said += told.band_mass
            held += told.band is not None and told.band[0] <= cow.calves <= told.band[1]
    return Judged(count, said / count, held / count)


def weeks(
    kind: Kind, cows: int, laws: Laws, seed: int, first: date, count: int, rules: ForecastRules = RULES
) -> Counted:
    """Return the calvings said and counted in each week; females not in calf stay among those asked."""
    played = list(play(kind, cows, laws, seed))
    said, came, square = [], [], 0.0
    for week in range(count):
        day = first + timedelta(days=7 * week)
        left = [cow for cow in played if cow.calves is None or cow.calves >= day]
        told = _told([cow.record for cow in left], day, rules)
        ends = day + timedelta(days=7)
        said.append(sum(each.within_7 for each in told))
        came.append(sum(cow.calves is not None and cow.calves < ends for cow in left))
        spread = sum(each.within_7 * (1.0 - each.within_7) for each in told)
        square += (came[-1] - said[-1]) ** 2 / spread if spread > 1.0 else 0.0
    return Counted(tuple(said), tuple(came), square, count)
