"""What lies on the desk today: treatments running, bookings, the young bull, marks and scores to act on."""

from __future__ import annotations

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import AddAnimal
from herdbook.services.commands.diary import BookAnimal, BookDay
from herdbook.services.commands.happenings import (
    Arrive,
    ExamineBull,
    GiveScore,
    KeepApart,
    Measure,
    RecordRound,
    Remark,
    SeeHeat,
    SeeSign,
    TestGenes,
    TestHealth,
    Treat,
)

from .herd import BREED, Beast, Herd


def on_the_desk(herd: Herd) -> None:
    """Tell what of the last weeks still matters today."""
    _young_bull(herd)
    _mark_cows(herd)
    _finishing(herd)
    _maidens(herd)
    _genes(herd)


def _young_bull(herd: Herd) -> None:
    """Buy the young bull for the heifers; have the bulls examined before they go in."""
    came = -58
    sire, dam = herd.ancestor("hills", "M"), herd.ancestor("rivers", "F")
    bull = herd.buy_bull(
        -462, came, sire=sire.ref, dam=dam.ref, note="bought for the heifers: sire of light calves, quiet"
    )
    herd.do(came, KeepApart(bull.ref, herd.day(came), herd.day(came + 28)))
    herd.do(came, TestHealth(bull.ref, herd.day(came), "herd health tests", herd.day(came + 9), "clear"))
    herd.cast["young bull"] = bull
    main, own = herd.cast["main bull"], herd.cast["own bull"]
    for each, result, scrotal in ((main, "satisfactory", 38.5), (bull, "satisfactory", 34.0)):
        herd.do(-12, ExamineBull(each.ref, herd.day(-12), result, scrotal, "the vet"))
        herd.do(-12, herd.weigh(each, -12))
    herd.do(
        -12,
        ExamineBull(own.ref, herd.day(-12), "deferred", 36.0, "the vet", note="lame; look again in 3 weeks"),
    )
    black = {"colour": "black", "horns": "polled"}
    herd.change(-11, bull, fit_for_heifers=True, capacity=10, note="ten in his first season", **black)
    herd.change(-11, main, fit_for_heifers=False, care="a bull: never turn your back", **black)


def _mark_cows(herd: Herd) -> None:
    """Score the udder, temper and feet of three cows, mark the wild one, and treat one."""
    cast = set(herd.cast.values())
    cows = sorted(
        (b for b in herd.beasts if b.calved and b.here(0) and b not in cast and b.calved[-1] < -3),
        key=lambda b: (b.born, b.ref),
    )
    udder, temper, feet, sick = cows[0], cows[2], cows[4], cows[5]
    herd.cast |= {"udder": udder, "temper": temper, "feet": feet}
    on = max(udder.calved[-1], -30) + 1
    herd.do(on, GiveScore(udder.ref, herd.day(on), "udder", 2))
    herd.do(on, GiveScore(udder.ref, herd.day(on), "teat", 3))
    herd.change(-2, udder, do_not_breed="udder too low: to go after weaning")
    herd.do(-25, GiveScore(temper.ref, herd.day(-25), "temper", 5, "1-6"))
    herd.change(-25, temper, care="comes at you with a young calf")
    herd.do(-20, GiveScore(feet.ref, herd.day(-20), "feet", 8))
    herd.do(-5, SeeHeat(herd.cast["open cow"].ref, herd.day(-5)))
    herd.do(
        -4, Treat(sick.ref, herd.day(-4), "antibiotic for the udder", 14, "1 tube", reason="hard quarter")
    )
    herd.do(-1, SeeSign(herd.cast["next heifer"].ref, herd.day(-1), code="udder"))
    scouring = next(b for b in herd.crops[0] if b.here(0) and -20 < b.born < -8 and not b.freemartin)
    herd.do(-2, Treat(scouring.ref, herd.day(-2), "drink for scour", 0, "1 sachet", reason="scour"))
    herd.do(
        -3,
        Remark(
            herd.cast["past due"].ref,
            herd.day(-3),
            note="no sign yet; ring the vet if nothing by the end of the week",
        ),
    )


def _finishing(herd: Herd) -> None:
    """Buy a store steer of unknown history, dose two, and book the butcher for what is ready."""
    born, came = -820, -150
    tag = herd.next_tag(born)
    (ref,) = herd.do(
        came,
        AddAnimal(
            tag=tag,
            sex="M",
            name=herd.name("winds"),
            born=PartDay(herd.day(born).replace(day=1), "month"),
            breed=BREED,
            entered=herd.day(came),
            castrated=True,
        ),
        1,
    )
    store = Beast(ref, tag, None, "M", born, came=came, steer=True, size=0.93)
    herd.beasts.append(store)
    herd.do(came, Arrive(ref, herd.day(came), "bought", "a hill farm sale", medicines_known=False))
    herd.into(came, "finishing", [store])
    for on in range(-9 - 2 * 61, 0, 61):
        herd.do(on, herd.weigh(store, on))
    steers = sorted(
        (b for b in herd.crops[2] if b.steer and b.here(0)),
        key=lambda b: -b.weights[-9],
    )
    lame = steers[-1]
    herd.do(-12, Treat(ref, herd.day(-12), "pain relief", None, "by the vet", reason="swollen joint"))
    herd.do(
        -6,
        Treat(lame.ref, herd.day(-6), "long-acting antibiotic", 28, "by weight", reason="foul in the foot"),
    )
    (soon,) = herd.do(-33, BookDay(herd.day(17), 2, "Village butcher", wanted="two steers"), 1)
    herd.do(-33, BookDay(herd.day(73), 3, "Village butcher", wanted="steers or a heifer"), 1)
    herd.do(-8, BookAnimal(steers[0].ref, soon))


def _maidens(herd: Herd) -> None:
    """Worm and measure last year's young stock."""
    young = [b for b in herd.crops[1] if b.here(0)]
    day = herd.day(-50)
    wormed = tuple(Treat(b.ref, day, "pour-on wormer", 35, batch="W71", reason="worms") for b in young)
    herd.do(-50, RecordRound(day, "worming", wormed))
    measured = tuple(
        Measure(b.ref, herd.day(-9), float(round(herd.chance.gauss(117, 2))))
        for b in young
        if b.sex == "F" and not b.freemartin
    )
    herd.do(-9, RecordRound(herd.day(-9), "heights", measured))


def _genes(herd: Herd) -> None:
    """Test the bulls, the own bull's dam and a half sister of his: a condition runs in their sire's line."""
    main, own, young = (herd.cast[name] for name in ("main bull", "own bull", "young bull"))
    sisters = [b for b in herd.beasts if b.sex == "F" and b.sire is own.sire and b.calved and b.here(0)]
    results = [(main, "free"), (own, "carrier"), (young, "free")]
    results += [(own.dam, "free")] if own.dam is not None and own.dam.here(0) else []
    results += [(sister, "carrier") for sister in sisters[:1]]
    on = herd.day(-30)
    tests = tuple(
        TestGenes(beast.ref, on, "am", result, "a university laboratory", f"G{n:03d}")
        for n, (beast, result) in enumerate(results, start=101)
    )
    herd.do(-30, RecordRound(on, "gene tests", tests))
    herd.change(-29, own, colour="red", horns="horned")
    plain = [sister for sister in sisters if sister not in herd.cast.values()]
    looks = (("black", "horned"), ("red", "horned"), ("black", "polled"))
    for cow, (colour, horns) in zip(plain, looks, strict=False):
        herd.change(-29, cow, colour=colour, horns=horns)
