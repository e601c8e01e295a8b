"""The walks of very large herds: as they stand, compiled and by generations they give the same numbers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import kinship, pedigree_walks
from herdbook.husbandry.kinship import find_loops, inbreeding, known_generations, order_parents_first
from herdbook.husbandry.pedigree_walks import AS_THEY_STAND, LOWEST_BIT, Walks, compiled
from herdbook.husbandry.sweeps import inbreeding_by_blocks

Rows = npt.NDArray[np.int64]


def generations(sire: Rows, dam: Rows) -> Rows:
    depth = np.append(np.zeros(len(sire), dtype=np.int64), -1)
    pedigree_walks.depths(sire, dam, depth)
    return depth[:-1]


def by_blocks(sire: list[int], dam: list[int], walk: Walks) -> list[float]:
    one, other = np.array(sire, dtype=np.int64), np.array(dam, dtype=np.int64)
    return inbreeding_by_blocks(one, other, generations(one, other), walk).tolist()


def herd(animals: int, males: int) -> tuple[list[int], list[int]]:
    """Return an invented closed herd: each crop out of the last hundred animals, a tenth of links unknown."""
    dice = np.random.default_rng(animals + males)
    sire, dam = [-1] * animals, [-1] * animals
    for row in range(20, animals):
        near = dice.integers(max(0, row - 100), row, 2)
        if dice.random() < 0.9:
            sire[row] = int(near[0]) // males * males
        if dice.random() < 0.9:
            dam[row] = int(near[1])
    return sire, dam


@pytest.fixture(scope="module")
def quick() -> Walks:
    walks = compiled()
    assert walks is not None, "the tests run with the extra `large`"
    return walks


@pytest.fixture
def all_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pedigree_walks, "WORTH_COMPILING", 0)


def test_lowest_bit() -> None:
    for bit in range(32):
        assert LOWEST_BIT[((1 << bit) * 0x077CB531 & 0xFFFFFFFF) >> 27] == bit


@given(st.data())
def test_blocks_as_they_stand_give_the_same(data: st.DataObject) -> None:
    n = data.draw(st.integers(0, 40))
    parent = [st.integers(max(-1, row - 12), row - 1) for row in range(n)]
    sire, dam = ([data.draw(p) for p in parent] for _ in range(2))
    assert by_blocks(sire, dam, AS_THEY_STAND) == inbreeding(sire, dam).tolist()


@pytest.mark.parametrize(("animals", "males"), [(700, 25), (700, 1), (1_500, 40)])
def test_compiled_blocks_give_the_same(quick: Walks, animals: int, males: int) -> None:
    sire, dam = herd(animals, males)
    wanted = inbreeding(sire, dam).tolist()
    assert max(wanted) > 0
    # Deeper than the 26 generations of which a double holds everything, so that sums may round differently.
    assert by_blocks(sire, dam, quick) == pytest.approx(wanted, abs=1e-13)
    assert by_blocks(sire, dam, quick) == by_blocks(sire, dam, AS_THEY_STAND)


def test_compiled_is_exact_where_a_double_is(quick: Walks) -> None:
    """Twenty crops out of one another: sums of powers of one half that a double holds entirely."""
    dice = np.random.default_rng(2)
    crop = np.repeat(np.arange(20), 150)
    before = (crop - 1) * 150
    sire = np.where((crop > 0) & (dice.random(len(crop)) < 0.9), before + dice.integers(0, 6, len(crop)), -1)
    dam = np.where((crop > 0) & (dice.random(len(crop)) < 0.9), before + dice.integers(6, 150, len(crop)), -1)
    found = inbreeding_by_blocks(sire, dam, generations(sire, dam), quick)
    assert found.max() > 0.2
    assert found.tolist() == inbreeding(sire, dam).tolist()


@given(st.data())
def test_few_dams_and_one_animal_as_both_parents(data: st.DataObject) -> None:
    """The side with fewer animals is walked up, whichever it is."""
    n = data.draw(st.integers(1, 25))
    sire = [data.draw(st.integers(-1, row - 1)) for row in range(n)]
    dam = [data.draw(st.integers(-1, min(row - 1, 1))) for row in range(n)]
    assert by_blocks(sire, dam, AS_THEY_STAND) == inbreeding(sire, dam).tolist()
    assert by_blocks(dam, sire, AS_THEY_STAND) == inbreeding(sire, dam).tolist()


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_threads_share_the_blocks(quick: Walks, threads: int) -> None:
    sire, dam = herd(3_000, 7)
    walks = Walks(lambda walk: getattr(quick, walk.__name__), lambda column: column, threads)
    assert by_blocks(sire, dam, walks) == by_blocks(sire, dam, quick)


def test_large_pedigrees_go_by_compiled_walks(all_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    sire, dam = herd(500, 10)
    quickly = inbreeding(sire, dam), known_generations(sire, dam)
    monkeypatch.setattr(pedigree_walks, "WORTH_COMPILING", 10**9)
    assert quickly[0] == pytest.approx(inbreeding(sire, dam), abs=1e-13)
    assert quickly[1].tolist() == known_generations(sire, dam).tolist()


def test_order_and_loops_by_compiled_walks(all_compiled: None, monkeypatch: pytest.MonkeyPatch) -> None:
    sire, dam = (np.array(side) for side in herd(500, 10))
    mixed = np.random.default_rng(3).permutation(500)
    place = np.append(np.argsort(mixed), -1)
    mixed_links = place[sire[mixed]], place[dam[mixed]]
    order = order_parents_first(*mixed_links)
    circle = mixed_links[0].copy()
    circle[place[20]] = place[499]
    circle[place[499]] = place[20]
    loops = find_loops(circle, mixed_links[1])
    monkeypatch.setattr(pedigree_walks, "WORTH_COMPILING", 10**9)
    assert order.tolist() == order_parents_first(*mixed_links).tolist()
    assert loops == find_loops(circle, mixed_links[1])
    assert len(loops) == 1


def test_without_numba_all_stands_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    compiled.cache_clear()
    try:
        monkeypatch.setitem(sys.modules, "numba", None)
        monkeypatch.setattr(pedigree_walks, "WORTH_COMPILING", 0)
        assert pedigree_walks.walks_for(10) is AS_THEY_STAND
        assert inbreeding([-1, -1, 0, 0, 2], [-1, -1, 1, 1, 3]).tolist() == [0, 0, 0, 0, 0.25]
    finally:
        compiled.cache_clear()


def test_refusals_are_the_same_when_compiled(all_compiled: None) -> None:
    with pytest.raises(ValueError, match="before their offspring"):
        inbreeding([1, -1], [-1, -1])
    assert inbreeding([], []).tolist() == []
    assert kinship.coancestry([-1], [-1], [0.0], [0], [0]).tolist() == [[0.5]]
