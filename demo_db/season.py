"""This calving season: last year's bulls and checks, the births so far and those still to come.

The days are fixed, not drawn, so that whatever day it is most cows have calved, some are due in the next weeks,
one is past her day and three heifers are close.
"""

from __future__ import annotations

from herdbook.services.commands.happenings import Castrate, Foster, Happened, Remark
from herdbook.services.commands.running import EndRun, JoinRun, TurnIn

from .breeding import Due, check, choose_exposed, serve
from .herd import Beast, Herd

GESTATION = 283
BULL_IN = -325
COWS_OUT, ALL_OUT = -263, -261
HEIFERS_IN = -305
CHECKED = -222
COWS_DUE = (-42, -40, -38, -36, -35, -33, -30, -27, -24, -21, -17, -12, -9, -14, 1, 4, 9, 16)
"""Expected days of the cows served by a bull; `PAST_DUE` is one of them, and it is not a calving yet."""
PAST_DUE = -14
HEIFERS_DUE = (-19, -11, 3, 7, 11, 19)
COWS, HEIFERS = 20, 6


def this_season(herd: Herd) -> None:
    """Tell last year's bull season and what has come of it so far."""
    females = choose_exposed(herd, 0, COWS + HEIFERS, BULL_IN)
    heifers = sorted((b for b in females if not b.calved), key=lambda b: b.born)
    cows = sorted((b for b in females if b.calved), key=lambda b: (b.calved[-1], b.ref))
    herd.cast["open cow"] = next(b for b in reversed(cows) if b is not herd.cast["old cow"])
    dues = _by_straw(herd, cows[:2])
    _run(herd, cows, heifers)
    rest = [b for b in cows[1:] if b is not herd.cast["open cow"]]
    dues += [_due(herd, b, day) for b, day in zip(rest, sorted(COWS_DUE), strict=True)]
    dues += [_due(herd, b, day) for b, day in zip(heifers, HEIFERS_DUE, strict=True)]
    twins = next(d for d in dues if d.conceived + GESTATION == -17)
    twins.sexes = "FM"
    check(herd, CHECKED, dues, [herd.cast["open cow"]])
    _calve(herd, dues)
    _graft(herd)


def _by_straw(herd: Herd, cows: list[Beast]) -> list[Due]:
    """Serve the first two cows by AI before the bull; the first holds, the second comes back to the bull."""
    on = BULL_IN - 14
    held, _ = (serve(herd, cow, on, holds=cow is cows[0]) for cow in cows)
    return [held]


def _run(herd: Herd, cows: list[Beast], heifers: list[Beast]) -> None:
    """Run the cows with the two bulls, the heifers joining the second three weeks later."""
    main, own = herd.cast["main bull"], herd.cast["own bull"]
    must = [b for b in cows if b.sire is main]
    apart = [b for b in cows if b.sire is own or b is own.dam or (b.sire is not None and b.sire is own.sire)]
    his = must + [b for b in reversed(cows) if b not in must and b not in apart][: max(0, 8 - len(must))]
    herd.cast_of_own = his + heifers
    for name, bull, group, out in (
        ("Main group", main, [b for b in cows if b not in his], COWS_OUT),
        ("Small group", own, his, ALL_OUT),
    ):
        refs = tuple(b.ref for b in group)
        (run,) = herd.do(BULL_IN, TurnIn((bull.ref,), refs, herd.day(BULL_IN), name=name), 1)
        if bull is own:
            joined = tuple(b.ref for b in heifers)
            herd.do(HEIFERS_IN, JoinRun(run, joined, herd.day(HEIFERS_IN)))
        herd.do(out, EndRun(run, herd.day(out)))


def _due(herd: Herd, cow: Beast, expected: int) -> Due:
    bull = herd.cast["own bull" if cow in herd.cast_of_own else "main bull"]
    born = (
        expected if expected > 0 or expected == PAST_DUE else min(-1, expected + herd.chance.randrange(-3, 4))
    )
    return Due(cow, expected - GESTATION, bull, born)


def _calve(herd: Herd, dues: list[Due]) -> None:
    """Write the births that have been; castrate the bull calves but the first, whose turn has come, and the last."""
    waiting = {d.dam.ref for d in dues if d.born > 0 or d.conceived + GESTATION == PAST_DUE}
    born = sorted((d for d in dues if d.dam.ref not in waiting), key=lambda d: (d.born, d.dam.ref))
    herd.cast["past due"] = next(d.dam for d in dues if d.conceived + GESTATION == PAST_DUE)
    herd.crops[0] = []
    for number, due in enumerate(born):
        lost = due.conceived + GESTATION == -21
        sexes = due.sexes if len(due.sexes) > 1 else "M" if lost or number % 2 == 0 else "F"
        first = not due.dam.calved
        calves = herd.birth(
            due.dam,
            due.born,
            due.sire,
            sexes,
            named=not lost,
            fate="stillborn" if lost else "alive",
            ease=5 if lost else 2 if first or len(sexes) > 1 else 1,
        )
        herd.crops[0] += calves
        if lost:
            herd.cast["lost her calf"] = due.dam
        if len(calves) > 1:
            herd.cast["twin bull calf"] = calves[1]
        for calf in calves:
            if calf.sex == "M" and not lost and number > 0 and calf.born < -6:
                on = calf.born + 3
                herd.do(on, Castrate(calf.ref, herd.day(on), "ring"))
                calf.steer = True


def _graft(herd: Herd) -> None:
    """Put the twin bull calf to the cow that lost hers."""
    calf, cow = herd.cast["twin bull calf"], herd.cast["lost her calf"]
    on = max(calf.born, cow.calved[-1]) + 1
    work: tuple[Happened, ...] = (
        Foster(calf.ref, herd.day(on), cow.ref),
        Remark(cow.ref, herd.day(on), note="took the twin after a night in the pen together"),
    )
    for each in work:
        herd.do(on, each)
