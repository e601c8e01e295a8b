"""When a female may have conceived, day by day: the law that the calving forecast rests on, for many at once.

She is followed through her heats from the first day on which she could be settled:

* nothing known of her heats: the first falls on any of 21 days alike; of those past their rest a few
  (1 - `cycling`) begin a cycle later; after a calving the first heat comes on any day of a span alike, which
  for a cow after her first calf is later than for older ones;
* a heat with a bull there, or a service, settles her with the chance `per_heat`; if not, she is in heat again
  18 to 24 days on; a heat with no bull there settles nobody;
* a heat that was seen is a heat on that day. Of those settled before, few show one (`heat_in_calf`), on the
  days on which they would have returned: it lowers the earlier conception and never removes it. With the
  small chance `irregular` a heat comes on any day. That none was seen tells nothing, for nobody may have
  looked.

Settled means carrying a calf that a check would find; what is lost later is the forecast's.

Sources. `per_heat` and `cycling`: see `settling`, the one place of these two figures. Cycle 21 d (18-24) and
first heat 20-60 days after calving: Merck/MSD Veterinary Manual, table of the reproductive cycle. After a
first calf: 30-40 days later, the difference between 80-100 and 50-60 days (Wiltbank 1970, as cited in an
open-access review, PMC7200576). `heat_in_calf` and the shape of the returns: from memory. `irregular`: own
choice, no source. `embryo`: 50-60 % of embryos put in hold, from memory.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from herdbook.husbandry import settling
from herdbook.husbandry.duedates import GESTATION_SD
from herdbook.husbandry.gestation import Check
from herdbook.husbandry.paternity import HEAT_IN_CALF, RETURNS, SAME_HEAT_DAYS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class ConceivingRules:
    """The figures behind the law; the module says where they come from."""

    per_heat: float = settling.RULES.per_heat
    cycling: float = settling.RULES.cycling
    embryo: float = 0.55
    cycle: int = settling.RULES.cycle
    returns: Mapping[int, float] = field(default_factory=lambda: RETURNS, hash=False)
    first_heat: tuple[int, int] = (20, 60)
    first_heat_after_first: tuple[int, int] = (50, 100)
    heat_in_calf: float = HEAT_IN_CALF
    irregular: float = 0.02

    def __post_init__(self) -> None:
        shares = (self.per_heat, self.cycling, self.embryo, self.heat_in_calf, self.irregular)
        if not all(0.0 <= share <= 1.0 for share in shares):
            raise ValueError("A chance lies between 0 and 1.")


RULES = ConceivingRules()


@dataclass(frozen=True, slots=True)
class Bred:
    """A service: the day from which gestation counts, the mean gestation of its calf, whether an embryo."""

    day: date
    mean: float = 283.0
    embryo: bool = False


@dataclass(frozen=True, slots=True)
class Company:
    """Her days with one or more bulls, first and last both counted, and their calves' mean gestation."""

    first: date
    last: date
    mean: float = 283.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Days of which any may be the one, with the chance of them all: a seller's statement, a bull unrecorded.

    `soft` is a standard deviation in days by which the ends are blurred.
    """

    first: date
    last: date
    chance: float
    mean: float = 283.0
    soft: float = 0.0


@dataclass(frozen=True, slots=True)
class Awaited:
    """All that bears on when one female calves, since her last calving or loss.

    Parameters
    ----------
    services, runs, stretches
        What she may have conceived of.
    heats : tuple of date
        Heats seen; services need not be told again.
    checks : tuple of Check
        Pregnancy checks, in any order.
    calved : date, optional
        The calving after which she conceives; None after a loss or where she has not calved.
    calvings : int
        How often she has calved.
    calf_sex : str, optional
        "M" or "F" where a scan told it.
    sd : float
        Standard deviation of gestation in days.
    """

    services: tuple[Bred, ...] = ()
    runs: tuple[Company, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    heats: tuple[date, ...] = ()
    checks: tuple[Check, ...] = ()
    calved: date | None = None
    calvings: int = 2
    calf_sex: str | None = None
    sd: float = GESTATION_SD

    def extent(self) -> tuple[int, int]:
        """Return, as ordinals, the first day on which she may have conceived and the last that tells of it.

        Raises
        ------
        ValueError
            If there is nothing.
        """
        found = [(s.day.toordinal(), s.day.toordinal()) for s in self.services]
        found += [(r.first.toordinal(), r.last.toordinal()) for r in self.runs]
        for each in self.stretches:
            blur = round(3 * each.soft)
            found.append((each.first.toordinal() - blur, each.last.toordinal() + blur))
        if not found:
            raise ValueError("There is nothing that she could have conceived of.")
        seen = max((heat.toordinal() for heat in self.heats), default=0)
        return min(first for first, _ in found), max(seen, *(last for _, last in found))


@dataclass(frozen=True)
class Conceptions:
    """Chances of conceiving, females in columns.

    Parameters
    ----------
    start : ndarray of int, shape (females,)
        Ordinal of the day of row 0, for each.
    chance : ndarray of float, shape (days, females)
        Of conceiving on each day together with every heat that was seen: not yet scaled to 1.
    none : ndarray of float, shape (females,)
        Of not conceiving, on the same scale.
    mean : ndarray of float, shape (days, females)
        Mean gestation of what is conceived on each day.
    """

    start: Ints
    chance: Floats
    none: Floats
    mean: Floats


def conceptions(females: Sequence[Awaited], rules: ConceivingRules = RULES) -> Conceptions:
    """Return the chance of conceiving on each day, before any check is looked at.

    Raises
    ------
    ValueError
        If one of them has nothing to conceive of.
    """
    extents = [female.extent() for female in females]
    start = np.array([first for first, _ in extents], dtype=np.int64)
    days = max(last - first for first, last in extents) + 1
    chance, mean, rate, due = _laid_out(females, start, days, rules)
    events: dict[int, list[int]] = defaultdict(list)
    for column, female in enumerate(females):
        for day in _heats_seen(female):
            if 0 <= (index := day - int(start[column])) < days:
                events[index].append(column)
    returns = _renewal(days, rules.cycle, tuple(rules.returns.items()))
    for index in range(days):
        if index in events:
            _heat_seen(index, np.array(events[index]), due, chance, returns, rules)
        held = due[index] * rate[index]
        chance[index] += held
        failed = due[index] - held
        for later, part in rules.returns.items():
            due[index + later] += failed * part
    return Conceptions(start, chance, due[days:].sum(axis=0), mean)


def _laid_out(
    females: Sequence[Awaited], start: Ints, days: int, rules: ConceivingRules
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return chance, mean gestation, chance of a heat to settle, and first heats, before following anyone."""
    chance, rate, mean = (np.zeros((days, len(females))) for _ in range(3))
    due = np.zeros((days + 2 * rules.cycle + max(rules.returns), len(females)))
    for column, female in enumerate(females):
        begin = int(start[column])
        weight = np.zeros(days)
        for run in female.runs:
            rows = slice(run.first.toordinal() - begin, run.last.toordinal() - begin + 1)
            rate[rows, column] = rules.per_heat
            mean[rows, column] += run.mean
            weight[rows] += 1.0
        for service in female.services:
            row = service.day.toordinal() - begin
            rate[row, column] = max(rate[row, column], rules.embryo if service.embryo else rules.per_heat)
            mean[row, column], weight[row] = service.mean, 1.0  # her own service, not the bull beside it
        told = 0.0
        for stretch in female.stretches:
            chance[:, column] += (part := _stretched(stretch, begin, days))
            told += stretch.chance
            fresh = (part > 0.0) & (weight == 0.0)
            mean[fresh, column], weight[fresh] = stretch.mean, 1.0
        mean[:, column] /= np.maximum(weight, 1.0)
        for row, part_due in _first_heats(female, begin, days, rules):
            due[row, column] = part_due * (1.0 - told)
    return chance, mean, rate, due


def _stretched(stretch: Stretch, begin: int, days: int) -> Floats:
    """Return the chance of each day of a stretch, its ends blurred."""
    rows = np.arange(days) + begin
    blur = round(3 * stretch.soft)
    law = ((rows >= stretch.first.toordinal()) & (rows <= stretch.last.toordinal())).astype(float)
    if blur:
        off = np.arange(-blur, blur + 1)
        law = np.convolve(law, np.exp(-0.5 * (off / stretch.soft) ** 2))[blur : blur + days]
    law *= stretch.chance / law.sum()
    return np.asarray(law, dtype=np.float64)


def _first_heats(female: Awaited, begin: int, days: int, rules: ConceivingRules) -> list[tuple[int, float]]:
    """Return the rows of her first heat with the chance of each."""
    served = min((s.day.toordinal() for s in female.services), default=None)
    ran = min((r.first.toordinal() for r in female.runs), default=None)
    if served is not None and (ran is None or served <= ran):
        row = served - begin  # in heat that day: which of the 21 it is tells nothing of anything else
        return [(row + day, 1.0 / rules.cycle) for day in range(rules.cycle)]
    row = (begin + days if ran is None else ran) - begin
    span = rules.first_heat_after_first if female.calvings == 1 else rules.first_heat
    rest = None if female.calved is None else female.calved.toordinal() - begin - row
    return [(row + day, part) for day, part in _after(rest, span, days - row, rules.cycling, rules.cycle)]


@lru_cache(maxsize=4096)
def _after(
    calved: int | None, span: tuple[int, int], days: int, cycling: float, cycle: int
) -> tuple[tuple[int, float], ...]:
    """Return her first heats from the bull's first day on, `calved` being days from that day to a calving."""
    heats: dict[int, float] = defaultdict(float)
    rested = 1.0
    if calved is not None:
        came = [calved + rest for rest in range(span[0], span[1] + 1)]
        rested = sum(day < 0 for day in came) / len(came)
        for day in came:
            if day >= 0:
                heats[min(day, days)] += 1.0 / len(came)  # too late for him counts as not settled
    for day in range(cycle):
        heats[day] += rested * cycling / cycle
        heats[day + cycle] += rested * (1.0 - cycling) / cycle
    return tuple(heats.items())


def _heats_seen(female: Awaited) -> list[int]:
    """Return the day of each heat that was seen; what lies less than three days apart is one heat."""
    served = {s.day.toordinal() for s in female.services}
    found: list[int] = []
    first: int | None = None
    for day in sorted(served | {heat.toordinal() for heat in female.heats}):
        if first is None or day - first >= SAME_HEAT_DAYS:
            first = day
            found.append(day)
        elif found[-1] not in served and day in served:
            found[-1] = day  # the service is what can have settled her
    return found


def _heat_seen(
    index: int, columns: npt.NDArray[np.intp], due: Floats, chance: Floats, returns: Floats,
    rules: ConceivingRules,
) -> None:  # fmt: skip
    """Weigh everything by a heat seen on this day, and begin the open ones' next cycle on it."""
    usual, odd = 1.0 - rules.irregular, rules.irregular / rules.cycle
    yet_open = due[index:, columns].sum(axis=0)
    due[index, columns] = usual * due[index, columns] + odd * yet_open
    due[index + 1 :, columns] = 0.0
    back = usual * returns[index - np.arange(index)] + odd
    chance[:index, columns] *= rules.heat_in_calf * back[:, None]


@lru_cache(maxsize=32)
def _renewal(days: int, cycle: int, returns: tuple[tuple[int, float], ...]) -> Floats:
    """Return the chance of being in heat so many days after a heat, for one whom nothing settles."""
    again = np.zeros(days + cycle + max(later for later, _ in returns) + 1)
    again[0] = 1.0
    for day in range(days + 1):
        for later, part in returns:
            again[day + later] += again[day] * part
    again[0] = 0.0
    return again
