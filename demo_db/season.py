"""This calving season: last year's bulls and checks, the births so far and those still to come.

The days are fixed, not drawn, so that whatever day it is most cows have calved, some are due in the next
weeks, one is past her day and heifers are close.
"""

from __future__ import annotations

from herdbook.services.commands.happenings import Castrate, Foster, Happened, Remark
from herdbook.services.commands.running import EndRun, JoinRun, TurnIn

from .breeding import Due, check, choose_exposed, serve
from .herd import Beast, Herd

GESTATION = 283
BULL_IN = -323
SERVED = BULL_IN - 2
JOINED = SERVED + 14
"""The cows served by AI wait a fortnight before they join the bull: then the dates tell the sires apart."""
BULLS_OUT = BULL_IN + 62
HEIFERS_IN = BULL_IN + 18
CHECKED = -222
COWS_DUE = (-40, -39, -38, -36, -35, -33, -30, -27, -24, -21, -17, -14, -12, -9, 1, 3, 9, 16)
"""Expected days of the cows served by a bull."""
PAST_DUE, LOST, TWINS, RETURNED = -14, -21, -17, -24
"""Those of the cow past her day, the calf lost, the twins, the cow that did not hold to AI."""
HEIFERS_DUE = (-18, -10, 1, 3, 5, 9)
COWS, HEIFERS = 20, 6


def this_season(herd: Herd) -> None:
    """Tell last year's bull season and what has come of it so far."""
    females = choose_exposed(herd, 0, COWS + HEIFERS, BULL_IN)
    heifers = sorted((b for b in females if not b.calved), key=lambda b: b.born)
    cows = sorted((b for b in females if b.calved), key=lambda b: (b.calved[-1], b.ref))
    herd.cast["open cow"] = next(b for b in reversed(cows) if b is not herd.cast["old cow"])
    straw = [b for b in cows if b.sire is not herd.cast["main bull"]][:2]
    cows = straw + [b for b in cows if b not in straw]
    dues = _by_straw(herd, straw)
    _run(herd, cows, heifers)
    dues.append(_due(herd, cows[1], RETURNED))
    rest = [b for b in cows[2:] if b is not herd.cast["open cow"]]
    days = sorted(set(COWS_DUE) - {RETURNED})
    dues += [_due(herd, b, day) for b, day in zip(rest, days, strict=True)]
    dues += [_due(herd, b, day) for b, day in zip(heifers, HEIFERS_DUE, strict=True)]
    twins = next(d for d in dues if d.conceived + GESTATION == TWINS)
    twins.sexes = "FM"
    check(herd, CHECKED, dues, [herd.cast["open cow"]])
    _calve(herd, dues)
    _graft(herd)


def _by_straw(herd: Herd, cows: list[Beast]) -> list[Due]:
    """Serve the first two cows by AI before the bull; the first holds, the second comes back to the bull."""
    held, _ = (serve(herd, cow, SERVED, holds=cow is cows[0]) for cow in cows)
    return [held]


def _run(herd: Herd, cows: list[Beast], heifers: list[Beast]) -> None:
    """Run the cows with the two bulls, the heifers joining the second three weeks later."""
    main, own = herd.cast["main bull"], herd.cast["own bull"]
    must = [b for b in cows[2:] if b.sire is main]
    apart = [b for b in cows if b.sire is own or b is own.dam or (b.sire is not None and b.sire is own.sire)]
    his = must + [b for b in reversed(cows[2:]) if b not in must and b not in apart][: max(0, 8 - len(must))]
    his_own = [b for b in heifers if b.sire is own]
    herd.with_own_bull = his + [b for b in heifers if b not in his_own]
    for name, bull, group, late, joined in (
        ("Main group", main, [b for b in cows[2:] if b not in his] + his_own, cows[:2], JOINED),
        ("Small group", own, his, [b for b in heifers if b not in his_own], HEIFERS_IN),
    ):
        refs = tuple(b.ref for b in group)
        (run,) = herd.do(BULL_IN, TurnIn((bull.ref,), refs, herd.day(BULL_IN), name=name), 1)
        herd.do(joined, JoinRun(run, tuple(b.ref for b in late), herd.day(joined)))
        herd.do(BULLS_OUT, EndRun(run, herd.day(BULLS_OUT)))


def _due(herd: Herd, cow: Beast, expected: int) -> Due:
    bull = herd.cast["own bull" if cow in herd.with_own_bull else "main bull"]
    born = (
        expected if expected > 0 or expected == PAST_DUE else min(-1, expected + herd.chance.randrange(-3, 4))
    )
    return Due(cow, expected - GESTATION, bull, born)


def _calve(herd: Herd, dues: list[Due]) -> None:
    """Write the births that have been; castrate the bull calves but the eldest and the youngest."""
    waiting = {d.dam.ref for d in dues if d.born > 0 or d.conceived + GESTATION == PAST_DUE}
    born = sorted((d for d in dues if d.dam.ref not in waiting), key=lambda d: (d.born, d.dam.ref))
    herd.cast["past due"] = next(d.dam for d in dues if d.conceived + GESTATION == PAST_DUE)
    herd.cast["next heifer"] = min(
        (d for d in dues if not d.dam.calved and d.born > 0), key=lambda d: d.born
    ).dam
    herd.crops[0] = []
    for number, due in enumerate(born):
        lost = due.conceived + GESTATION == LOST
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
