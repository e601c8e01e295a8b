"""How fast the years after are: a herd of 30 cows through ten years, 200 times over, in well under 20 s.

Each prints its time. What is held to is a ratio within one run: ten years of the herd cost no more than a few
times what its sorts alone would cost if each were proven by the solver for large herds.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from herdbook.husbandry.sorting import place
from herdbook.husbandry.years import PRESETS, run_repeats
from tests.husbandry.ahead import related

pytestmark = pytest.mark.bench

YEARS, REPEATS = 10, 200


@pytest.mark.parametrize("name", PRESETS)
def test_thirty_cows_ten_years_two_hundred_times(benchmark: Any, name: str) -> None:
    start = related(1, 26, 4, 2)
    benchmark.pedantic(
        run_repeats,
        (start, PRESETS[name]),
        {"limit": 0.0625, "years": YEARS, "repeats": range(REPEATS)},
        rounds=3,
    )


@pytest.mark.parametrize("cows", [100, 300])
def test_larger_herds(benchmark: Any, cows: int) -> None:
    start = related(1, cows, cows // 6, cows // 25)
    benchmark.pedantic(
        run_repeats,
        (start, PRESETS["keep-home-bred"]),
        {"limit": 0.0625, "years": YEARS, "repeats": range(5)},
        rounds=1,
    )


def test_a_season_costs_less_than_two_proven_sorts(say_figures: Callable[[str], None]) -> None:
    """The least of several, since other work on the machine only ever adds."""
    start, chance = related(1, 26, 4, 2), np.random.default_rng(1)
    cost, allowed, room = (
        chance.integers(0, 8, (30, 2)) / 64,
        np.ones((30, 2), dtype=bool),
        np.array([20, 20]),
    )

    def least(what: Callable[[], object], times: int) -> float:
        found = []
        for _ in range(5):
            begun = time.perf_counter()
            what()
            found.append((time.perf_counter() - begun) / times)
        return min(found)

    def sorts() -> None:
        for _ in range(20):
            place(cost, allowed, room, limit=0.0625)

    def seasons() -> None:
        run_repeats(start, PRESETS["keep-home-bred"], limit=0.0625, years=YEARS, repeats=range(10))

    sort, season = least(sorts, 20), least(seasons, 10 * YEARS)
    whole = season * YEARS * REPEATS
    say_figures(
        f"a season {1e3 * season:.2f} ms, a proven sort {1e3 * sort:.2f} ms; 30 cows x {YEARS} years x "
        f"{REPEATS} repeats {whole:.1f} s"
    )
    assert season < 2 * sort
