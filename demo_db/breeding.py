"""The bull seasons: who ran with whom, who was served, who held and what the check said."""

from __future__ import annotations

from dataclasses import dataclass

from herdbook.services.commands.happenings import (
    Arrive,
    CheckPregnancy,
    FallIll,
    Happened,
    KeepApart,
    Lose,
    RecordRound,
    Serve,
)
from herdbook.services.commands.running import EndRun, JoinRun, LeaveRun, TurnIn

from .herd import BULL_IN_AFTER, Beast, Herd, years_ago

EXPOSED = {7: 17, 6: 17, 5: 18, 4: 20, 3: 21, 2: 24, 1: 25}
"""Females put to the bull for each crop."""
HEIFERS_KEPT = {7: 4, 6: 4, 5: 5, 4: 5, 3: 5, 2: 6, 1: 5}
STEERS_KEPT = {7: 3, 6: 3, 5: 3, 4: 3, 3: 3, 2: 6, 1: 5}
EARLY_OR_LATE = {7: 0, 6: 4, 5: -3, 4: 6, 3: 2, 2: -4, 1: -9}
"""Days by which the bull went in off the usual date."""
RUN_DAYS = 63
CHANGE_OVER = (17, 20)
"""Crop 1: days after bull-in on which the first bull came out and the second went in."""


@dataclass
class Turn:
    """Who ran with whom: the bulls with their first and last days, and the females."""

    bulls: list[tuple[Beast, int, int]]
    females: list[Beast]


def bull_in(crop: int) -> int:
    """Return the day on which the bulls went in for a crop."""
    return years_ago(crop + 1) + BULL_IN_AFTER + EARLY_OR_LATE.get(crop, 0)


def choose_exposed(herd: Herd, crop: int, wanted: int, on: int) -> list[Beast]:
    """Choose the cows and the heifers of the crop two years before; older cows are left out by chance."""
    heifers = [b for b in herd.crops.get(crop + 2, []) if b.kept and b.sex == "F" and b.here(on)]
    cows = [b for b in herd.beasts if b.sex == "F" and b.here(on) and (b.calved or b.came is not None)]
    keep_first = sorted(cows, key=lambda b: _age_felt(herd, b, on))
    chosen = keep_first[: wanted - len(heifers)]
    herd.into(on - 1, "breeding", heifers)
    for cow in keep_first[wanted - len(heifers) :]:
        gone = min(on + 160, -30)
        herd.leave(cow, gone, "sold", reason="age" if on - cow.born > 8 * 365 else "late and poor calf")
    return sorted(chosen + heifers, key=lambda b: b.ref)


def _age_felt(herd: Herd, cow: Beast, on: int) -> float:
    """Return by what the next to go is chosen: her age with some chance; the own bull's nearest go first."""
    own = herd.cast.get("own bull")
    if own is not None and on - own.born > 1000 and (cow is own.dam or cow.dam is own.dam):
        return 99.0
    if cow is herd.cast["old cow"]:
        return -1.0
    return (on - cow.born) / 365 + herd.chance.gauss(0, 2.5)


def decide_turns(herd: Herd, crop: int) -> list[Turn]:
    """Decide who runs with whom for a crop, and bring in the bulls that it needs."""
    first, last = bull_in(crop), bull_in(crop) + RUN_DAYS - 1
    if crop == 6:
        bought = [herd.found(first - 700 - 8 * i, first - 20, precision="day") for i in range(2)]
        _bought_in(herd, bought, first - 20)
    females = choose_exposed(herd, crop, EXPOSED[crop], first)
    if crop >= 6:
        return [Turn([(herd.cast["first bull"], first, last)], females)]
    if crop >= 4:
        return _with_hired(herd, crop, females, (first, last))
    if crop == 3:
        herd.cast["main bull"] = herd.buy_bull(first - 800, first - 30)
        return [Turn([(herd.cast["main bull"], first, last)], females)]
    main, own = herd.cast["main bull"], herd.cast["own bull"]
    if crop == 2:
        his = _unrelated(females, own, 9)
        rest = [b for b in females if b not in his]
        return [Turn([(main, first, last)], rest), Turn([(own, first, last)], his)]
    out, then = first + CHANGE_OVER[0], first + CHANGE_OVER[1]
    must = [b for b in females if b.sire is main]
    his = must + _unrelated([b for b in females if b not in must], own, 10 - len(must))
    rest = [b for b in females if b not in his]
    herd.do(
        out, FallIll(main.ref, herd.day(out), "lame in the near hind", "sound again after six weeks' rest")
    )
    return [
        Turn([(own, first, last + 4)], his),
        Turn([(main, first, out), (own, then, last + 4)], rest),
    ]


def _with_hired(herd: Herd, crop: int, females: list[Beast], days: tuple[int, int]) -> list[Turn]:
    """Hire a bull: for the first bull's daughters alone at first, the year after for all."""
    first, last = days
    old = herd.cast["first bull"]
    if crop == 4:
        herd.leave(old, first - 25, "sold", reason="too many of his daughters are to be bred")
    hired = herd.buy_bull(first - 4 * 365, first - 1, how="hired")
    herd.leave(hired, last + 1, "other", reason="hire ended")
    apart = [b for b in females if crop == 4 or b.sire is old]
    rest = [b for b in females if b not in apart]
    return [Turn([(old, first, last)], rest)] * bool(rest) + [Turn([(hired, first, last)], apart)]


def _unrelated(females: list[Beast], bull: Beast, most: int) -> list[Beast]:
    """Return the first females that share no parent with a bull and are neither his dam nor his daughters."""
    return [
        b
        for b in females
        if b is not bull.dam
        and b.sire is not bull
        and (b.sire is None or b.sire is not bull.sire)
        and (b.dam is None or b.dam is not bull.dam)
    ][:most]


def _bought_in(herd: Herd, beasts: list[Beast], on: int) -> None:
    for beast in beasts:
        herd.do(on, Arrive(beast.ref, herd.day(on), "bought", "a hill farm sale"))
        herd.do(on, KeepApart(beast.ref, herd.day(on), herd.day(on + 18)))
    herd.into(on + 18, "breeding", beasts)


def record_turn(herd: Herd, turn: Turn, name: str) -> None:
    """Write a bull run as it went: bulls in, a change of bulls, bulls out."""
    (bull, first, last), *later = turn.bulls
    refs = tuple(b.ref for b in turn.females)
    (run,) = herd.do(first, TurnIn((bull.ref,), refs, herd.day(first), name=name), 1)
    for other, from_day, to_day in later:
        herd.do(last, LeaveRun(run, (bull.ref,), herd.day(last)))
        herd.do(from_day, JoinRun(run, (other.ref,), herd.day(from_day)))
        last = to_day
    herd.do(last, EndRun(run, herd.day(last)))


def _conceive(herd: Herd, turn: Turn, cow: Beast) -> tuple[int, Beast] | None:
    """Draw when she conceived, and to whom: heats every three weeks, 62 % hold; None where she did not."""
    start, end = turn.bulls[0][1], turn.bulls[-1][2]
    day = max(start, cow.ready()) + herd.chance.randrange(21)
    while day <= end:
        bull = next((bull for bull, first, last in turn.bulls if first <= day <= last), None)
        if bull is not None and (herd.chance.random() < 0.62 or cow is herd.cast["old cow"]):
            return day, bull
        day += 21
    return None


@dataclass
class Due:
    """A pregnancy of the story: who, conceived when, to whom, born when."""

    dam: Beast
    conceived: int
    sire: Beast | None
    born: int
    sexes: str = ""


def breed(herd: Herd, crop: int, turns: list[Turn]) -> list[Due]:
    """Run the bull season of a crop with its check; return what is to be born."""
    dues: list[Due] = []
    opens: list[Beast] = []
    if crop == 2:
        dues.append(_by_straw(herd, crop, turns))
    for number, turn in enumerate(turns, start=1):
        record_turn(herd, turn, f"Group {number}" if len(turns) > 1 else "All cows")
        for cow in turn.females:
            if any(due.dam is cow for due in dues):
                continue
            held = _conceive(herd, turn, cow)
            if held is None and len(opens) >= 2:
                last_bull, _, end = turn.bulls[-1]
                held = (end, last_bull) if cow.ready(40) <= end else None
            if held is None:
                opens.append(cow)
            else:
                gestation = round(min(292, max(273, herd.chance.gauss(282.5, 4))))
                dues.append(Due(cow, held[0], held[1], held[0] + gestation))
    check(herd, bull_in(crop) + RUN_DAYS + 43, dues, opens)
    for cow in opens:
        herd.leave(cow, bull_in(crop) + RUN_DAYS + 98, "sold", reason="not in calf")
    return _lose_one(herd, crop, dues)


def _by_straw(herd: Herd, crop: int, turns: list[Turn]) -> Due:
    """Serve the earliest calver of a crop by AI, a fortnight before the bull."""
    cow = min(turns[0].females, key=lambda b: (not b.calved, b.ready()))
    herd.cast["straw bull"] = herd.ancestor("hills", "M")
    return serve(herd, cow, bull_in(crop) - 14, holds=True)


def serve(herd: Herd, cow: Beast, on: int, *, holds: bool) -> Due:
    """Serve a cow by AI."""
    sire = herd.cast["straw bull"]
    batch = f"S{on % 97:02d}"
    herd.do(on, Serve(cow.ref, herd.day(on), sire.ref, "ai", straw_batch=batch, kept="frozen"))
    return Due(cow, on, sire if holds else None, on + 282)


def check(herd: Herd, on: int, dues: list[Due], opens: list[Beast]) -> None:
    """Write one day's pregnancy checks by scan, the days in calf a few off the truth."""
    found: list[Happened] = [
        CheckPregnancy(
            due.dam.ref,
            herd.day(on),
            "multiple" if len(due.sexes) > 1 else "pregnant",
            on - due.conceived + herd.chance.randrange(-3, 4),
            "scan",
        )
        for due in dues
    ]
    found += [CheckPregnancy(cow.ref, herd.day(on), "open", method="scan") for cow in opens]
    herd.do(on, RecordRound(herd.day(on), "pregnancy check", tuple(found)))


def _lose_one(herd: Herd, crop: int, dues: list[Due]) -> list[Due]:
    """Let one pregnancy of crop 3 end early."""
    if crop != 3:
        return dues
    unlucky = next(due for due in dues if due.dam.calved and due.dam is not herd.cast["old cow"])
    lost = unlucky.conceived + 170
    herd.do(lost, Lose(unlucky.dam.ref, herd.day(lost), note="found in the morning; the vet took samples"))
    return [due for due in dues if due is not unlucky]
