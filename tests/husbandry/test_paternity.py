"""Whose calf: keepers' situations with their answers, the law of conception, and a simulation of it."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.paternity import (
    HEAT_IN_CALF,
    RETURNS,
    Candidate,
    Ran,
    Served,
    birth_window,
    conception_by_day,
    conception_law,
    conception_window,
    sire_chances,
    sires_of_unborn,
)

MAY_1 = date(2026, 5, 1)
DAY = timedelta(days=1)


def chances(born: date, *candidates: Candidate, sd: float = 6.0, rate: float = 0.6) -> dict[object, float]:
    return {row.sire: row.chance for row in sire_chances(born, candidates, 283, sd, rate)}


# -- situations that keepers meet --


def test_two_bulls_one_after_the_other() -> None:
    # A trade article on telling the sire (canadiancattlemen.ca): A about 98 %, B 2 %,
    # conceived 2 May - 7 June (299-263 days).
    born = date(2027, 2, 25)
    a, b = Ran(("A",), MAY_1, date(2026, 6, 1)), Ran(("B",), date(2026, 6, 2), date(2026, 7, 15))
    assert conception_window(born) == (date(2026, 5, 2), date(2026, 6, 7))
    # With every day alike, as if no heat ever held, and about the spread of those days: the published figure.
    assert chances(born, a, b, sd=7.0, rate=0.001)["A"] == pytest.approx(0.98, abs=0.005)
    # Those who held to A were not on heat for B, so A is the surer.
    rows = sire_chances(born, [a, b])
    assert [row.sire for row in rows] == ["A", "B"]
    assert 0.98 < rows[0].chance < 1.0
    assert {row.basis for row in rows} == {"dates"}


def test_two_bulls_together_are_not_told_apart() -> None:
    # 0 to 64 calves a bull and 4.4 % of bulls with none in groups proven by DNA: J. Anim. Sci. 2014,
    # doi 10.2527/jas.2013-7217. So an even share is a statement of ignorance, and says so.
    rows = sire_chances(date(2027, 2, 25), [Ran(("Wharfe", "Nith"), MAY_1, date(2026, 7, 1))])
    assert [(row.sire, row.basis, row.beside) for row in rows] == [
        ("Wharfe", "together", ("Nith",)),
        ("Nith", "together", ("Wharfe",)),
    ]
    assert [row.chance for row in rows] == [0.5, 0.5]


def test_bulls_of_overlapping_runs_ran_together() -> None:
    rows = sire_chances(
        MAY_1 + 300 * DAY, [Ran(("A",), MAY_1, MAY_1 + 40 * DAY), Ran(("B",), MAY_1, MAY_1 + 40 * DAY)]
    )
    assert {row.basis for row in rows} == {"together"}


@pytest.mark.parametrize(("days", "published"), [(283, 0.99), (290, 0.86), (294, 0.49), (298, 0.13)])
def test_insemination_then_a_bull_after_two_weeks(days: int, published: float) -> None:
    # A breeder's case in the press (news-leader.com, 29 March 2014): inseminated, the bull in 14 days later.
    # Chances worked out for 55 % success and returns near day 21 that all hold to the bull.
    served = date(2026, 5, 20)
    inseminated = Served("AI", served, "ai", rate=0.55)
    bull = Ran(("Kent",), served + 14 * DAY, date(2026, 8, 1), rate=1.0)
    assert chances(served + days * DAY, inseminated, bull, sd=6.5)["AI"] == pytest.approx(published, abs=0.02)


def test_a_calf_ten_days_late_is_not_at_once_the_following_bull_s() -> None:
    served = date(2026, 5, 20)
    both = [Served("AI", served, "ai", rate=0.55), Ran(("Kent",), served + 14 * DAY, date(2026, 8, 1))]
    late = [chances(served + days * DAY, *both)["AI"] for days in range(283, 305)]
    assert late[10] > 0.5
    assert late == sorted(late, reverse=True)
    assert late[-1] < 0.05


def test_bull_that_got_in_early() -> None:
    # Common practice. With the cows 10-12 April 2026: births 29 December to 5 February, centre 18-20 January;
    # about 3 in 21 on heat.
    first, last = date(2026, 4, 10), date(2026, 4, 12)
    assert birth_window(first, last) == (date(2026, 12, 29), date(2027, 2, 5))
    assert (first + 283 * DAY, last + 283 * DAY) == (date(2027, 1, 18), date(2027, 1, 20))
    assert conception_by_day(first, last, 1.0).sum() == pytest.approx(3 / 21)
    planned = Ran(("Eden",), date(2026, 6, 1), date(2026, 8, 1))
    assert chances(date(2027, 1, 19), Ran(("Esk",), first, last), planned) == {"Esk": 1.0}


def test_bull_changed_in_mid_season() -> None:
    # Out hurt on 5 July, the next in on 9 July: nobody is with her on the days between.
    hurt, fresh = (
        Ran(("A",), date(2026, 6, 1), date(2026, 7, 5)),
        Ran(("B",), date(2026, 7, 9), date(2026, 8, 1)),
    )
    days = {day for day, _ in conception_law([hurt, fresh])}
    assert max(day for day in days if day < date(2026, 7, 9)) == date(2026, 7, 5)
    assert chances(date(2026, 6, 10) + 283 * DAY, hurt, fresh)["A"] > 0.99
    assert chances(date(2026, 7, 28) + 283 * DAY, hurt, fresh)["B"] > 0.9
    between = chances(date(2026, 7, 7) + 283 * DAY, hurt, fresh)
    assert 0.2 < between["A"] < 0.8


def test_nobody_fits_a_birth_far_from_all_dates() -> None:
    ran = Ran(("A",), MAY_1, MAY_1 + 20 * DAY)
    assert sire_chances(MAY_1 + 400 * DAY, [ran]) == []
    assert sire_chances(MAY_1, [ran]) == []
    assert sire_chances(MAY_1, []) == []


# -- the law --


@pytest.mark.parametrize("rate", [0.6, 0.65, 0.7])
def test_whole_cycles_add_up(rate: float) -> None:
    # P(k) = 1 - (1 - p)^k after k cycles of 21 days, all cycling: 60.0, 84.0, 93.6, 97.4 % for p = 0.60;
    # 60-65 % to one service, a Kansas State University veterinarian in the trade press.
    for cycles in (1, 2, 3, 4):
        found = conception_by_day(MAY_1, MAY_1 + (21 * cycles - 1) * DAY, rate).sum()
        assert found == pytest.approx(1 - (1 - rate) ** cycles)


def test_each_day_of_a_cycle_is_alike() -> None:
    days = conception_by_day(MAY_1, MAY_1 + 62 * DAY, 0.6)
    assert days.shape == (63,)
    for day, chance in enumerate(days.tolist()):
        assert chance == pytest.approx(0.6 * 0.4 ** (day // 21) / 21)


def test_a_service_is_one_day_and_a_repeat_lowers_but_keeps_the_first() -> None:
    first, repeat = Served("A", MAY_1), Served("B", MAY_1 + 21 * DAY)
    assert conception_law([first], 0.6) == pytest.approx({(MAY_1, ("A",)): 0.6})
    law = conception_law([repeat, first], 0.6)
    assert law[MAY_1, ("A",)] == pytest.approx(0.6 * HEAT_IN_CALF)
    assert law[repeat.day, ("B",)] == pytest.approx(0.4 * 0.6)
    assert chances(MAY_1 + 283 * DAY, first, repeat)["A"] > 0.9  # her calf's day still speaks for the first


def test_two_inseminations_of_one_heat_are_one_chance() -> None:
    twice = [Served("A", MAY_1, "ai"), Served("A", MAY_1 + DAY, "ai")]
    assert sum(conception_law(twice, 0.6).values()) == pytest.approx(0.6)
    mixed = [Served("A", MAY_1, "ai"), Served("B", MAY_1 + DAY, "seen")]
    rows = sire_chances(MAY_1 + 283 * DAY, mixed)
    assert [(row.chance, row.basis) for row in rows] == [(0.5, "together")] * 2


def test_a_seen_service_names_the_bull_of_a_group() -> None:
    group = Ran(("A", "B"), MAY_1, MAY_1 + 41 * DAY)
    found = chances(MAY_1 + 293 * DAY, group, Served("B", MAY_1 + 10 * DAY))
    assert found["B"] > 0.9


def test_a_young_male_beside_the_bull_has_the_share_he_is_given() -> None:
    found = chances(MAY_1 + 290 * DAY, Ran(("bull", "calf"), MAY_1, MAY_1 + 20 * DAY, weights=(0.95, 0.05)))
    assert found == pytest.approx({"bull": 0.95, "calf": 0.05})


def test_breed_of_the_sire_shifts_his_days() -> None:
    # Mean gestation 281 d for a smaller breed and 289 d for a larger one, Nevada Extension.
    day = MAY_1 + 20 * DAY
    candidates = [Ran(("small",), MAY_1, day), Ran(("large",), MAY_1, day)]
    rows = sire_chances(day + 296 * DAY, candidates, {"small": 281, "large": 289})
    assert rows[0].sire == "large"


def test_unborn() -> None:
    a, b = Ran(("A",), MAY_1, MAY_1 + 20 * DAY), Ran(("B",), MAY_1 + 21 * DAY, MAY_1 + 62 * DAY)
    everything = sires_of_unborn([a, b], conception_rate=0.6)
    assert everything["A"] == pytest.approx(0.6 / 0.936, abs=0.02)
    assert list(everything) == ["A", "B"]
    assert sires_of_unborn([a, b], (MAY_1 + 30 * DAY, MAY_1 + 40 * DAY)) == {"B": 1.0}
    assert sires_of_unborn([a], (MAY_1 + 30 * DAY, MAY_1 + 40 * DAY)) == {}


def simulate(candidates: list[Served | Ran], rate: float, dice: random.Random) -> tuple[date, object] | None:
    """Play one female through her heats, where at most the first of them was a recorded service."""
    first = min(c.day if isinstance(c, Served) else c.first for c in candidates)
    served = [c for c in candidates if isinstance(c, Served)]
    heat = served[0].day if served else first + dice.randrange(21) * DAY
    while heat < first + 120 * DAY:
        here = [c for c in served if c.day == heat] or [
            c for c in candidates if isinstance(c, Ran) and c.first <= heat <= c.last
        ]
        if here and dice.random() < (rate if here[0].rate is None else here[0].rate):
            sires = [s for c in here for s in ([c.sire] if isinstance(c, Served) else c.sires)]
            return heat, dice.choice(sires)
        heat += dice.choices(list(RETURNS), list(RETURNS.values()))[0] * DAY
    return None


@pytest.mark.parametrize(
    "candidates",
    [
        [Ran(("A",), MAY_1, MAY_1 + 30 * DAY), Ran(("B",), MAY_1 + 25 * DAY, MAY_1 + 70 * DAY)],
        [Served("AI", MAY_1, rate=0.5), Ran(("A", "B"), MAY_1 + 19 * DAY, MAY_1 + 60 * DAY)],
    ],
)
def test_law_agrees_with_a_simulation(candidates: list[Served | Ran]) -> None:
    dice, runs = random.Random(11), 20_000
    law: dict[tuple[int, object], float] = {}
    for (day, sires), chance in conception_law(candidates, 0.6).items():
        for sire in sires:
            key = ((day - MAY_1).days // 7, sire)
            law[key] = law.get(key, 0.0) + chance / len(sires)
    counted: dict[tuple[int, object], int] = {}
    for _ in range(runs):
        conceived = simulate(candidates, 0.6, dice)
        if conceived is not None:
            key = ((conceived[0] - MAY_1).days // 7, conceived[1])
            counted[key] = counted.get(key, 0) + 1
    for key in law.keys() | counted.keys():
        expected = law.get(key, 0.0)
        error = math.sqrt(expected * (1 - expected) / runs)
        assert abs(counted.get(key, 0) / runs - expected) <= 4.5 * error + 1e-9


@st.composite
def exposures(draw: st.DrawFn) -> list[Served | Ran]:
    found: list[Served | Ran] = []
    for _ in range(draw(st.integers(1, 4))):
        first = MAY_1 + draw(st.integers(0, 60)) * DAY
        if draw(st.booleans()):
            found.append(Served(draw(st.sampled_from("ABC")), first))
        else:
            sires = tuple(draw(st.lists(st.sampled_from("ABC"), min_size=1, max_size=2, unique=True)))
            found.append(Ran(sires, first, first + draw(st.integers(0, 60)) * DAY))
    return found


@given(exposures(), st.integers(240, 400), st.just(0.0) | st.floats(0.01, 1.0))
def test_chances_are_chances(candidates: list[Served | Ran], after: int, rate: float) -> None:
    law = conception_law(candidates, rate)
    assert all(chance > 0 for chance in law.values())
    assert sum(law.values()) <= 1 + 1e-12
    rows = sire_chances(MAY_1 + after * DAY, candidates, conception_rate=rate)
    if rows:
        assert sum(row.chance for row in rows) == pytest.approx(1.0)
        assert all(0 < row.chance <= 1 for row in rows)
    assert rows == sorted(rows, key=lambda row: -row.chance)
    for (day, sires), _ in law.items():
        for sire in sires:
            assert any(
                (isinstance(c, Served) and c.sire == sire and 0 <= (c.day - day).days < 3)
                or (isinstance(c, Ran) and sire in c.sires and c.first <= day <= c.last)
                for c in candidates
            )


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="not before its first"):
        Ran(("A",), MAY_1, MAY_1 - DAY)
    with pytest.raises(ValueError, match="needs a bull"):
        Ran((), MAY_1, MAY_1)
    with pytest.raises(ValueError, match="one share"):
        Ran(("A", "B"), MAY_1, MAY_1, weights=(1.0,))
    with pytest.raises(ValueError, match="between 0 and 1"):
        conception_by_day(MAY_1, MAY_1, 1.5)
    with pytest.raises(ValueError, match="above 0 days"):
        sire_chances(MAY_1, [], gestation_sd=0.0)
