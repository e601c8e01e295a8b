"""Inbreeding against two other ways to it: the table of all pairs, and the inverse written directly."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from herdbook.husbandry.kinship import inbreeding, relationship

PUBLISHED = Path(__file__).parents[1] / "published" / "pedigrees"

Rows = NDArray[np.int64]


def herd(animals: int, seed: int) -> tuple[Rows, Rows]:
    """Return sires and dams of an invented closed herd, parents first, some of them unknown."""
    rng = np.random.default_rng(seed)
    sire, dam = np.full(animals, -1), np.full(animals, -1)
    for row in range(6, animals):
        earliest = max(0, row - 60)
        evens, odds = [np.arange(earliest, row)[np.arange(earliest, row) % 2 == side] for side in (0, 1)]
        if rng.random() < 0.9:
            sire[row] = rng.choice(evens[-4:])
        if rng.random() < 0.9:
            dam[row] = rng.choice(odds)
    return sire, dam


def tabular(sire: Rows, dam: Rows) -> NDArray[np.float64]:
    """Return the relationships of all pairs by the tabular method (Emik and Terrill 1949, from memory)."""
    animals = len(sire)
    table = np.zeros((animals, animals))
    for row in range(animals):
        for parent in (sire[row], dam[row]):
            if parent >= 0:
                table[row, :row] += 0.5 * table[parent, :row]
        table[:row, row] = table[row, :row]
        both = sire[row] >= 0 and dam[row] >= 0
        table[row, row] = 1 + (0.5 * table[sire[row], dam[row]] if both else 0)
    return table


def inverse(sire: Rows, dam: Rows, inbred: NDArray[np.float64]) -> csc_matrix:
    """Return the inverse of the relationships by Henderson's rules (1976, with inbreeding; from memory)."""
    rows, columns, values = [], [], []
    for animal, parents in enumerate(zip(sire, dam, strict=True)):
        known = [parent for parent in parents if parent >= 0]
        mendelian = 1 - sum(0.25 * (1 + inbred[parent]) for parent in known)
        parts = [(animal, 1.0), *((parent, -0.5) for parent in known)]
        for row, left in parts:
            for column, right in parts:
                rows.append(row)
                columns.append(column)
                values.append(left * right / mendelian)
    return csc_matrix((values, (rows, columns)), shape=(len(sire), len(sire)))


@pytest.mark.parametrize("name", ["mrode_table_2_1", "mrode_example_4_1"])
def test_inverse_of_worked_pedigrees(name: str) -> None:
    """The inverse of A, written by Henderson's rules from our inbreeding.

    Source: Mrode & Thompson (2014), 3rd ed.; that of example 4.1 is printed on p. 64 to two decimals, that of
    table 2.1 was worked out from the printed A. Nine figures stand in the files.
    """
    with (PUBLISHED / f"ped_{name}.csv").open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    place = {row["id"]: at for at, row in enumerate(rows)} | {"": -1}
    sire, dam = (np.array([place[row[side]] for row in rows]) for side in ("sire", "dam"))
    inbred = inbreeding(sire, dam)
    written = inverse(sire, dam, inbred).toarray()
    wanted = np.loadtxt(PUBLISHED / f"Ainv_{name}.csv", delimiter=",")
    np.testing.assert_allclose(written, wanted, rtol=0, atol=1e-9)
    everyone = np.arange(len(rows))
    product = written @ relationship(sire, dam, inbred, everyone)
    np.testing.assert_allclose(product, np.eye(len(rows)), rtol=0, atol=1e-14)


@pytest.mark.parametrize("seed", range(5))
def test_table_of_all_pairs(seed: int) -> None:
    """Inbreeding is the diagonal of the table, less one."""
    sire, dam = herd(150, seed)
    expected = np.diag(tabular(sire, dam)) - 1
    assert expected.max() > 0.1
    np.testing.assert_allclose(inbreeding(sire, dam), expected, rtol=0, atol=1e-12)


def test_inverse_written_directly(count: Callable[[int, int], int]) -> None:
    """Solving the sparse inverse, written with these inbreedings, gives the same inbreedings back."""
    animals = count(600, 3000)
    sire, dam = herd(animals, 9)
    inbred = np.asarray(inbreeding(sire, dam))
    solved = splu(inverse(sire, dam, inbred)).solve(np.eye(animals))
    np.testing.assert_allclose(np.diag(solved) - 1, inbred, rtol=0, atol=1e-9)
