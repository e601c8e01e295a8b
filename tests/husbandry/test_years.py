"""The years after: the same seed the same answer in any order; calves on their way; the summary."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from herdbook.husbandry.years import (
    FIGURES,
    HOME,
    PRESETS,
    Coming,
    Policy,
    Rates,
    Spread,
    Turn,
    run_repeats,
    spread,
    years_after,
)
from tests.husbandry.ahead import SURE, related, unrelated

AT = {name: place for place, name in enumerate(FIGURES)}
POLICY = PRESETS["keep-home-bred"]


def same(one: Any, other: Any) -> bool:
    """Whether two tables are alike to the last bit, missing figures in the same places."""
    return np.array_equal(one, other, equal_nan=True)


def test_the_same_seed_gives_the_same_answer_however_the_repeats_are_spread() -> None:
    start = related(1)
    whole = run_repeats(start, POLICY, limit=0.0625, seed=7, repeats=range(6))
    assert whole.shape == (6, 10, len(FIGURES))
    assert same(whole, run_repeats(start, POLICY, limit=0.0625, seed=7, repeats=range(6)))
    parts = [run_repeats(start, POLICY, limit=0.0625, seed=7, repeats=[one]) for one in (5, 2, 0, 1, 4, 3)]
    assert same(whole[[5, 2, 0, 1, 4, 3]], np.concatenate(parts))
    assert not same(whole, run_repeats(start, POLICY, limit=0.0625, seed=8, repeats=range(6)))
    assert not same(whole[0], whole[1])
    shuffled = years_after(POLICY, whole[[3, 1, 5, 0, 2, 4]], 2027)
    assert shuffled == years_after(POLICY, whole, 2027)


def test_running_leaves_the_start_as_it_was() -> None:
    start = related(2)
    before = {
        name: np.copy(getattr(start, name)) for name in ("kinship", "shares", "cow", "calved", "served")
    }
    run_repeats(start, POLICY, limit=0.0625, repeats=range(2))
    assert all(np.array_equal(each, getattr(start, name)) for name, each in before.items())


def test_a_better_source_of_bulls_gives_less_inbreeding() -> None:
    start, figures = unrelated(20, 4, 2), {}
    for name in ("every-3-years", "keep-home-bred"):
        found = run_repeats(start, PRESETS[name], limit=0.0625, repeats=range(10))
        figures[name] = years_after(PRESETS[name], found, 2027)
    last = {name: told.by_year[-1][1]["mean"].median or 0.0 for name, told in figures.items()}
    assert last["every-3-years"] < last["keep-home-bred"]
    assert figures["keep-home-bred"].no_place_year.share > figures["every-3-years"].no_place_year.share


def test_calves_on_their_way_are_bred_in_their_turn() -> None:
    """One cow carries a calf of the bull who stays: she comes to him two seasons on, as his daughter."""
    rates = Rates(conception=1.0, calving=1.0, rearing=1.0, heifers=1.0, open_leaves=0.0,
                  other_leaves=0.0, bull_leaves=0.0)  # fmt: skip
    policy = Policy("for ever", keep=1.0, bull_years=None, bull_age=None, strict=False)
    start = unrelated(1, 0, 1)
    with_calf = [Coming(0, -80, 1.0, ((1, 1.0),)), Coming(0, -80, 0.0, ((1, 1.0),))]
    coming = unrelated(1, 0, 1, coming=tuple(with_calf))
    plain = run_repeats(start, policy, rates, limit=0.0625, years=3, repeats=[0])[0]
    more = run_repeats(coming, policy, rates, limit=0.0625, years=3, repeats=[0])[0]
    assert plain[:, AT["females"]].tolist() == [1, 1, 2]
    assert more[:, AT["females"]].tolist() == [1, 2, 3]  # 14 months old a year on; the other never came
    assert more[1, AT["worst"]] == 0.25
    unknown = unrelated(1, 0, 1, coming=(Coming(0, -80, 1.0, ()),))
    assert run_repeats(unknown, policy, rates, limit=0.0625, years=2, repeats=[0])[0, 1, AT["worst"]] == 0.0


def test_who_is_not_part_of_the_herd_is_left_out() -> None:
    start = unrelated(5, 0, 2, stays=np.array([True] * 4 + [False] + [True] * 2))
    found = run_repeats(start, PRESETS["keep-bulls"], SURE, limit=0.0625, years=1, repeats=[0])
    assert found[0, 0, AT["females"]] == 4


def test_the_spread_of_the_repeats() -> None:
    assert spread(np.arange(11.0)) == Spread(5.0, 1.0, 9.0)
    assert spread(np.array([np.nan, 3.0])) == Spread(3.0, 3.0, 3.0)
    assert spread(np.array([np.nan])) == Spread(None, None, None)


def test_the_first_year_without_a_place() -> None:
    found = np.zeros((4, 3, len(FIGURES)))
    found[0, 1:, AT["waiting"]] = 2
    found[1, 2, AT["waiting"]] = 1
    found[:, :, AT["bulls_bought"]] = 1
    told = years_after(POLICY, found, 2027)
    assert told.no_place_year == Turn(0.5, 2028)  # of 2028 and 2029 the earlier
    assert told.idle_bull_year == Turn(0.0, None)
    assert told.bulls_bought == Spread(3.0, 3.0, 3.0)
    assert [year for year, _ in told.by_year] == [2027, 2028, 2029]


@pytest.mark.parametrize(
    "wrong",
    [
        {"keep": 1.5},
        {"keep": -0.1},
        {"kin": 0.6},
        {"bull_years": 0},
        {"size": 0},
        {"swap_every": 0},
        {"cull_years": 0},
        {"source": "stolen"},
    ],
)
def test_a_policy_that_means_nothing_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"Years|share|bought"):
        Policy("x", **wrong)


def test_chances_lie_between_0_and_1() -> None:
    with pytest.raises(ValueError, match="chance"):
        Rates(open_leaves=1.2)


def test_presets_bear_their_names() -> None:
    assert all(name == policy.name for name, policy in PRESETS.items())
    assert PRESETS["keep-home-bred"].source == HOME
