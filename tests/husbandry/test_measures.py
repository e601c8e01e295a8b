"""Mean kinship, effective sizes and generation intervals against published values and slower routes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.kinship import inbreeding, known_generations
from herdbook.husbandry.measures import (
    by_birth_year,
    generation_intervals,
    individual_increases,
    mean_kinship,
    overall_interval,
    rate_between,
    rate_over_years,
    size_from_parents,
    size_from_rate,
)
from tests.husbandry.test_kinship import Links, pedigrees, tabular
from tests.published import herd_measures as published

Times = list[float | None]


# -- mean kinship --


@given(pedigrees(), st.data())
def test_mean_kinship_is_the_mean_of_the_table(links: Links, data: st.DataObject) -> None:
    rows = range(len(links[0]))
    group = data.draw(st.lists(st.sampled_from(rows), min_size=1, unique=True))
    table = tabular(*links)[np.ix_(group, group)]
    assert mean_kinship(*links, inbreeding(*links), group) == pytest.approx(table.mean() / 2)


def test_one_coefficient_for_each_animal() -> None:
    with pytest.raises(ValueError, match="one inbreeding coefficient"):
        mean_kinship([-1, -1], [-1, -1], [0.0], [0])


def test_by_birth_year() -> None:
    """A pair, their son and daughter, and a calf of these: 1/4 inbred, kin to itself by 5/8."""
    sire, dam = [-1, -1, 0, 0, 2, -1], [-1, -1, 1, 1, 3, 3]
    first, sibs, last = by_birth_year(sire, dam, inbreeding(sire, dam), [2018, 2018, 2021, 2021, 2024, None])
    assert (first.year, first.born, first.both_known, first.inbreeding, first.kinship) == (
        2018,
        2,
        0,
        0,
        0.25,
    )
    assert (sibs.year, sibs.born, sibs.both_known, sibs.inbreeding, sibs.kinship) == (2021, 2, 2, 0, 0.375)
    assert (last.year, last.born, last.both_known, last.inbreeding, last.kinship) == (2024, 1, 1, 0.25, 0.625)
    assert by_birth_year([-1], [-1], [0.0], [None]) == []


# -- effective size --


@pytest.mark.parametrize(("males", "females", "size", "source"), published.SIZE_FROM_PARENTS)
def test_size_from_parents(males: int, females: int, size: float, source: str) -> None:
    found = size_from_parents(males, females)
    assert found == pytest.approx(size, rel=1e-14), source
    assert 1 / (8 * males) + 1 / (8 * females) == pytest.approx(1 / (2 * size)), source


def test_no_size_without_both_sexes() -> None:
    assert size_from_parents(0, 20) is size_from_parents(2, 0) is None


@pytest.mark.parametrize(("before", "after", "rate", "size", "source"), published.SIZE_FROM_RATE)
def test_size_from_rate(before: float, after: float, rate: float, size: float, source: str) -> None:
    assert rate_between(before, after) == pytest.approx(rate), source
    assert size_from_rate(rate_between(before, after)) == pytest.approx(size), source


def test_no_size_where_inbreeding_does_not_rise() -> None:
    assert size_from_rate(0.0) is size_from_rate(-0.01) is None
    with pytest.raises(ValueError, match="nothing is left"):
        rate_between(1.0, 1.0)


@pytest.mark.parametrize(("f", "t", "increase", "size"), published.INDIVIDUAL_INCREASE)
def test_individual_increase(f: float, t: float, increase: float, size: float) -> None:
    # Source: published.GUTIERREZ
    (found,) = individual_increases([f], [t])
    assert found == pytest.approx(increase, rel=1e-14)
    assert size_from_rate(found) == pytest.approx(size, rel=1e-14)


def test_animals_known_for_one_generation_do_not_count_as_inbred() -> None:
    assert individual_increases([0.0, 0.0, 0.0], [0.0, 0.5, 1.0]) == [0.0, 0.0, 0.0]


def test_brother_to_sister_for_twenty_generations() -> None:
    """Its rate of inbreeding nears 0.191 a generation (Falconer & Mackay 1996, chapter 5; from memory)."""
    sire, dam = [-1, -1], [-1, -1]
    for _ in range(20):
        n = len(sire)
        sire, dam = [*sire, n - 2, n - 2], [*dam, n - 1, n - 1]
    f, t = inbreeding(sire, dam), known_generations(sire, dam)
    increases = individual_increases(f.tolist(), t.tolist())
    assert 0.18 < increases[-1] < 0.20


# -- the trend over years --


@pytest.mark.parametrize(("size", "generations", "f"), published.F_AFTER)
def test_the_trend_over_years_finds_the_size_again(size: int, generations: int, f: float) -> None:
    """A generation every 4 years, from nothing to the worked inbreeding: dF = 1 / (2 Ne) each generation."""
    trend = rate_over_years([2000, 2000 + 4 * generations], [0.0, f], interval=4.0)
    assert trend is not None
    assert trend.per_generation == pytest.approx(1 / (2 * size))
    assert size_from_rate(trend.per_generation) == pytest.approx(size)
    assert (1 - trend.per_year) ** 4 == pytest.approx(1 - trend.per_generation)
    assert (trend.animals, trend.years) == (2, 2)


def test_each_year_weighs_as_many_as_were_born() -> None:
    """By hand: three years about 2001, of 1, 1 and 2 animals, on ln(1 - F)."""
    trend = rate_over_years([2000, 2001, 2002, 2002], [0.0, 0.1, 0.1, 0.3], interval=1.0)
    y = [math.log(1.0), math.log(0.9), math.log(0.8)]
    slope = (-1.25 * y[0] - 0.25 * y[1] + 2 * 0.75 * y[2]) / (1.25**2 + 0.25**2 + 2 * 0.75**2)
    assert trend is not None
    assert trend.per_year == pytest.approx(1 - math.exp(slope))
    assert (trend.animals, trend.years) == (4, 3)


def test_no_trend_from_one_year_and_a_falling_one_is_negative() -> None:
    assert rate_over_years([2000, 2000], [0.0, 0.1], 5.0) is None
    assert rate_over_years([], [], 5.0) is None
    assert rate_over_years([2000, 2001], [0.0, 1.0], 5.0) is None
    falling = rate_over_years([2000, 2001], [0.1, 0.0], 5.0)
    assert falling is not None
    assert falling.per_generation < 0


# -- generation intervals --


@pytest.mark.parametrize(("ss", "sd", "ds", "dd", "mean", "source"), published.INTERVALS)
def test_generation_intervals(ss: float, sd: float, ds: float, dd: float, mean: float, source: str) -> None:
    """Rows 0 and 1 are sires, 2 and 3 dams of the son and daughter that follow, themselves parents later."""
    born: Times = [2010 - ss, 2010 - sd, 2010 - ds, 2010 - dd, 2010.0, 2010.0, 2015.0]
    sire, dam = [-1] * 4 + [0, 1, 4], [-1] * 4 + [2, 3, 5]
    male = [True, True, False, False, True, False, True]
    found = generation_intervals(sire, dam, born, male)
    assert [path.years for path in found] == pytest.approx([ss, sd, ds, dd]), source
    assert [path.count for path in found] == [1, 1, 1, 1], "the calf of 2015 was not kept"
    assert overall_interval(found) == pytest.approx(mean), source


def test_each_calf_that_is_kept_counts_once() -> None:
    # Source: published.RENDEL
    sires, dams, of_sires, of_dams, mean = published.KEPT_AGES
    born: Times = [*(2010.0 - age for age in sires), *(2010.0 - age for age in dams), *[2010.0] * 4]
    sire, dam = [-1] * 8 + [0, 1, 2, 3], [-1] * 8 + [4, 5, 6, 7]
    found = generation_intervals(sire, dam, born, [False] * 12, kept=[True] * 12)
    assert [(path.years, path.count) for path in found] == [(None, 0), (of_sires, 4), (None, 0), (of_dams, 4)]
    assert overall_interval(found) == mean


def test_an_unknown_birth_is_no_age() -> None:
    sire, dam = [-1, -1, 0, 2], [-1, -1, 1, 1]
    found = generation_intervals(sire, dam, [None, 2015.0, 2018.0, None], [True, False, True, True])
    assert [(path.years, path.count) for path in found] == [(None, 0), (None, 0), (3.0, 1), (None, 0)]
    assert overall_interval(found) is None
