"""Inbreeding and kinship against published pedigrees, the tabular method, and every one of Wright's paths."""

from __future__ import annotations

import csv
import random
from collections import defaultdict
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import kinship
from herdbook.husbandry.kinship import (
    coancestry,
    find_loops,
    inbreeding,
    known_generations,
    order_parents_first,
    shared_ancestors,
)

PUBLISHED = Path(__file__).parents[1] / "published" / "pedigrees"
Links = tuple[list[int], list[int]]


def table(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def pedigree(name: str) -> tuple[list[str], list[int], list[int], list[dict[str, str]]]:
    """Return names, sires, dams and the rows of a published pedigree, all of which list parents first."""
    rows = table(name)
    names = [row["id"] for row in rows]
    place = {name: number for number, name in enumerate(names)} | {"": -1}
    return names, [place[row["sire"]] for row in rows], [place[row["dam"]] for row in rows], rows


def tabular(sire: list[int], dam: list[int]) -> npt.NDArray[np.float64]:
    """Return all relationships by the tabular method (Emik & Terrill 1949; from memory): slow and plain."""
    n = len(sire)
    a = np.zeros((n, n))
    for row in range(n):
        for parent in (sire[row], dam[row]):
            if parent >= 0:
                a[row, :row] += 0.5 * a[parent, :row]
        a[:row, row] = a[row, :row]
        a[row, row] = 1.0 + (0.5 * a[sire[row], dam[row]] if sire[row] >= 0 and dam[row] >= 0 else 0.0)
    return a


def lines_up(row: int, sire: list[int], dam: list[int]) -> Iterator[tuple[int, ...]]:
    """Yield every line of descent from an animal upwards, itself first."""
    yield (row,)
    for parent in (sire[row], dam[row]):
        if parent >= 0:
            for line in lines_up(parent, sire, dam):
                yield (row, *line)


def wright(sire: list[int], dam: list[int], f: list[float], father: int, mother: int) -> dict[int, float]:
    """Return Wright's path contributions by common ancestor, every pair of paths written out (1922)."""
    shares: dict[int, float] = defaultdict(float)
    for one in lines_up(father, sire, dam):
        for other in lines_up(mother, sire, dam):
            if one[-1] == other[-1] and not set(one[:-1]) & set(other[:-1]):
                shares[one[-1]] += 0.5 ** (len(one) + len(other) - 1) * (1.0 + f[one[-1]])
    return dict(shares)


@st.composite
def pedigrees(draw: st.DrawFn, most: int = 14) -> Links:
    """Draw a pedigree, parents first, of any shape: half-founders, full sibs, one animal as both parents."""
    n = draw(st.integers(1, most))
    parents = [draw(st.tuples(st.integers(-1, row - 1), st.integers(-1, row - 1))) for row in range(n)]
    return [sire for sire, _ in parents], [dam for _, dam in parents]


# -- published --

SOURCES = {row["key"]: row for row in table("sources.csv")}


@pytest.mark.parametrize("key", SOURCES)
def test_published_inbreeding(key: str) -> None:
    # Source of each: tests/published/pedigrees/sources.csv, with whether its text was read or remembered.
    _, sire, dam, rows = pedigree(f"ped_{key}.csv")
    f = inbreeding(sire, dam)
    assert f.tolist() == [float(Fraction(row["F_fraction"])) for row in rows]
    for found, row in zip(f.tolist(), rows, strict=True):
        if row["F_as_published"]:  # as printed, cut or rounded to the digits printed
            assert found == pytest.approx(float(row["F_as_published"]), abs=1e-3)


@pytest.mark.parametrize("key", SOURCES)
def test_published_relationships(key: str) -> None:
    names, sire, dam, _ = pedigree(f"ped_{key}.csv")
    known = {row["id"]: row for row in table(f"A_{key}.csv")}
    everyone = np.arange(len(names))
    half = coancestry(sire, dam, inbreeding(sire, dam), everyone, everyone)
    assert (2 * half).tolist() == [[float(known[a][b]) for b in names] for a in names]


@pytest.mark.parametrize("key", SOURCES)
def test_published_sampling_variance(key: str) -> None:
    # Printed for Mrode table 2.1 (1, 1, .5, .75, .5, .469) and Schaeffer lesson 7 (animal G 15/32).
    _, sire, dam, rows = pedigree(f"ped_{key}.csv")
    found = kinship._Pedigree(sire, dam).sampling(inbreeding(sire, dam))
    assert found.tolist() == [float(row["mendelian_D"]) for row in rows]


@pytest.mark.parametrize("case", table("matings.csv"), ids=lambda case: case["mating"])
def test_calf_of_each_kind_of_mating(case: dict[str, str]) -> None:
    # Source of each: tests/published/pedigrees/matings.csv (Lynch & Walsh 1998, Table 7.1; Wright's rule).
    names, sire, dam, _ = pedigree(f"matings/{case['mating']}.csv")
    calf, wanted = names.index("X"), float(Fraction(case["F_calf"]))
    f = inbreeding(sire, dam)
    assert f[calf] == wanted
    assert coancestry(sire, dam, f, [sire[calf]], [dam[calf]])[0, 0] == wanted
    assert sum(part.share for part in shared_ancestors(sire, dam, f, sire[calf], dam[calf])) == wanted


def full_sib(generations: int) -> tuple[list[int], list[int], list[int]]:
    sire, dam, shown, pair = [-1, -1], [-1, -1], [0], (0, 1)
    for _ in range(generations):
        here = len(sire)
        sire += [pair[0]] * 2
        dam += [pair[1]] * 2
        pair = (here, here + 1)
        shown.append(here)
    return sire, dam, shown


def half_sib_one_male(generations: int) -> tuple[list[int], list[int], list[int]]:
    """One male and his half sisters, each of whom leaves one calf by him: one fewer every generation."""
    herd = list(range(generations + 3))
    sire, dam, shown = [-1] * len(herd), [-1] * len(herd), [0]
    for _ in range(generations):
        here = len(sire)
        sire += [herd[0]] * (len(herd) - 1)
        dam += herd[1:]
        herd = list(range(here, len(sire)))
        shown.append(here)
    return sire, dam, shown


def backcross(generations: int) -> tuple[list[int], list[int], list[int]]:
    sire, dam, shown = [-1, -1], [-1, -1], [1]
    for _ in range(generations):
        sire.append(0)
        dam.append(shown[-1])
        shown.append(len(sire) - 1)
    return sire, dam, shown


def younger_parent(generations: int) -> tuple[list[int], list[int], list[int]]:
    """Each animal mated to the younger of its parents."""
    sire, dam, shown = [-1, -1], [-1, -1], [0, 1]
    for _ in range(generations):
        sire.append(shown[-2])
        dam.append(shown[-1])
        shown.append(len(sire) - 1)
    return sire, dam, shown[1:]


def double_first_cousins(generations: int) -> tuple[list[int], list[int], list[int]]:
    """Two couples, each with a son and a daughter; each son goes to the daughter of the other couple."""
    sire, dam, shown, couples = [-1] * 4, [-1] * 4, [0], [(0, 1), (2, 3)]
    for _ in range(generations):
        here = len(sire)
        for father, mother in couples:
            sire += [father] * 2
            dam += [mother] * 2
        couples = [(here, here + 3), (here + 2, here + 1)]
        shown.append(here)
    return sire, dam, shown


def selfing(generations: int) -> tuple[list[int], list[int], list[int]]:
    """One parent alone: no animal does so, and the sums must bear it."""
    before = list(range(-1, generations))
    return before, before, list(range(generations + 1))


SYSTEMS: dict[str, Callable[[int], tuple[list[int], list[int], list[int]]]] = {
    "full_sib": full_sib,
    "parent_offspring_younger": younger_parent,
    "half_sib_one_male": half_sib_one_male,
    "backcross_to_one_noninbred_sire": backcross,
    "double_first_cousins": double_first_cousins,
    "selfing": selfing,
}
INBRED_SIRE = "backcross_to_fully_inbred_sire"


def systematic(system: str) -> list[float]:
    return [float(Fraction(row["F"])) for row in table("systematic_mating.csv") if row["system"] == system]


@pytest.mark.parametrize("system", SYSTEMS)
def test_systematic_mating(system: str) -> None:
    # Wright's recurrences as in Falconer & Mackay, Table 5.1 (from memory).
    wanted = systematic(system)
    sire, dam, shown = SYSTEMS[system](len(wanted) - 1)
    assert inbreeding(sire, dam)[shown].tolist() == wanted


def test_backcross_to_a_sire_that_is_wholly_inbred() -> None:
    # As above. Forty generations of selfing leave the sire 2**-40 short of it.
    line, _, _ = selfing(40)
    bull, wanted = len(line) - 1, systematic(INBRED_SIRE)
    sire, dam = [*line, -1], [*line, -1]
    for _ in wanted[1:]:
        sire.append(bull)
        dam.append(len(dam) - 1)
    assert inbreeding(sire, dam)[bull + 1 :] == pytest.approx(wanted, abs=2.0**-39)


def test_every_system_is_tried() -> None:
    assert {row["system"] for row in table("systematic_mating.csv")} == {*SYSTEMS, INBRED_SIRE}


def test_favourite_and_comet_within_the_published_range() -> None:
    # Wright (1922 Am. Nat. 56:330; 1923 J. Heredity 14:339) .192 and .471, with remoter ties; from memory.
    names, sire, dam, _ = pedigree("ped_comet_favourite.csv")
    f = inbreeding(sire, dam)
    assert 0.18 <= f[names.index("Favourite")] <= 0.20
    assert 0.46 <= f[names.index("Comet")] <= 0.48


# -- against the slow forms --


@given(pedigrees())
def test_equals_the_tabular_method(links: Links) -> None:
    a = tabular(*links)
    f = inbreeding(*links)
    assert f.tolist() == (np.diag(a) - 1.0).tolist()
    rows = np.arange(len(f))
    assert (2 * coancestry(*links, f, rows, rows)).tolist() == a.tolist()
    few = rows[: max(1, len(f) // 3)]
    assert (2 * coancestry(*links, f, few, rows)).tolist() == a[few].tolist()
    assert (2 * coancestry(*links, f, rows, few)).tolist() == a[:, few].tolist()


@given(pedigrees(9), st.data())
def test_shares_are_wright_s_paths_and_add_up(links: Links, data: st.DataObject) -> None:
    f = inbreeding(*links)
    father, mother = (data.draw(st.integers(0, len(f) - 1)) for _ in range(2))
    parts = shared_ancestors(*links, f, father, mother)
    assert {part.ancestor: part.share for part in parts} == wright(*links, f.tolist(), father, mother)
    assert sum(part.share for part in parts) == coancestry(*links, f, [father], [mother])[0, 0]
    assert parts == sorted(parts, key=lambda part: (-part.share, part.ancestor))


def test_narrow_strips_of_shared_ancestors_give_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    dice = np.random.default_rng(9)
    sire = [-1] * 10 + [int(dice.integers(0, row)) for row in range(10, 90)]
    dam = [-1] * 10 + [int(dice.integers(0, row)) for row in range(10, 90)]
    f = inbreeding(sire, dam)
    whole = shared_ancestors(sire, dam, f, 88, 89)
    for width in (1, 7):
        monkeypatch.setattr(kinship, "_STRIP", width)
        assert shared_ancestors(sire, dam, f, 88, 89) == whole
    assert sum(part.share for part in whole) == coancestry(sire, dam, f, [88], [89])[0, 0]


@given(pedigrees(), st.randoms(use_true_random=False))
def test_any_order_of_rows_gives_the_same(links: Links, dice: random.Random) -> None:
    n = len(links[0])
    mixed = list(range(n))
    dice.shuffle(mixed)
    place = {row: here for here, row in enumerate(mixed)} | {-1: -1}
    sire, dam = ([place[side[row]] for row in mixed] for side in links)
    order = order_parents_first(sire, dam)
    assert sorted(order.tolist()) == list(range(n))
    at = {int(row): here for here, row in enumerate(order)} | {-1: -1}
    assert all(at[sire[row]] < at[row] and at[dam[row]] < at[row] for row in order.tolist())
    f = inbreeding([at[sire[row]] for row in order], [at[dam[row]] for row in order])
    assert [f[at[place[row]]] for row in range(n)] == inbreeding(*links).tolist()


@given(pedigrees(9))
def test_known_generations_count_every_ancestor(links: Links) -> None:
    # Maignel, Boichard & Verrier 1996 (from memory): the sum over known ancestors of (1/2)**n.
    known = known_generations(*links)
    for row in range(len(known)):
        assert known[row] == sum(0.5 ** (len(line) - 1) for line in lines_up(row, *links) if len(line) > 1)


def test_known_generations_of_a_plain_family() -> None:
    assert known_generations([-1, -1, 0, 0, 2], [-1, -1, 1, -1, 3]).tolist() == [0.0, 0.0, 1.0, 0.5, 1.75]


def test_narrow_strips_give_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    dice = np.random.default_rng(5)
    sire = [-1] * 10 + [int(dice.integers(0, row)) for row in range(10, 120)]
    dam = [-1] * 10 + [int(dice.integers(0, row)) for row in range(10, 120)]
    f = inbreeding(sire, dam)
    whole = coancestry(sire, dam, f, range(60), range(120))
    monkeypatch.setattr(kinship, "_CELLS_AT_ONCE", 500)
    assert inbreeding(sire, dam).tolist() == f.tolist()
    assert coancestry(sire, dam, f, range(60), range(120)).tolist() == whole.tolist()


def test_shared_ancestors_of_half_sibs_and_of_strangers() -> None:
    sire, dam = [-1, -1, -1, 0, 0], [-1, -1, -1, 1, 2]
    f = inbreeding(sire, dam)
    assert shared_ancestors(sire, dam, f, 3, 4) == [kinship.Shared(0, 0.125)]
    assert shared_ancestors(sire, dam, f, 1, 2) == []
    assert shared_ancestors(sire, dam, f, 0, 3) == [
        kinship.Shared(0, 0.25)
    ]  # sire and daughter: the sire himself


# -- loops and refusals --


def test_every_animal_of_each_loop_is_named() -> None:
    #       0   1   2   3   4   5   6   7
    sire = [-1, 2, 3, 1, -1, 5, 1, -1]  # 1 <- 2 <- 3 <- 1; 5 is its own sire; 6 only descends from a loop
    dam = [-1, 0, -1, 4, -1, 0, 5, 6]
    assert find_loops(sire, dam) == [[1, 2, 3], [5]]
    with pytest.raises(ValueError, match="own ancestor"):
        order_parents_first(sire, dam)


@given(pedigrees())
def test_no_loop_is_seen_where_there_is_none(links: Links) -> None:
    assert find_loops(*links) == []
    back = [[-1 if parent < 0 else len(side) - 1 - parent for parent in reversed(side)] for side in links]
    assert find_loops(*back) == []  # parents after their offspring


@given(st.lists(st.tuples(st.integers(-1, 7), st.integers(-1, 7)), min_size=8, max_size=8))
def test_loops_are_the_animals_that_reach_themselves(parents: list[tuple[int, int]]) -> None:
    reach = np.zeros((8, 8), dtype=int)
    for row, pair in enumerate(parents):
        for parent in pair:
            if parent >= 0:
                reach[row, parent] = 1
    for _ in range(8):
        reach = np.minimum(reach + reach @ reach, 1)
    own = [row for row in range(8) if reach[row, row]]
    groups = sorted({tuple(b for b in own if reach[a, b] and reach[b, a]) for a in own})
    found = find_loops([sire for sire, _ in parents], [dam for _, dam in parents])
    assert found == [list(group) for group in groups]
    assert all(type(row) is int for loop in found for row in loop)


def test_a_hundred_thousand_generations() -> None:
    n = 100_000
    deep = np.arange(n) - 1  # each the sire of the next
    none = np.full(n, -1)
    assert find_loops(deep, none) == []
    assert inbreeding(deep, none).max() == 0.0
    backwards = np.append(np.arange(1, n), -1)
    assert find_loops(backwards, none) == []
    assert order_parents_first(backwards, none)[0] == n - 1
    circle = np.append(np.arange(1, n), 0)
    assert find_loops(circle, none) == [list(range(n))]


def test_an_empty_herd() -> None:
    assert inbreeding([], []).tolist() == []
    assert known_generations([], []).tolist() == []
    assert find_loops([], []) == []
    assert order_parents_first([], []).tolist() == []
    assert coancestry([], [], [], [], []).shape == (0, 0)
    assert coancestry([-1, -1], [-1, -1], [0.0, 0.0], [], [0, 1]).shape == (0, 2)


@pytest.mark.parametrize(
    ("sire", "dam", "says"),
    [
        ([1, -1], [-1, -1], "before their offspring"),
        ([0], [-1], "own ancestor"),
        ([-1, 2], [-1, -1], "outside the pedigree"),
        ([-1, -2], [-1, -1], "outside the pedigree"),
        ([-1, -1], [-1], "same length"),
        ([-1.0, 0.0], [-1, -1], "row numbers"),
    ],
)
def test_what_is_no_pedigree_is_refused(sire: list[int], dam: list[int], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        inbreeding(sire, dam)


def test_rows_and_coefficients_are_checked() -> None:
    with pytest.raises(ValueError, match="outside"):
        coancestry([-1], [-1], [0.0], [1], [0])
    with pytest.raises(ValueError, match="one inbreeding coefficient"):
        coancestry([-1], [-1], [0.0, 0.0], [0], [0])
    with pytest.raises(ValueError, match="outside"):
        shared_ancestors([-1], [-1], [0.0], -1, 0)


# -- a chosen few --


@given(pedigrees(), st.data())
def test_relationships_of_a_chosen_few(links: Links, data: st.DataObject) -> None:
    a = tabular(*links)
    rows = data.draw(st.lists(st.integers(0, len(a) - 1), max_size=6))
    found = kinship.relationship(*links, inbreeding(*links), rows)
    assert found.tolist() == a[rows][:, rows].tolist()


@given(pedigrees())
def test_generations_in_any_order(links: Links) -> None:
    depth = kinship.generations(*links).tolist()
    for row, parents in enumerate(zip(*links, strict=True)):
        assert depth[row] == 1 + max((depth[parent] for parent in parents if parent >= 0), default=-1)
    back = [[-1 if parent < 0 else len(side) - 1 - parent for parent in reversed(side)] for side in links]
    assert kinship.generations(*back).tolist() == depth[::-1]
