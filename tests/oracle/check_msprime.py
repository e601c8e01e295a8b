"""Inbreeding and kinship against genes dropped down the pedigree by msprime, within chance.

The inbreeding of an animal is the chance that its two copies of a gene are one copy of an ancestor within the
pedigree; the coancestry of two animals the chance of that for a copy of each, drawn at random.
"""

from __future__ import annotations

from itertools import product

import msprime
import numpy as np
import pytest

from herdbook.husbandry.kinship import coancestry, inbreeding
from tests.oracle.pedigrees import Rows, herd, published

DROPS = 4_000
WITHIN = 4.5
"""Standard errors: 300 figures are compared, and the seeds are fixed."""


def whole(sire: Rows, dam: Rows) -> tuple[list[int], list[int]]:
    """Give each animal with one known parent a founder of its own as the other; those stand behind."""
    fathers, mothers = sire.tolist(), dam.tolist()
    for row in range(len(fathers)):
        if (fathers[row] < 0) != (mothers[row] < 0):
            side = fathers if fathers[row] < 0 else mothers
            side[row] = len(fathers)
            fathers.append(-1)
            mothers.append(-1)
    return fathers, mothers


def dropped(sire: Rows, dam: Rows, pairs: list[tuple[int, int]], seed: int) -> np.ndarray:
    """Return, for each pair of animals, how often copies of the two were one; for one twice, its own two."""
    fathers, mothers = whole(sire, dam)
    size = len(fathers)
    age = [0] * size
    for row in range(len(sire) - 1, -1, -1):
        for parent in (fathers[row], mothers[row]):
            if parent >= 0:
                age[parent] = max(age[parent], age[row] + 1)
    builder = msprime.PedigreeBuilder()
    asked = {animal for pair in pairs for animal in pair}
    number: dict[int, int] = {}
    founders = [row for row in range(size) if fathers[row] < 0]
    for row in [*founders, *(row for row in range(size) if fathers[row] >= 0)]:
        parents = None if fathers[row] < 0 else [number[fathers[row]], number[mothers[row]]]
        number[row] = builder.add_individual(time=age[row], parents=parents, is_sample=row in asked)
    start = builder.finalise(1)
    tables = start.nodes.individual
    copies = {row: np.flatnonzero(tables == number[row]).tolist() for row in asked}
    same = np.zeros(len(pairs))
    runs = msprime.sim_ancestry(
        initial_state=start, model="fixed_pedigree", num_replicates=DROPS, random_seed=seed
    )
    for run in runs:
        tree = run.first()
        for at, (one, other) in enumerate(pairs):
            choices = [tuple(copies[one])] if one == other else list(product(copies[one], copies[other]))
            same[at] += sum(tree.mrca(*choice) >= 0 for choice in choices) / len(choices)
    return same / DROPS


def agree(sire: Rows, dam: Rows, pairs: list[tuple[int, int]], seed: int) -> None:
    f = inbreeding(sire, dam)
    table = coancestry(sire, dam, f, np.arange(len(f)), np.arange(len(f)))
    wanted = np.array([f[one] if one == other else table[one, other] for one, other in pairs])
    found = dropped(sire, dam, pairs, seed)
    error = np.sqrt(np.maximum(wanted * (1 - wanted), 1e-9) / DROPS)
    assert wanted.max() > 0
    assert np.all(np.abs(found - wanted) <= WITHIN * error + 1e-12), list(
        zip(pairs, wanted, found, strict=True)
    )


NAMES = "comet_favourite gse_contributions16 henderson_1976 mrode_table_2_1 roan_gauntlet wray_1990".split()


@pytest.mark.parametrize("name", NAMES)
def test_published_pedigrees(name: str) -> None:
    sire, dam = published(f"ped_{name}.csv")
    animals = range(len(sire))
    agree(sire, dam, [(one, other) for one in animals for other in animals if one <= other], seed=11)


@pytest.mark.parametrize("seed", [5, 6])
def test_invented_herds(seed: int) -> None:
    sire, dam = herd(60, 10, 0.1, seed)
    last = list(range(50, 60))
    inbred = np.argsort(inbreeding(sire, dam))[-5:].tolist()
    pairs = [(one, one) for one in inbred] + [(one, other) for one in last for other in last if one < other]
    agree(sire, dam, pairs, seed)
