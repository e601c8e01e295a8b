"""A herd run forward: its kinship against published systems of mating, its rules against the book's."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.bullpower import bull_capacity
from herdbook.husbandry.herdahead import HerdAhead, most_placed, of_calves
from herdbook.husbandry.kinship import coancestry, inbreeding
from herdbook.husbandry.paternity import conception_by_day
from herdbook.husbandry.sorting import place
from herdbook.husbandry.years import FIGURES, HOME, PRESETS, Company, Policy, Rates, Start, run_repeats
from tests.husbandry.ahead import SURE, related, unrelated

PUBLISHED = Path(__file__).parents[1] / "published" / "pedigrees"
LIMIT = 0.0625
FOR_EVER = Policy("for ever", bull_years=None, bull_age=None, cull_years=50)
AT = {name: place for place, name in enumerate(FIGURES)}


def systematic(system: str) -> list[float]:
    """Return the inbreeding by generation: Wright's recurrences, see the folder's README."""
    with (PUBLISHED / "systematic_mating.csv").open(encoding="utf-8") as lines:
        return [float(Fraction(row["F"])) for row in csv.DictReader(lines) if row["system"] == system]


# -- kinship --


def test_full_sibs_for_ten_generations() -> None:
    kinship, dam, sire = np.eye(2) / 2, 0, 1
    for f in systematic("full_sib")[1:]:
        those, among = of_calves(kinship, np.array([dam, dam]), np.array([sire, sire]))
        assert 2 * among[0, 0] - 1 == f
        kinship = np.block([[kinship, those.T], [those, among]])
        dam, sire = len(kinship) - 2, len(kinship) - 1


def test_one_bull_for_ever_bred_to_his_daughters() -> None:
    """Each turn of two years breeds one generation more: the worst calf is that of repeated backcross."""
    policy = replace(FOR_EVER, keep=1.0, strict=False)
    rates = replace(SURE, ceiling=1000, heifers=1.0)
    found = run_repeats(unrelated(2, 0, 1), policy, rates, limit=LIMIT, years=10, repeats=range(3))
    by_generation = systematic("backcross_to_one_noninbred_sire")[1:]
    wanted = [by_generation[year // 2] for year in range(10)]
    assert found[:, :, AT["worst"]].tolist() == [wanted] * 3
    assert (found[:, 2:, AT["mean"]] < found[:, 2:, AT["worst"]]).all()  # old cows still calve to him


def test_a_new_unrelated_bull_each_year_gives_no_inbreeding() -> None:
    policy = Policy("new each year", bull_years=1)
    found = run_repeats(unrelated(), policy, limit=0.0, repeats=range(4))
    for name in ("mean", "worst", "over_limit", "waiting", "idle_bulls"):
        assert (found[:, :, AT[name]] == 0).all()
    assert (found[:, 1:, AT["bulls_bought"]] == 1).all()


def test_bulls_of_a_given_kinship_give_just_that() -> None:
    policy = Policy("kin", bull_years=1, kin=0.03125)
    found = run_repeats(unrelated(), policy, limit=LIMIT, repeats=range(3))
    assert (found[:, 0, AT["worst"]] == 0).all()
    assert (found[:, 1:, AT["mean"]] == 0.03125).all()
    assert (found[:, 1:, AT["worst"]] == 0.03125).all()


@given(st.integers(0, 10**6))
def test_growing_by_calves_equals_the_whole_pedigree(seed: int) -> None:
    chance = np.random.default_rng(seed)
    sire, dam = [-1] * 5, [-1] * 5
    kinship = np.eye(5) / 2
    for _ in range(3):
        here = len(kinship)
        dams, sires = chance.integers(0, here, 4), chance.integers(-1, here, 4)
        those, among = of_calves(kinship, dams, sires)
        kinship = np.block([[kinship, those.T], [those, among]])
        sire, dam = [*sire, *sires.tolist()], [*dam, *dams.tolist()]
    rows = np.arange(len(sire))
    assert kinship.tolist() == coancestry(sire, dam, inbreeding(sire, dam), rows, rows).tolist()


# -- rules and chances --


@given(st.integers(0, 10**6), st.booleans(), st.sampled_from([None, 0.3, 1.0]), st.sampled_from([0.0, LIMIT]))
def test_limit_and_places_are_kept(seed: int, home: bool, keep: float | None, limit: float) -> None:
    policy = Policy("any", keep=keep, source=HOME if home else "bought", kin=0.02, bull_years=1 + seed % 4)
    found = run_repeats(related(seed), policy, limit=limit, years=6, seed=seed, repeats=[seed])[0]
    worst = found[:, AT["worst"]]
    assert (worst[~np.isnan(worst)] <= limit).all()
    assert (found[:, AT["bred_over"]] == 0).all()
    assert (found[:, AT["waiting"]] >= 0).all()
    assert (found[:, AT["calves"]] <= np.minimum(found[:, AT["females"]], 2 * 30)).all()
    assert (found[:, AT["effective_founders"]] > 0).all()
    assert (np.diff(found[:, AT["founders"]]) <= 0).all()
    if keep is None:
        assert found[:, AT["females"]].max() <= 15


@given(st.integers(0, 10**6))
def test_most_placed_is_what_the_sort_can_place(seed: int) -> None:
    chance = np.random.default_rng(seed)
    females, bulls = chance.integers(0, 9), chance.integers(0, 4)
    cow, fit = chance.random(females) < 0.5, chance.random(bulls) < 0.5
    allowed, room = cow[:, np.newaxis] | fit[np.newaxis, :], chance.integers(0, 5, bulls)
    placed = place(np.zeros(allowed.shape), allowed, room).bull_of >= 0
    assert most_placed(allowed, room) == placed.sum()


def ahead(start: Start, policy: Policy = FOR_EVER, rates: Rates = SURE, years: int = 10) -> HerdAhead:
    """Return a herd that has not begun its first season."""
    return HerdAhead(start, policy, rates, LIMIT, years, np.random.default_rng(3))


def test_as_many_conceive_as_the_law_of_a_bull_run_says() -> None:
    rates = replace(SURE, conception=0.6, ceiling=500)
    start = unrelated(0, 350, 1)
    found = run_repeats(start, FOR_EVER, rates, limit=LIMIT, years=1, repeats=range(40))
    law = conception_by_day(date(2027, 6, 1), date(2027, 6, 1) + timedelta(days=62), 0.6).sum()
    assert found[:, :, AT["calves"]].mean() / 350 == pytest.approx(law, abs=0.01)


def test_a_cow_that_calved_late_has_no_heat_before_it_is_time() -> None:
    start = unrelated(20, 0, 1)
    late = replace(start, calved=np.where(start.cow, 50, start.calved))  # 13 days before the bull leaves
    assert ahead(late).season(0)[AT["calves"]] == 0
    assert ahead(start).season(0)[AT["calves"]] == 20


@pytest.mark.parametrize("months", [*range(10, 27), 60])
def test_a_bull_has_as_many_females_as_his_age_gives(months: int) -> None:
    start = unrelated(0, 40, 1)
    born = start.born.copy()
    born[-1] = -round(months * 365 / 12) - 3
    found = ahead(replace(start, born=born))
    day = date(2027, 6, 1)
    wanted = bull_capacity(day - timedelta(days=-int(born[-1])), day)
    assert found.season(0)[AT["calves"]] == wanted


def test_the_keepers_own_number_stands_for_a_grown_bull_and_for_one_season_of_a_young_one() -> None:
    start = unrelated(0, 40, 1)
    told = replace(start, by_hand=np.where(start.bull, 7, -1))
    herd = ahead(told)
    assert [herd.season(year)[AT["calves"]] for year in (0, 1)] == [7, 7]
    young = replace(told, born=np.where(start.bull, -480, start.born))
    herd = ahead(young)
    assert [herd.season(year)[AT["calves"]] for year in (0, 1)] == [7, 30]


def test_heifers_go_only_to_bulls_that_are_fit_for_them() -> None:
    start = unrelated(5, 5, 1)
    assert ahead(replace(start, fit=np.zeros(11, dtype=bool))).season(0)[AT["calves"]] == 5


def test_the_number_of_females_is_held_or_not() -> None:
    rates = replace(SURE, ceiling=100)
    herd = ahead(unrelated(12, 3, 1), replace(FOR_EVER, bull_years=1, cull_years=12), rates)
    assert [herd.season(year)[AT["females"]] for year in range(6)] == [15] * 6
    herd = ahead(unrelated(12, 3, 1), replace(FOR_EVER, bull_years=1, size=18), rates)
    assert herd.season(0)[AT["females"]] == 15
    assert [herd.season(year)[AT["females"]] for year in range(1, 6)][1:] == [18] * 4
    herd = ahead(unrelated(12, 3, 1), replace(FOR_EVER, keep=0.0), rates)
    assert [herd.season(year)[AT["females"]] for year in range(4)] == [15] * 4  # nobody leaves, nobody comes


def test_old_cows_leave() -> None:
    herd = ahead(unrelated(12, 0, 1), replace(FOR_EVER, keep=0.0, cull_years=8))
    seen = [herd.season(year)[AT["females"]] for year in range(7)]
    assert seen[0] == 10  # two of the twelve are eight already
    assert seen == sorted(seen, reverse=True)
    assert seen[-1] == 0


def test_whoever_is_open_leaves() -> None:
    rates = replace(SURE, conception=0.0, open_leaves=1.0)
    herd = ahead(unrelated(12, 3, 1), FOR_EVER, rates)
    assert [herd.season(year)[AT["females"]] for year in (0, 1)] == [15, 0]


def test_a_season_without_calves_has_no_inbreeding_to_tell() -> None:
    figures = ahead(unrelated(), FOR_EVER, replace(SURE, conception=0.0)).season(0)
    assert np.isnan(figures[AT["mean"]])
    assert np.isnan(figures[AT["worst"]])
    assert figures[AT["calves"]] == 0


# -- bulls --


def test_bulls_leave_after_their_seasons_and_those_served_before_count() -> None:
    start = unrelated(12, 0, 2)
    start = replace(start, served=np.where(np.arange(14) == 13, 2, 0))
    herd = ahead(start, Policy("3", bull_years=3))
    bought = [herd.season(year)[AT["bulls_bought"]] for year in range(7)]
    assert bought == [0, 1, 0, 1, 1, 0, 1]


def test_swapping_takes_the_one_that_served_longest() -> None:
    start = unrelated(12, 0, 2)
    start = replace(start, served=np.where(np.arange(14) == 13, 2, 0))
    herd = ahead(start, Policy("swap", bull_years=None, bull_age=None, swap_every=2))
    assert [herd.season(year)[AT["bulls_bought"]] for year in range(5)] == [0, 0, 1, 0, 1]
    assert (herd.served[herd.bull] <= 3).all()


def test_a_home_bred_bull_is_the_son_least_kin_to_the_females() -> None:
    """Ten cows are full sisters, two are not: the new bull is out of one of these two."""
    start = unrelated(12, 0, 1, kinship=np.eye(13) / 2 + _sisters(13, 10))
    herd = ahead(start, Policy("home", bull_years=2, source=HOME, strict=False), replace(SURE, heifers=0.0))
    for year in range(3):
        herd.season(year)
    (bull,) = np.flatnonzero(herd.bull)
    assert herd.bought == 0
    assert herd.shares[bull, :12].argmax() >= 10


def _sisters(size: int, many: int) -> np.ndarray:
    table = np.zeros((size, size))
    table[:many, :many] = 0.25
    np.fill_diagonal(table, 0.0)
    return table


def test_without_a_son_the_old_bull_stays_and_a_herd_without_bulls_buys_one() -> None:
    rates = replace(SURE, heifers=1.0)
    herd = ahead(unrelated(), Policy("home", bull_years=1, source=HOME), rates)
    assert [herd.season(year)[AT["bulls_bought"]] for year in range(3)] == [0, 0, 0]
    assert herd.served[herd.bull].tolist() == [3]
    herd = ahead(unrelated(6, 0, 0), Policy("home", source=HOME), rates)
    assert herd.season(0)[AT["bulls_bought"]] == 1


def test_more_or_fewer_bulls_than_today() -> None:
    for bulls in (1, 3):
        herd = ahead(unrelated(12, 0, 2), replace(FOR_EVER, bulls=bulls))
        herd.season(0)
        assert herd.bull.sum() == bulls


def test_seasons_beyond_those_asked_for_are_refused() -> None:
    herd = ahead(unrelated(), Policy("each year", bull_years=1), years=1)
    for year in range(5):  # there is room for a bull or two more than one a year
        herd.season(year)
    with pytest.raises(ValueError, match="fewer years"):
        herd.season(5)


# -- founders --


def test_founders_are_counted_while_they_have_descendants() -> None:
    herd = ahead(unrelated(12, 3, 1), replace(FOR_EVER, bull_years=1))
    assert herd.season(0)[AT["founders"]] == 16
    assert herd.season(1)[AT["founders"]] == 16  # he is gone, and his heifer calves are here
    herd = ahead(unrelated(12, 3, 1), replace(FOR_EVER, bull_years=1, keep=0.0))
    assert [herd.season(year)[AT["founders"]] for year in (0, 1)] == [16, 15]


def test_every_animal_s_genes_come_from_somewhere() -> None:
    herd = ahead(related(5), PRESETS["every-3-years"], Rates())
    for year in range(8):
        herd.season(year)
    assert herd.shares.sum(axis=1) == pytest.approx(np.ones(len(herd.born)))
    assert np.allclose(herd.kinship, herd.kinship.T)
    assert len(herd.kinship) == len(herd.born)


# -- bulls that share their females --


def _sharing(turn: tuple[int, int] = (0, 0), **more: Any) -> Any:
    """Return 12 cows with two bulls in one group; cow 0 is the second bull's daughter."""
    start = unrelated(cows=12, heifers=0, bulls=2)
    kinship = start.kinship.copy()
    kinship[0, 13] = kinship[13, 0] = 0.25
    group = np.where(start.bull, 0, -1)
    turns = np.zeros(14, dtype=np.int64)
    turns[12:] = turn
    return replace(start, kinship=kinship, group=group, turn=turns, **more)


def _ahead(
    start: Any, policy: Policy = Policy("as they are", bull_years=None), limit: float = 0.1
) -> HerdAhead:
    return HerdAhead(start, policy, SURE, limit, 5, np.random.default_rng(3))


def test_of_bulls_that_share_the_worse_counts() -> None:
    found = dict(zip(FIGURES, _ahead(_sharing()).season(0), strict=True))
    assert found["calves"] == 11  # the daughter waits, although the first bull is no kin of hers
    assert found["waiting"] == 1
    assert found["idle_bulls"] == 0
    alone = dict(zip(FIGURES, _ahead(replace(_sharing(), group=None, turn=None)).season(0), strict=True))
    assert (alone["calves"], alone["waiting"]) == (12, 0)


@pytest.mark.parametrize(
    ("turn", "company", "room"),
    [
        ((0, 0), Company(), 11),
        ((0, 1), Company(), 4),
        ((0, 1), Company(room=9), 9),
        ((0, 0), Company(room=9, paddock=3), 3),
    ],
    ids=["together", "one after the other", "by hand", "paddock"],
)
def test_their_number_is_that_of_the_sort(turn: tuple[int, int], company: Company, room: int) -> None:
    """Together their numbers are added, of those that follow the least counts: as `group_capacity` has it."""
    by_hand = np.full(14, -1)
    by_hand[12:] = 7, 4
    herd = _ahead(_sharing(turn, by_hand=by_hand, companies=(company,)), limit=1.0)
    assert dict(zip(FIGURES, herd.season(0), strict=True))["calves"] == room


def test_each_of_them_is_a_sire() -> None:
    herd = _ahead(_sharing())
    before = len(herd.born)
    herd.season(0)
    young = np.arange(before, len(herd.born))
    halves = herd.kinship[np.ix_(young, np.flatnonzero(herd.bull))]
    assert set(map(tuple, halves.tolist())) == {(0.25, 0.0), (0.0, 0.25)}


def test_a_new_bull_takes_the_place_of_the_one_that_left() -> None:
    policy = Policy("swap", bull_years=None, swap_every=1)
    herd = _ahead(_sharing((0, 1), companies=(Company(room=12, paddock=11),)), policy, limit=1.0)
    herd.season(0)
    herd.season(1)
    bulls = np.flatnonzero(herd.bull)
    assert herd.bought == 1
    assert herd.group[bulls].tolist() == [0, 0]
    assert sorted(herd.turn[bulls].tolist()) == [0, 1]
    assert herd.companies[0] == Company(room=None, paddock=11)


def test_more_bulls_than_before_have_groups_of_their_own() -> None:
    policy = Policy("more", bull_years=None, bulls=4)
    herd = _ahead(_sharing(), policy)
    herd.season(0)
    assert sorted(herd.group[herd.bull].tolist()) == [0, 0, 1, 2]
