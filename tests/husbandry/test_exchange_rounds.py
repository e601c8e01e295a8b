"""The proof by exchanges finishes a poor division, and keeps every group between its least and its places."""

from __future__ import annotations

import numpy as np
import pytest

from herdbook.husbandry.exchange_rounds import Exchange
from herdbook.husbandry.transport import Transport


@pytest.mark.parametrize("seed", range(4))
def test_a_poor_start_is_brought_to_the_best(seed: int) -> None:
    dice = np.random.default_rng(seed)
    price = dice.integers(0, 1_000_000, (30, 4))
    may, least, places = np.ones(price.shape, dtype=bool), np.array([0, 6, 0, 9]), np.array([9, 9, 9, 9])
    best = Transport(price, least, places)
    assert best.settle()
    exchange = Exchange(price, may, least, places, np.array([0] * 9 + [1] * 9 + [2] * 3 + [3] * 9))
    assert exchange.finish()
    held = np.bincount(exchange.group, minlength=4)
    assert price[np.arange(30), exchange.group].sum() == best.total
    assert np.all((least <= held) & (held <= places))
