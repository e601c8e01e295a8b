"""The herd's own gestations: how far this herd, a sire and a cow differ from the days that breeds say.

Every calving from one dated service tells how many days it took more or less than its breeds' mean. A herd, a
sire and a cow each differ by an amount that is normal about nothing, and a gestation by chance about that;
the amounts are then the means of what was seen, drawn towards nothing as if so many more calvings had shown
none (normal-normal shrinkage, as in any text on Bayesian statistics; the joint answer is that of the mixed
model, Henderson 1975, Biometrics 31:423, from memory).

The strength of 10 calvings for each is a setting. It agrees with heritabilities of 0.25-0.50 (J. Dairy Sci.
1965, review): a sire's share of the spread is a quarter of that, 0.06-0.13, which is 7 to 15 calvings.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field

from herdbook.husbandry.duedates import GESTATION_SD
from herdbook.husbandry.reasons import Reason

WORTH = 10.0
"""Calvings that the breeds' figure is worth against what the herd shows."""
FEWEST, MOST = 255, 305
"""Days outside which a dated service is taken not to have led to the calving: an open data set of 24,732."""
_ROUNDS = 200
_SETTLED = 1e-9


@dataclass(frozen=True, slots=True)
class Gestation:
    """A calving from one dated service: days from conception, days that were to be expected, and whose."""

    days: int
    expected: float
    sire: Hashable = None
    cow: Hashable = None


@dataclass(frozen=True)
class HerdGestation:
    """What a herd's gestations show, in days more (or less) than its breeds' mean.

    Parameters
    ----------
    count : int
        Dated calvings.
    herd : float
        Days more for all.
    sires, cows : mapping
        Days more for each of them, beside the herd's.
    sd : float
        Standard deviation to expect of the next gestation.
    """

    count: int = 0
    herd: float = 0.0
    sires: Mapping[Hashable, float] = field(default_factory=dict)
    cows: Mapping[Hashable, float] = field(default_factory=dict)
    sd: float = GESTATION_SD

    def mean(self, days: float, sire: Hashable = None, cow: Hashable = None) -> float:
        """Return the gestation to expect where breeds say `days`."""
        return days + self.herd + self.sires.get(sire, 0.0) + self.cows.get(cow, 0.0)

    def words(self, days: float, own: float | None = None) -> Reason | None:
        """Return in a sentence what the herd's calvings made of the days; None where there are none.

        `own` is what they made of it, where a sire or a cow counts too.
        """
        if not self.count:
            return None
        own = self.mean(days) if own is None else own
        values = {"days": f"{days:g}", "own": f"{own:.1f}", "n": self.count}
        if self.count == 1:
            return Reason("own_gestation", "{days} by default, {own} from your one dated calving.", values)
        return Reason("own_gestation", "{days} by default, {own} from your {n} dated calvings.", values)


def herd_gestation(
    seen: Iterable[Gestation], worth: float = WORTH, sd: float = GESTATION_SD
) -> HerdGestation:
    """Return what the gestations of a herd show.

    Parameters
    ----------
    seen : iterable of Gestation
        Single calves from one dated service; those of impossible length are left out.
    worth : float
        Calvings that "no difference" is worth, for the herd, a sire and a cow each. More than 0.
    sd : float
        Standard deviation of gestation in a herd that nothing is known of; part of it is what herds differ.

    Raises
    ------
    ValueError
        If `worth` or `sd` is not above 0.
    """
    if worth <= 0 or sd <= 0:
        raise ValueError("What the default is worth and the spread of gestation must be above 0.")
    rows = [one for one in seen if FEWEST <= one.days <= MOST]
    off = [one.days - one.expected for one in rows]
    herd, sires, cows = 0.0, dict[Hashable, float](), dict[Hashable, float]()
    for _ in range(_ROUNDS):
        before = herd
        left = [d - sires.get(r.sire, 0.0) - cows.get(r.cow, 0.0) for d, r in zip(off, rows, strict=True)]
        herd = math.fsum(left) / (len(rows) + worth)
        left = [d - herd - cows.get(r.cow, 0.0) for d, r in zip(off, rows, strict=True)]
        sires, moved_sires = _drawn([r.sire for r in rows], left, worth, sires)
        left = [d - herd - sires.get(r.sire, 0.0) for d, r in zip(off, rows, strict=True)]
        cows, moved_cows = _drawn([r.cow for r in rows], left, worth, cows)
        if max(abs(herd - before), moved_sires, moved_cows) < _SETTLED:
            break
    within = sd / math.sqrt(1.0 + 1.0 / worth)
    return HerdGestation(len(rows), herd, sires, cows, within * math.sqrt(1.0 + 1.0 / (worth + len(rows))))


def _drawn(
    who: list[Hashable], left: list[float], worth: float, before: Mapping[Hashable, float]
) -> tuple[dict[Hashable, float], float]:
    """Return each one's mean, drawn towards nothing, and the furthest that any of them moved."""
    sums: dict[Hashable, list[float]] = defaultdict(list)
    for key, value in zip(who, left, strict=True):
        if key is not None:
            sums[key].append(value)
    found = {key: math.fsum(values) / (len(values) + worth) for key, values in sums.items()}
    return found, max((abs(value - before.get(key, 0.0)) for key, value in found.items()), default=0.0)
