"""The farm's first seven crops of calves, from the founders to the weaning before this season.

Years are counted back: the crop of calves 7 is the oldest, crop 0 is this season's (told in `season`).
"""

from __future__ import annotations

from typing import Any

from herdbook.services.commands.animals import GiveTag, NameParent, NewGroup
from herdbook.services.commands.diary import BookAnimal, BookDay, ChangeSetting
from herdbook.services.commands.happenings import (
    Arrive,
    Castrate,
    CheckPregnancy,
    ExamineBull,
    GiveScore,
    Happened,
    RecordRound,
    Treat,
    Wean,
)

from .breeding import CHANGE_OVER, EXPOSED, HEIFERS_KEPT, STEERS_KEPT, Due, breed, bull_in, decide_turns
from .herd import WEAN_AT, Beast, Herd, years_ago


def past_years(herd: Herd) -> None:
    """Tell everything up to the weaning of the last calves before this season's."""
    _begin(herd)
    for crop in range(7, 0, -1):
        turns = decide_turns(herd, crop)
        _calve(herd, crop, breed(herd, crop, turns))
        _castrate(herd, crop)
        _wean(herd, crop)
        _finish(herd, crop)
    _weigh_every_two_months(herd)


def _begin(herd: Herd) -> None:
    """Begin the book: settings, groups, the founders and the first bull."""
    start = years_ago(8)
    usual = herd.day(28)
    for key, value in (
        ("herd_name", "Hollowgale"),
        ("tag_style", "12/24"),
        ("usual_bull_in", f"{usual:%m}-{min(usual.day, 28):02d}"),
        ("mature_kg", 520.0),
        ("castrate_by_days", 45),
        ("book_began", herd.day(start)),
    ):
        herd.do(start, ChangeSetting(key, value))
    for purpose, name in (
        ("breeding", "Cows"),
        ("young", "Young stock"),
        ("finishing", "Finishing"),
        ("bulls", "Bulls"),
    ):
        (herd.groups[purpose],) = herd.do(start, NewGroup(name, purpose), 1)
    old_sire, old_dam = herd.ancestor("hills", "M"), herd.ancestor("rivers", "F")
    founders = []
    for number in range(EXPOSED[7]):
        years = 5.4 if number == 0 else herd.chance.uniform(2.6, 7)
        parents: dict[str, Any] = {"sire": old_sire} if 1 <= number <= 3 else {}
        if number == 4:
            parents = {"dam": old_dam}
        founders.append(herd.found(start - round(365 * years), start, **parents))
    herd.cast["old cow"] = founders[0]
    herd.into(start, "breeding", founders)
    herd.cast["first bull"] = herd.buy_bull(start - 3 * 365, start + 8)


def _calve(herd: Herd, crop: int, dues: list[Due]) -> None:
    """Write the births of a crop, the sexes and the calves to be kept being decided beforehand."""
    if crop == 3:
        dues = dues + _bought_in_calf(herd)
    dues = sorted(dues, key=lambda due: (due.born, due.dam.ref))
    sexes = ["F", "M"] * (len(dues) // 2 + 1)
    herd.chance.shuffle(sexes)
    straw, own = herd.cast.get("straw bull"), herd.cast.get("own bull")
    for due, sex in zip(dues, sexes, strict=False):
        due.sexes = "F" if straw is not None and due.sire is straw else sex
    if crop == 1:
        next(due for due in dues[4:] if due.dam.calved).sexes = "FM"
    dead = dues[-3] if crop in (5, 2) else None
    alive = [due for due in dues if due is not dead]
    females = [due for due in alive if due.sexes == "F"]
    if crop == 2:
        females.sort(key=lambda due: due.sire is own)
    stay = females[: HEIFERS_KEPT[crop]]
    males = [due for due in alive if due.sexes == "M"]
    bull = (
        next((due for due in males if due.dam.came is not None and not due.dam.sire), None)
        if crop == 5
        else None
    )
    stay += [due for due in males if due is not bull][: STEERS_KEPT[crop]]
    herd.crops[crop] = []
    for due in dues:
        hard = not due.dam.calved and herd.chance.random() < 0.4
        calves = herd.birth(
            due.dam,
            due.born,
            due.sire,
            due.sexes,
            named=due is not dead and (crop == 1 or due in stay or due is bull),
            fate="stillborn" if due is dead else "alive",
            ease=3 if due is dead else 2 if hard or len(due.sexes) > 1 else 1,
            bull=due is bull,
        )
        for calf in calves:
            calf.kept = due in stay or due is bull or calf.freemartin
        herd.crops[crop] += calves
        if due is bull:
            herd.cast["own bull"] = calves[0]


def _bought_in_calf(herd: Herd) -> list[Due]:
    """Buy three heifers in calf for crop 3, on the seller's word, of unknown parents."""
    on, dues = bull_in(3) + 130, []
    for number in range(3):
        born = on - 690 - 9 * number
        heifer = herd.found(born, on, precision="month")
        calves_on = bull_in(3) + 296 + 11 * number
        first, last = herd.day(calves_on - 17), herd.day(calves_on + 20)
        herd.do(on, Arrive(heifer.ref, herd.day(on), "bought", "a hill farm sale"))
        herd.do(
            on,
            CheckPregnancy(
                heifer.ref, herd.day(on), "pregnant", method="statement", due_from=first, due_to=last
            ),
        )
        herd.into(on, "breeding", [heifer])
        dues.append(Due(heifer, calves_on - 283, None, calves_on))
    return dues


def _castrate(herd: Herd, crop: int) -> None:
    for calf in herd.crops[crop]:
        if calf.sex == "M" and calf.left is None and not calf.bull:
            on = calf.born + herd.chance.randrange(2, 7)
            herd.do(on, Castrate(calf.ref, herd.day(on), "ring"))
            calf.steer = True


def _wean(herd: Herd, crop: int) -> None:
    """Wean and weigh a crop, score and weigh its dams, and sell the calves that do not stay."""
    on = years_ago(crop) + WEAN_AT
    day = herd.day(on)
    calves = [calf for calf in herd.crops[crop] if calf.here(on)]
    work: list[Happened] = []
    for calf in calves:
        calf.weaned = on
        work.append(Wean(calf.ref, day))
        work.append(herd.weigh(calf, on, stage="weaning"))
        work.append(Treat(calf.ref, day, "pour-on wormer", 35, batch=f"W{70 - crop}", reason="worms"))
    herd.do(on, RecordRound(day, "weaning", tuple(work)))
    cows = [b for b in herd.beasts if b.sex == "F" and b.calved and b.here(on)]
    work = [herd.weigh(cow, on) for cow in cows]
    for cow in cows:
        work.append(GiveScore(cow.ref, day, "condition", herd.chance.choice((4, 5, 5, 5, 6, 6))))
        work.append(GiveScore(cow.ref, day, "temper", herd.chance.choice((1, 1, 1, 2, 2, 3)), "1-6"))
    herd.do(on, RecordRound(day, "weighing", tuple(work)))
    stay = [calf for calf in calves if calf.kept]
    herd.into(on, "young", [calf for calf in stay if not calf.bull])
    herd.into(on, "bulls", [calf for calf in stay if calf.bull])
    for calf in stay:
        if calf.sex == "F" and not calf.freemartin:
            number = f"999{1000 + calf.ref:012d}"
            herd.do(on, GiveTag(calf.ref, number, "electronic", day))
    for calf in calves:
        if not calf.kept:
            herd.leave(calf, on + 30, "sold", reason="store calf", to_party="autumn calf sale")
    if crop == 1:
        _prove_one(herd, on + 20, calves)


def _prove_one(herd: Herd, on: int, calves: list[Beast]) -> None:
    """Have the sire of one kept calf tested that by its dates might be either bull's."""
    first = bull_in(1)
    near = [
        c for c in calves if c.kept and c.sire is not None and abs(c.born - 283 - first - CHANGE_OVER[0]) < 6
    ]
    for calf in near[:1]:
        assert calf.sire is not None
        herd.do(on, NameParent(calf.ref, calf.sire.ref, "sire", "dna", herd.day(on)))


def _finish(herd: Herd, crop: int) -> None:
    """Put the steers with the finishing cattle at sixteen months, and send them on when they are ready."""
    steers = [b for b in herd.crops[crop] if b.steer and b.kept]
    at = years_ago(crop) + 480
    if at < 0:
        herd.into(at, "finishing", steers)
    if crop >= 3:
        for number, steer in enumerate(sorted(steers, key=lambda b: -b.size)):
            herd.slaughter(steer, years_ago(crop) + 690 + 38 * number)
    if crop == 2:
        for steer, on in zip(sorted(steers, key=lambda b: -b.size), (-73, -45, -16), strict=False):
            booked = herd.do(on - 60, BookDay(herd.day(on), 1, "Village butcher", wanted="a steer"), 1)[0]
            herd.do(on - 40, BookAnimal(steer.ref, booked))
            herd.slaughter(steer, on)


def _weigh_every_two_months(herd: Herd) -> None:
    """Weigh all weaned growing cattle on the same day, about every two months; examine the bulls yearly."""
    for on in range(-9, years_ago(7) + WEAN_AT, -61):
        growing = [
            b
            for b in herd.beasts
            if b.here(on) and b.weaned is not None and b.weaned < on and not b.calved and on - b.born < 1000
        ]
        if growing:
            weighed = tuple(herd.weigh(b, on) for b in growing)
            herd.do(on, RecordRound(herd.day(on), "weighing", weighed))
    for bull in (b for b in herd.beasts if b.bull):
        for crop in range(6, 0, -1):
            on = bull_in(crop) - 35
            if bull.here(on) and on - bull.born > 420:
                scrotal = round(herd.chance.uniform(35, 39), 1)
                herd.do(on, ExamineBull(bull.ref, herd.day(on), "satisfactory", scrotal, "the vet"))
                herd.do(on, herd.weigh(bull, on))
