"""Inbreeding and kinship as sgkit works them out, digit for digit, and how much longer it takes."""

from __future__ import annotations

import statistics
import time
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import sgkit
import xarray

from herdbook.husbandry import pedigree_walks
from herdbook.husbandry.kinship import coancestry, inbreeding, relationship
from tests.oracle.pedigrees import MATINGS, NAMES, Rows, herd, published

HERDS = [(40, 8, 0.0, 1), (200, 12, 0.1, 2), (400, 20, 0.3, 3), (600, 25, 0.05, 4)]


def dataset(sire: Rows, dam: Rows) -> xarray.Dataset:
    """Return a pedigree as sgkit takes it."""
    return xarray.Dataset({"parent": (("samples", "parents"), np.stack([sire, dam], axis=1))})


def their_inbreeding(sire: Rows, dam: Rows) -> npt.NDArray[np.float64]:
    asked = sgkit.pedigree_inbreeding(dataset(sire, dam), allow_half_founders=True)
    return np.asarray(asked.stat_pedigree_inbreeding.values)


def their_kinship(sire: Rows, dam: Rows) -> npt.NDArray[np.float64]:
    asked = sgkit.pedigree_kinship(dataset(sire, dam), allow_half_founders=True)
    return np.asarray(asked.stat_pedigree_kinship.values)


def agree(sire: Rows, dam: Rows) -> None:
    f = inbreeding(sire, dam)
    assert f.tolist() == their_inbreeding(sire, dam).tolist()
    theirs = their_kinship(sire, dam)
    everyone = np.arange(len(sire))
    assert coancestry(sire, dam, f, everyone, everyone).tolist() == theirs.tolist()
    assert coancestry(sire, dam, f, everyone[-5:], everyone).tolist() == theirs[-5:].tolist()
    some = everyone[::3]
    assert relationship(sire, dam, f, some).tolist() == (2.0 * theirs[np.ix_(some, some)]).tolist()


@pytest.mark.parametrize("name", NAMES)
def test_published_pedigrees(name: str) -> None:
    agree(*published(f"ped_{name}.csv"))


@pytest.mark.parametrize("name", MATINGS)
def test_kinds_of_mating(name: str) -> None:
    agree(*published(f"matings/{name}.csv"))


@pytest.mark.parametrize("shape", HERDS, ids=lambda shape: f"{shape[0]} animals")
@pytest.mark.parametrize("least", [0, 10**9], ids=["compiled", "as it stands"])
def test_invented_herds(shape: Any, least: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pedigree_walks, "WORTH_COMPILING", least)
    sire, dam = herd(*shape)
    assert inbreeding(sire, dam).max() > 0
    agree(sire, dam)


def test_a_hundred_thousand_animals_take_a_tenth_of_the_time(capsys: pytest.CaptureFixture[str]) -> None:
    """Median of three, the two in turn, with what compiling takes left out; and the same numbers."""
    small, large = herd(40_000), herd(100_000)
    for work in (inbreeding, their_inbreeding):  # compiled or fetched from where it is kept
        work(*small)
    times: dict[Any, list[float]] = {inbreeding: [], their_inbreeding: []}
    for _ in range(3):
        found = []
        for work, taken in times.items():
            began = time.perf_counter()
            found.append(work(*large).tolist())
            taken.append(time.perf_counter() - began)
        assert found[0] == found[1]
    ours, theirs = (statistics.median(taken) for taken in times.values())
    with capsys.disabled():
        print(f"\n100,000 animals: {ours:.3f} s, sgkit {theirs:.2f} s: {theirs / ours:.0f} times as long")
    assert theirs >= 10 * ours
