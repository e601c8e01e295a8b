"""Cows played through their heats one by one: what a keeper would have written down, and the true calving.

Written apart from the forecast: each cow draws her own heats, conception, checks and gestation with dice. The
laws are those that the forecast's sources tell, or laws a little off them.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from herdbook.husbandry.conceiving import Awaited, Bred, Company, Stretch
from herdbook.husbandry.gestation import Check

BULL_IN = date(2026, 6, 1)
BULL_OUT = date(2026, 8, 2)


@dataclass(frozen=True)
class Laws:
    """What is true of the cows that are played."""

    settles: float = 0.65
    cycling: float = 0.95
    embryo: float = 0.55
    mean: float = 283.0
    sd: float = 6.0
    lost: float = 0.02
    heat_in_calf: float = 0.05
    found: float = 0.99
    false: float = 0.01


@dataclass(frozen=True)
class Played:
    """A cow: what is on record, and the day she truly calves, None where she never does."""

    record: Awaited
    calves: date | None


Kind = Callable[[random.Random, Laws], "tuple[Awaited, date | None, float, float] | None"]
"""Returns the record, the day of conception, how much longer and wider her gestation is; None: not of it."""


def play(kind: Kind, cows: int, laws: Laws, seed: int) -> Iterator[Played]:
    """Yield so many cows with a kind of evidence."""
    dice = random.Random(seed)
    while cows:
        told = kind(dice, laws)
        if told is None:
            continue
        record, conceived, longer, wider = told
        cows -= 1
        if conceived is None or dice.random() < laws.lost:
            yield Played(record, None)
            continue
        length = round(dice.gauss(laws.mean + longer, laws.sd + wider))
        yield Played(record, conceived + timedelta(days=length))


def _return(dice: random.Random) -> timedelta:
    """Draw a cycle of 18 to 24 days, likeliest 21: what three throws and three throws fewer come to."""
    return timedelta(days=21 + dice.randint(0, 3) - dice.randint(0, 3))


def _with_bull(
    dice: random.Random, laws: Laws, first: date, last: date, calved: date | None = None, rest=(20, 60),
) -> tuple[date | None, list[date]]:  # fmt: skip
    """Return when she conceives in a run, and every heat up to then."""
    heat = None if calved is None else calved + timedelta(days=dice.randint(*rest))
    if heat is None or heat < first:
        heat = first + timedelta(days=dice.randrange(21) + (21 if dice.random() >= laws.cycling else 0))
    heats = []
    while heat <= last:
        heats.append(heat)
        if dice.random() < laws.settles:
            return heat, heats
        heat += _return(dice)
    return None, heats


def _looked(dice: random.Random, laws: Laws, conceived: date | None, day: date, low: int, high: int) -> bool:
    """Return whether a check finds a calf; the chance rises evenly from day `low` to day `high`."""
    age = -1 if conceived is None else (day - conceived).days
    surely = min(max((age - low + 1) / (high - low + 1), 0.0), 1.0) * laws.found
    return dice.random() < max(surely, laws.false)


def one_service(dice: random.Random, laws: Laws):
    """An insemination, and nothing else."""
    held = dice.random() < laws.settles
    return Awaited(services=(Bred(BULL_IN),)), BULL_IN if held else None, 0.0, 0.0


def heifer_served(dice: random.Random, laws: Laws):
    """A heifer served once; she carries two days less."""
    held = dice.random() < laws.settles
    return Awaited(services=(Bred(BULL_IN),), calvings=0), BULL_IN if held else None, -2.0, 0.0


def embryo(dice: random.Random, laws: Laws):
    """An embryo seven days old."""
    held = dice.random() < laws.embryo
    record = Awaited(services=(Bred(BULL_IN - timedelta(days=7), embryo=True),))
    return record, BULL_IN - timedelta(days=7) if held else None, 0.0, 0.0


def bull_run(dice: random.Random, laws: Laws):
    """63 days with a bull, long after calving."""
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT)
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),)), conceived, 0.0, 0.0


def after_calving(dice: random.Random, laws: Laws):
    """63 days with a bull, calved in the weeks before or among them."""
    calved = BULL_IN - timedelta(days=dice.randint(-10, 70))
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT, calved)
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), calved=calved), conceived, 0.0, 0.0


def after_first_calf(dice: random.Random, laws: Laws):
    """The same after a first calf, when the first heat is later."""
    calved = BULL_IN - timedelta(days=dice.randint(0, 100))
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT, calved, (50, 100))
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), calved=calved, calvings=1), conceived, 0.0, 0.0


def came_back(dice: random.Random, laws: Laws):
    """Served, seen in heat again and served again; a few that hold show that heat all the same."""
    again = BULL_IN + _return(dice)
    held = dice.random() < laws.settles
    if held and dice.random() >= laws.heat_in_calf:
        return None
    conceived = BULL_IN if held else again if dice.random() < laws.settles else None
    return Awaited(services=(Bred(BULL_IN), Bred(again))), conceived, 0.0, 0.0


def service_then_bull(dice: random.Random, laws: Laws):
    """Inseminated, and a bull from 14 days later."""
    bull = Company(BULL_IN + timedelta(days=14), BULL_OUT)
    conceived = BULL_IN
    while dice.random() >= laws.settles:
        conceived += _return(dice)
        if conceived > bull.last:
            return Awaited(services=(Bred(BULL_IN),), runs=(bull,)), None, 0.0, 0.0
    return Awaited(services=(Bred(BULL_IN),), runs=(bull,)), conceived, 0.0, 0.0


def two_bulls(dice: random.Random, laws: Laws):
    """Two bulls of different breeds one after the other, a few days between them."""
    one, two = Company(BULL_IN, date(2026, 7, 5), 281), Company(date(2026, 7, 9), date(2026, 8, 9), 289)
    heat = BULL_IN + timedelta(days=dice.randrange(21) + (21 if dice.random() >= laws.cycling else 0))
    while heat <= two.last:
        for run in (one, two):
            if run.first <= heat <= run.last and dice.random() < laws.settles:
                return Awaited(runs=(one, two)), heat, run.mean - 283.0, 0.0
        heat += _return(dice)
    return Awaited(runs=(one, two)), None, 0.0, 0.0


def heat_seen(dice: random.Random, laws: Laws):
    """In a run, watched for a week in its fifth: a heat was seen."""
    conceived, heats = _with_bull(dice, laws, BULL_IN, BULL_OUT)
    if conceived is not None:
        shown = conceived
        while (shown := shown + _return(dice)) <= BULL_OUT:
            if dice.random() < laws.heat_in_calf:
                heats.append(shown)
    elif heats:
        heats.append(heats[-1] + _return(dice))
    watched = [heat for heat in heats if 28 <= (heat - BULL_IN).days < 35]
    if not watched:
        return None
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), heats=(watched[0],)), conceived, 0.0, 0.0


def found_by_scan(dice: random.Random, laws: Laws):
    """A run, and found in calf by a scan that told no days."""
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT)
    day = BULL_IN + timedelta(days=dice.randint(50, 100))
    if not _looked(dice, laws, conceived, day, 25, 30):
        return None
    check = Check(day, "pregnant", method="scan")
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), checks=(check,)), conceived, 0.0, 0.0


def dated_by_hand(dice: random.Random, laws: Laws):
    """A run, and so many days in calf by hand, with an error that grows with the stage."""
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT)
    day = BULL_IN + timedelta(days=dice.randint(80, 200))
    if not _looked(dice, laws, conceived, day, 35, 45):
        return None
    if conceived is None:
        days = dice.randint(0, 300)
    else:
        age = (day - conceived).days
        days = max(round(dice.gauss(age, (7 if age <= 99 else 14 if age <= 120 else 21) / 2)), 0)
    check = Check(day, "pregnant", days, method="hand")
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), checks=(check,)), conceived, 0.0, 0.0


def found_open_early(dice: random.Random, laws: Laws):
    """A run, and called open by a scan in the middle of it."""
    conceived, _ = _with_bull(dice, laws, BULL_IN, BULL_OUT)
    day = BULL_IN + timedelta(days=45)
    if _looked(dice, laws, conceived, day, 25, 30):
        return None
    check = Check(day, "open", method="scan")
    return Awaited(runs=(Company(BULL_IN, BULL_OUT),), checks=(check,)), conceived, 0.0, 0.0


def twins(dice: random.Random, laws: Laws):
    """More than one calf found by a scan after a service."""
    conceived = BULL_IN if dice.random() < laws.settles else None
    check = Check(BULL_IN + timedelta(days=60), "multiple", method="scan")
    if not _looked(dice, laws, conceived, check.day, 25, 30):
        return None
    return Awaited(services=(Bred(BULL_IN),), checks=(check,)), conceived, -7.0, 1.0


def bull_calf(dice: random.Random, laws: Laws):
    """A scan told that it is a bull calf."""
    conceived = BULL_IN if dice.random() < laws.settles else None
    check = Check(BULL_IN + timedelta(days=65), "pregnant", method="scan")
    if not _looked(dice, laws, conceived, check.day, 25, 30):
        return None
    return Awaited(services=(Bred(BULL_IN),), checks=(check,), calf_sex="M"), conceived, 0.75, 0.0


def sold_as_in_calf(dice: random.Random, laws: Laws):
    """Nothing but a seller's word: due in a month, nine times in ten true, give or take a few days."""
    said = Stretch(date(2026, 6, 1), date(2026, 6, 30), 0.9, soft=5.0)
    conceived = said.first + timedelta(days=round(dice.uniform(-0.5, 29.5) + dice.gauss(0, 5)))
    return Awaited(stretches=(said,)), conceived if dice.random() < 0.9 else None, 0.0, 0.0


KINDS: tuple[Kind, ...] = (
    one_service, heifer_served, embryo, bull_run, after_calving, after_first_calf, came_back,
    service_then_bull, two_bulls, heat_seen, found_by_scan, dated_by_hand, found_open_early, twins, bull_calf,
    sold_as_in_calf,
)  # fmt: skip

TRUE = Laws()
EARLIER = replace(TRUE, mean=280.0)
FEWER = replace(TRUE, settles=0.55, embryo=0.45)
