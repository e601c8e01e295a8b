"""The calving forecast: for each female a chance of calving on every day, from everything on record.

Conception day by day (`conceiving`) is weighed by the checks, convolved with gestation, cut by "not calved by
today" and scaled to 1 together with the chance that she carries no calf, which stays in the sum: nobody is
called open without a check.

* A check finds a calf of an age with a chance that rises through the published days of its method, and then
  misses few; few open females are called in calf. So "open" leaves what was too young to be felt, and misses.
* A check that tells her days weighs each conception by a normal law about it, whose spread grows with the
  stage; a small share of such answers is taken to be a slip of any size.
* Where a check found her in calf, a bull that nobody recorded is given a very small chance on every day, so
  that evidence against all that is on record can show itself.
* Gestation is a normal law in whole days about the mean of the calf's breeds, shifted for a first-calver,
  twins and a calf whose sex is known.

Sources. Days from which a calf is found: ultrasound 25-30 and palpation 35-45 in skilled hands (Texas
extension newspaper column, 2021), blood from 28-30 (from memory). Error of a dated check: see
`DueRules.errors`, taken as two standard deviations (our choice). Twins 7 d less: USDA research herd, 276.1
against 283.1. First-calvers shorter: trade press, about 3 d in a dairy note; 2 is our choice between none and
that. Bull calves 1-2 d longer: trade and extension; half of 1.5 d either side of the mean. Spread 5-6 d
within herd and breed, and 6 for a herd not known: from memory; a wider one for twins: common practice, no
source. `lost`: of pregnancies found, 1.4-3.5 % were lost in the checks of Colorado State University, and
after that 1 % or less is Nebraska Extension's aim. `found`, `false_pregnant`: from memory that ultrasound is
right nearly always; the figures are our choice. `false_statement` (a seller's word), `slip` and `unrecorded`:
our choice, no source; a check that fits no bull on record speaks for another bull rather than for a slip.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.conceiving import (
    Awaited,
    ConceivingRules,
    Conceptions,
    Floats,
    Ints,
    Stretch,
    conceptions,
)
from herdbook.husbandry.duedates import RULES as DUE_RULES
from herdbook.husbandry.gestation import Check

SHORTEST, LONGEST = 240, 326
"""Gestations outside these are not reckoned with: 255-305 days span an open data set of 24,732 calvings."""
BAND = 0.8
EDGE = 0.01
"""Of her calving days, so much lies before the first and after the last that is named."""
TOGETHER = 256
"""Females worked on at once: what fits into the processor's own memory is sooner done."""
_LEAST = 1e-9
_NOTHING = 1e-15


def _usual_days() -> Mapping[str, tuple[int, int]]:
    return MappingProxyType({"scan": (25, 30), "blood": (28, 30), "hand": (35, 45)})


@dataclass(frozen=True)
class ForecastRules:
    """The figures behind the forecast; the module says where they come from. Days throughout, but shares."""

    conceiving: ConceivingRules = ConceivingRules()
    found_from: Mapping[str, tuple[int, int]] = field(default_factory=_usual_days, hash=False)
    found_else: tuple[int, int] = (25, 45)
    found: float = 0.99
    false_pregnant: float = 0.01
    false_statement: float = 0.1
    slip: float = 0.0005
    unrecorded: float = 0.001
    lost: float = 0.02
    twins_less: float = DUE_RULES.twins_days_less
    twins_sd_more: float = 1.0
    first_calver_less: float = 2.0
    bull_calf_more: float = 0.75


RULES = ForecastRules()


@dataclass(frozen=True)
class Forecast:
    """When one female calves.

    Parameters
    ----------
    first, likeliest, last : date or None
        If she calves of what is on record: 1 of 100 come before the first, 1 of 100 after the last. None
        where nothing on record can still lead to a calving.
    band : (date, date) or None
        The fewest days in a row that hold at least 80 of 100 such calvings.
    band_mass : float
        What they hold.
    within_1, within_7, within_14 : float
        Chance that she calves today; in the 7 and 14 days of which today is the first.
    not_in_calf : float
        Chance that she carries no calf on the day asked about. Never a finding: only a check says open.
    begins : date or None
        First day of `daily`.
    daily : ndarray of float
        Chance of calving on each day, on the scale of the other chances.
    """

    first: date | None
    likeliest: date | None
    last: date | None
    band: tuple[date, date] | None
    band_mass: float
    within_1: float
    within_7: float
    within_14: float
    not_in_calf: float
    begins: date | None = None
    daily: Floats = field(default_factory=lambda: np.zeros(0), compare=False, repr=False)


def forecast(females: Sequence[Awaited], on: date, rules: ForecastRules = RULES) -> list[Forecast]:
    """Return when each female calves, in the order given.

    Parameters
    ----------
    females : sequence of Awaited
        Each with everything known of her on `on`; none has calved or lost since.
    on : date
        The day it is taken to be; whoever calves on it has not done so yet.
    rules : ForecastRules

    Returns
    -------
    list of Forecast

    Raises
    ------
    ValueError
        If a female has nothing that she could have conceived of, and no check that found her in calf.
    """
    asked = [_with_unrecorded(female, on, rules) for female in females]
    extents = [female.extent() for female in asked]
    lengths = [last - first for first, last in extents]
    order = sorted(range(len(asked)), key=lengths.__getitem__)
    found: dict[int, Forecast] = {}
    for begin in range(0, len(order), TOGETHER):
        places = order[begin : begin + TOGETHER]
        part = _forecast([asked[place] for place in places], on, rules)
        found.update(zip(places, part, strict=True))
    return [found[place] for place in range(len(asked))]


def _with_unrecorded(female: Awaited, on: date, rules: ForecastRules) -> Awaited:
    """Return her with the small chance of a bull that nobody recorded, where a check found her in calf."""
    told = [check.day for check in female.checks if check.result in ("pregnant", "multiple")]
    if not told:
        return female
    means = [s.mean for s in female.services] + [r.mean for r in female.runs]
    means += [s.mean for s in female.stretches]
    mean = means[0] if means else 283.0
    last = max(told)
    earliest = date.fromordinal(max(on.toordinal() - LONGEST, 1))
    if female.calved is not None:
        earliest = max(earliest, date.fromordinal(female.calved.toordinal() + rules.conceiving.first_heat[0]))
    chance = rules.unrecorded if means else 0.5  # where it is all there is, any share will do
    return replace(female, stretches=(*female.stretches, Stretch(min(earliest, last), last, chance, mean)))


def _forecast(females: Sequence[Awaited], on: date, rules: ForecastRules) -> list[Forecast]:
    law = conceptions(females, rules.conceiving)
    chance, none = _by_checks(females, law, rules)
    today = on.toordinal() - law.start
    rows = np.arange(len(chance))[:, None]
    later = np.where(rows > today, chance, 0.0).sum(axis=0) * (1.0 - rules.lost)
    lost = chance.sum(axis=0) * rules.lost
    born = _born(females, law, chance * (1.0 - rules.lost), rules)
    days = np.arange(len(born))[:, None] + SHORTEST
    born[days < today] = 0.0
    whole = born.sum(axis=0) + lost + none
    born /= np.where(whole > 0.0, whole, 1.0)
    return _told(born, law.start + SHORTEST, on, later / np.where(whole > 0.0, whole, 1.0))


# -- checks ---


def _by_checks(females: Sequence[Awaited], law: Conceptions, rules: ForecastRules) -> tuple[Floats, Floats]:
    """Return the chances of conceiving on each day, and of none, weighed by every check."""
    chance, none = law.chance.copy(), law.none.copy()
    for column, female in enumerate(females):
        for check in female.checks:
            if check.result in ("pregnant", "multiple", "open"):
                oldest = check.day.toordinal() - int(law.start[column])  # conceived on the first day
                if oldest < 0:
                    continue
                fits, open_ = _fits(replace(check, day=date.min), rules)
                places = np.clip(oldest - np.arange(len(chance)), 0, len(fits) - 1)
                chance[:, column] *= fits[places]
                none[column] *= open_
    return chance, none


@lru_cache(maxsize=2048)  # the day plays no part in it: one scan asks many females the same
def _fits(check: Check, rules: ForecastRules) -> tuple[Floats, float]:
    """Return how well a check's answer fits a calf of each age in days, 0 for none yet, and no calf."""
    old = np.arange(2 * LONGEST)
    low, high = rules.found_from.get(check.method or "", rules.found_else)
    finds = rules.found * np.clip((old - low + 1) / (high - low + 1), 0.0, 1.0)
    false = rules.false_statement if check.method == "statement" else rules.false_pregnant
    finds = np.where(old > 0, np.maximum(finds, false), false)
    if check.result == "open":
        return 1.0 - finds, 1.0 - false
    if check.days_in_calf is None:
        return finds, false
    sd = _error_by_age(old) if check.error_days is None else np.full(len(old), max(check.error_days / 2, 0.5))
    any_age = 1.0 / LONGEST
    told = np.exp(-0.5 * ((check.days_in_calf - old) / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))
    right = (1.0 - rules.slip) * told + rules.slip * any_age
    return finds * np.where(old > 0, right, any_age), false * any_age


def _error_by_age(old: Ints) -> Floats:
    """Return the standard deviation of a dated check's answer at each true age; it grows with the stage."""
    upper = [old <= up_to for up_to, _ in DUE_RULES.errors]
    return np.select(upper, [error / 2.0 for _, error in DUE_RULES.errors], DUE_RULES.error_beyond / 2.0)


# -- gestation ---


def _born(females: Sequence[Awaited], law: Conceptions, chance: Floats, rules: ForecastRules) -> Floats:
    """Return the chance of calving on each day; row 0 is `SHORTEST` days after that of conceiving."""
    shift, sd = _shifts(females, rules)
    where, means, parts = _by_mean(law.mean, chance)
    lengths = np.arange(SHORTEST, LONGEST + 1)[:, None]
    kernel = _normal(lengths, means + shift[where], sd[where])
    born = np.zeros((len(chance) + len(lengths) - 1, parts.shape[1]))
    for offset in np.flatnonzero(kernel.max(axis=1) > _NOTHING):
        born[offset : offset + len(parts)] += parts * kernel[offset]
    if len(where) == len(females):
        return born
    summed = np.zeros((len(born), len(females)))
    np.add.at(summed.T, where, born.T)
    return summed


def _by_mean(mean: Floats, chance: Floats) -> tuple[npt.NDArray[np.intp], Floats, Floats]:
    """Return columns with one mean gestation each: the female of each, its mean, the chances of its days."""
    counts = chance > 0.0
    low = np.where(counts, mean, np.inf).min(axis=0)
    high = np.where(counts, mean, -np.inf).max(axis=0)
    mixed = np.flatnonzero(low < high)
    where = np.arange(chance.shape[1])
    if not len(mixed):
        return where, np.where(np.isfinite(low), low, 283.0), chance
    parts, means, of = [chance[:, low >= high]], [low[low >= high]], [where[low >= high]]
    for column in mixed:
        for each in np.unique(mean[counts[:, column], column]):
            parts.append(np.where(mean[:, column] == each, chance[:, column], 0.0)[:, None])
            means.append(np.array([each]))
            of.append(np.array([column]))
    joined = np.concatenate(means)
    return np.concatenate(of), np.where(np.isfinite(joined), joined, 283.0), np.hstack(parts)


def _shifts(females: Sequence[Awaited], rules: ForecastRules) -> tuple[Floats, Floats]:
    """Return each female's days more than her calf's breeds say, and the spread of her gestation."""
    shift, sd = np.zeros(len(females)), np.array([female.sd for female in females])
    for column, female in enumerate(females):
        if any(check.result == "multiple" for check in female.checks):
            shift[column] -= rules.twins_less
            sd[column] += rules.twins_sd_more
        if female.calvings == 0:
            shift[column] -= rules.first_calver_less
        shift[column] += {"M": rules.bull_calf_more, "F": -rules.bull_calf_more}.get(female.calf_sex or "", 0)
    return shift, sd


def _normal(lengths: Ints, mean: Floats, sd: Floats) -> Floats:
    """Return a normal law in whole days, each column adding up to 1."""
    law = np.exp(-0.5 * ((lengths - mean) / sd) ** 2)
    return np.asarray(law / law.sum(axis=0), dtype=np.float64)


# -- what is told ---


def _told(born: Floats, start: Ints, on: date, later: Floats) -> list[Forecast]:
    """Return the answers from the chances of every day, `start` the ordinal of row 0 of each column."""
    calves = born.sum(axis=0)
    passed = np.vstack([np.zeros(len(calves)), np.cumsum(born, axis=0)])
    share = passed / np.where(calves > 0.0, calves, 1.0)
    low, width, mass = _shortest(share)
    first = (share[1:] >= EDGE).argmax(axis=0)
    last = (share[1:] >= 1.0 - EDGE).argmax(axis=0)
    mode = (born / np.where(calves > 0.0, calves, 1.0)).round(9).argmax(axis=0)
    first, last = np.minimum(first, mode), np.maximum(last, mode)
    today = np.clip(on.toordinal() - start, 0, len(born))
    columns = np.arange(len(calves))
    soon = [
        passed[np.clip(on.toordinal() - start + days, 0, len(born)), columns] - passed[today, columns]
        for days in (1, 7, 14)
    ]
    open_ = np.clip(1.0 - calves + later, 0.0, 1.0)
    found = []
    for column in range(len(calves)):
        if calves[column] < _LEAST:
            found.append(Forecast(None, None, None, None, 0.0, 0.0, 0.0, 0.0, float(open_[column])))
            continue
        begin = int(start[column])
        daily = np.flatnonzero(born[:, column] > _LEAST)
        found.append(
            Forecast(
                date.fromordinal(begin + int(first[column])),
                date.fromordinal(begin + int(mode[column])),
                date.fromordinal(begin + int(last[column])),
                (
                    date.fromordinal(begin + int(low[column])),
                    date.fromordinal(begin + int(low[column] + width[column]) - 1),
                ),
                float(mass[column]),
                float(soon[0][column]),
                float(soon[1][column]),
                float(soon[2][column]),
                float(open_[column]),
                date.fromordinal(begin + int(daily[0])),
                born[daily[0] : daily[-1] + 1, column],
            )
        )
    return found


def _shortest(share: Floats) -> tuple[Ints, Ints, Floats]:
    """Return first row, length and mass of the shortest run of rows that holds the share of a band.

    `share` is what lies before each row; of runs equally long the one that holds most.
    """
    rows, columns = share.shape
    least, most = np.ones(columns, dtype=np.int64), np.full(columns, rows - 1, dtype=np.int64)
    at = np.arange(rows - 1)[:, None]

    def held(width: Ints) -> Floats:
        ends = np.minimum(at + width, rows - 1)
        return np.asarray(np.take_along_axis(share, ends, axis=0) - share[:-1], dtype=np.float64)

    while (least < most).any():
        middle = (least + most) // 2
        enough = held(middle).max(axis=0) >= BAND - 1e-12
        most = np.where(enough, middle, most)
        least = np.where(enough, least, middle + 1)
    mass = held(most)
    at_first = mass.round(9).argmax(axis=0)  # of equal ones the first, whatever the last figures are
    return at_first, most, mass[at_first, np.arange(columns)]
