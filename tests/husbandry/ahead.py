"""Herds to run forward: unrelated animals, or grown by chance, made without a book."""

from __future__ import annotations

from typing import Any

import numpy as np

from herdbook.husbandry.years import NEVER, Rates, Start

SURE = Rates(
    conception=1.0,
    calving=1.0,
    rearing=1.0,
    open_leaves=0.0,
    other_leaves=0.0,
    bull_leaves=0.0,
)
"""Nothing is lost: every female conceives at her first heat."""


def unrelated(cows: int = 12, heifers: int = 3, bulls: int = 1, **instead: Any) -> Start:
    """Return a herd in which nobody is kin: cows of 3 to 8 years, heifers of 15 months, bulls of 3 years."""
    size = cows + heifers + bulls
    row = np.arange(size)
    cow, female = row < cows, row < cows + heifers
    parts: dict[str, Any] = {
        "kinship": np.eye(size) / 2,
        "shares": np.eye(size),
        "stays": np.ones(size, dtype=bool),
        "female": female,
        "bull": ~female,
        "cow": cow,
        "ready": female,
        "fit": ~female,
        "born": np.where(cow, -365 * (3 + row % 6) - 80, np.where(female, -460, -1100)),
        "calved": np.where(cow, -80, NEVER),
        "served": np.zeros(size, dtype=np.int64),
        "by_hand": np.full(size, -1),
    }
    return Start(**(parts | instead))


def related(seed: int, cows: int = 12, heifers: int = 3, bulls: int = 2) -> Start:
    """Return such a herd in which each animal has two parents of eight unrelated ones."""
    size = cows + heifers + bulls
    chance = np.random.default_rng(seed)
    shares = np.zeros((size, 8))
    for row in range(size):
        shares[row, chance.choice(8, 2, replace=False)] = 0.5
    kinship = shares @ shares.T / 2
    np.fill_diagonal(kinship, 0.5)
    return unrelated(cows, heifers, bulls, kinship=kinship, shares=shares)
