"""The pedigrees that are asked about: the published ones, and invented herds of any size."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import numpy.typing as npt

Rows = npt.NDArray[np.int64]
PUBLISHED = Path(__file__).parents[1] / "published" / "pedigrees"
NAMES = sorted(path.stem.removeprefix("ped_") for path in PUBLISHED.glob("ped_*.csv"))
MATINGS = sorted(path.stem for path in (PUBLISHED / "matings").glob("*.csv"))


def published(path: str) -> tuple[Rows, Rows]:
    """Return sires and dams of a published pedigree, parents first."""
    with (PUBLISHED / path).open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    place = {row["id"]: at for at, row in enumerate(rows)} | {"": -1}
    sire, dam = (np.array([place[row[side]] for row in rows]) for side in ("sire", "dam"))
    return sire, dam


def herd(animals: int, crops: int = 60, unknown: float = 0.1, seed: int = 1) -> tuple[Rows, Rows]:
    """Return an invented herd: yearly crops, one bull to 25 calves, bulls of 1-5 and cows of 1-9 years."""
    dice = np.random.default_rng(seed)
    male = dice.random(animals) < 0.5
    crop = np.minimum(np.arange(animals) * crops // animals, crops - 1)
    sire, dam = np.full(animals, -1), np.full(animals, -1)
    for year in range(1, crops):
        calves = np.flatnonzero(crop == year)
        young = np.flatnonzero(male & (crop < year) & (crop >= year - 5))
        bulls = dice.choice(young, 2 + len(calves) // 25)
        cows = np.flatnonzero(~male & (crop < year) & (crop >= year - 9))
        known = dice.random((2, len(calves))) >= unknown
        sire[calves] = np.where(known[0], dice.choice(bulls, len(calves)), -1)
        dam[calves] = np.where(known[1], dice.choice(cows, len(calves)), -1)
    return sire, dam
