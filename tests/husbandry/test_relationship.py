"""Paths through shared ancestors and the usual words: published matings, and every path written out."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path as File

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import relationship as module
from herdbook.husbandry.kinship import coancestry, inbreeding
from herdbook.husbandry.relationship import DOUBLE_COUSINS, THREE_QUARTER_SIBS, Tie, relationship

PUBLISHED = File(__file__).parents[1] / "published" / "pedigrees"
Links = tuple[list[int], list[int]]


def table(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


@st.composite
def pedigrees(draw: st.DrawFn, most: int = 9) -> Links:
    """Draw a pedigree, parents first, of any shape: half-founders, full sibs, one animal as both parents."""
    n = draw(st.integers(1, most))
    parents = [draw(st.tuples(st.integers(-1, row - 1), st.integers(-1, row - 1))) for row in range(n)]
    return [sire for sire, _ in parents], [dam for _, dam in parents]


def lines_up(row: int, sire: list[int], dam: list[int]) -> Iterator[tuple[int, ...]]:
    yield (row,)
    for parent in (sire[row], dam[row]):
        if parent >= 0:
            for line in lines_up(parent, sire, dam):
                yield (row, *line)


def every_path(links: Links, one: int, other: int) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Return every pair of lines that meet in one ancestor and nowhere below (Wright 1922)."""
    return [
        (first, second)
        for first in lines_up(one, *links)
        for second in lines_up(other, *links)
        if first[-1] == second[-1] and not set(first[:-1]) & set(second[:-1])
    ]


@given(pedigrees(), st.data())
def test_all_paths_are_found_and_add_up(links: Links, data: st.DataObject) -> None:
    f = inbreeding(*links)
    one, other = (data.draw(st.integers(0, len(f) - 1)) for _ in range(2))
    told = relationship(*links, f, one, other, most=1000)
    wanted = every_path(links, one, other)
    assert sorted((p.one, p.other) for each in told.through for p in each.paths) == sorted(wanted)
    assert all(each.more == 0 and each.rest == 0.0 for each in told.through)
    assert all(sum(path.share for path in each.paths) == each.share for each in told.through)
    assert told.coancestry == coancestry(*links, f, [one], [other])[0, 0]
    assert sum(tie.share for tie in told.ties) == told.coancestry
    assert told.rest == 0.0


@given(pedigrees(), st.integers(1, 3), st.data())
def test_what_is_left_out_is_counted_and_told(links: Links, most: int, data: st.DataObject) -> None:
    f = inbreeding(*links)
    one, other = (data.draw(st.integers(0, len(f) - 1)) for _ in range(2))
    told = relationship(*links, f, one, other, most=most)
    lengths: dict[int, list[int]] = defaultdict(list)
    for first, second in every_path(links, one, other):
        lengths[first[-1]].append(len(first) + len(second) - 2)
    for each in told.through:
        shortest = sorted(lengths[each.ancestor])
        assert [path.links for path in each.paths] == shortest[:most]
        assert each.more == max(0, len(shortest) - most)
        assert sum(path.share for path in each.paths) + each.rest == each.share
    assert sum(tie.share for tie in told.ties) + told.rest == told.coancestry


@given(pedigrees(12), st.data())
def test_a_word_never_contradicts_the_coefficient(links: Links, data: st.DataObject) -> None:
    """Each tie brings what its kind brings, for each way and ancestor, times one and the ancestor's own F."""
    f = inbreeding(*links)
    one, other = (data.draw(st.integers(0, len(f) - 1)) for _ in range(2))
    for tie in relationship(*links, f, one, other, most=1000).ties:
        if tie.name or tie.times > 1:
            continue
        assert len(tie.ancestors) == (2 if tie.full else 1)
        nominal = 0.5 ** (sum(tie.up) + 1)
        assert tie.share == sum(nominal * (1.0 + f[row]) for row in tie.ancestors)


FULL, HALF = True, False
EXPECTED: dict[str, list[tuple[tuple[int, int], bool, str, str]]] = {
    # generations up from sire and dam, full or half, name of its own, through whom
    "full_sibs": [((1, 1), FULL, "", "SD")],
    "half_sibs_paternal": [((1, 1), HALF, "", "S")],
    "half_sibs_maternal": [((1, 1), HALF, "", "D")],
    "sire_daughter": [((0, 1), HALF, "", "S")],
    "son_dam": [((1, 0), HALF, "", "D")],
    "grandsire_granddaughter": [((0, 2), HALF, "", "S")],
    "great_grandsire": [((0, 3), HALF, "", "S")],
    "uncle_niece": [((1, 2), FULL, "", "SD")],
    "half_uncle_niece": [((1, 2), HALF, "", "S")],
    "first_cousins": [((2, 2), FULL, "", "SD")],
    "half_first_cousins": [((2, 2), HALF, "", "S")],
    "double_first_cousins": [((2, 2), FULL, DOUBLE_COUSINS, "")],
    "first_cousins_once_removed": [((2, 3), FULL, "", "SD")],
    "half_sib_sires_half_sib_dams": [((2, 2), HALF, "", "GH")],
    "second_cousins": [((3, 3), FULL, "", "")],
    "three_quarter_sibs_sires_full_brothers_same_dam": [((1, 1), HALF, THREE_QUARTER_SIBS, "QSD")],
    "three_quarter_sibs_sires_father_and_son_same_dam": [((1, 1), HALF, THREE_QUARTER_SIBS, "")],
    "same_paternal_grandsire_of_both_and_same_dam_line": [((1, 1), HALF, "", ""), ((1, 2), HALF, "", "")],
    "half_sibs_common_sire_F_1_4": [((1, 1), HALF, "", "Z")],
    "sire_daughter_sire_F_1_4": [((0, 1), HALF, "", "Z")],
    "sire_daughter_sire_F_3_8": [((0, 1), HALF, "", "Z")],
    "full_sibs_both_parents_F_1_4": [((1, 1), FULL, "", "ZW")],
    "first_cousins_one_common_grandparent_F_1_4": [((2, 2), FULL, "", "")],
    "inbred_parents_unrelated": [],
}


@pytest.mark.parametrize("case", table("matings.csv"), ids=lambda case: case["mating"])
def test_each_published_mating_has_its_word(case: dict[str, str]) -> None:
    # Source of each coefficient: tests/published/pedigrees/matings.csv (Lynch & Walsh 1998, Table 7.1;
    # Wright's rule); the words are those by which that table calls the matings.
    rows = table(f"matings/{case['mating']}.csv")
    names = [row["id"] for row in rows]
    place = {name: here for here, name in enumerate(names)} | {"": -1}
    sire, dam = ([place[row[role]] for row in rows] for role in ("sire", "dam"))
    calf = names.index("X")
    told = relationship(sire, dam, inbreeding(sire, dam), sire[calf], dam[calf])
    assert told.coancestry == float(Fraction(case["F_calf"]))
    found = [(tie.up, tie.full, tie.name) for tie in told.ties]
    expected = EXPECTED[case["mating"]]
    assert found in (
        [each[:3] for each in expected],
        [(each[0][::-1], *each[1:3]) for each in expected],
    )
    for tie, (*_, through) in zip(told.ties, expected, strict=True):
        if through:
            assert sorted(names[row] for row in tie.ancestors) == sorted(through)


def test_half_sisters_by_sire_and_son_out_of_one_dam_are_three_quarter_sibs() -> None:
    #       0 sire, 1 dam, 2 other dam, 3 son of 0, 4 by 0 out of 1, 5 by 3 out of 1
    sire, dam = [-1, -1, -1, 0, 0, 3], [-1, -1, -1, 2, 1, 1]
    (tie,) = relationship(sire, dam, inbreeding(sire, dam), 4, 5).ties
    assert tie == Tie((1, 1), HALF, (1, 0), 0.1875, name=THREE_QUARTER_SIBS)


def test_two_half_ties_of_one_kind_are_told_as_twice() -> None:
    """Half first cousins through two grandparents on different sides: 1/32 each."""
    #       0 1 common; 2-5 strangers; 6 7 by 0, 8 9 by 1; 10 = 6 x 8, 11 = 7 x 9
    sire = [-1, -1, -1, -1, -1, -1, 0, 0, 1, 1, 6, 7]
    dam = [-1, -1, -1, -1, -1, -1, 2, 3, 4, 5, 8, 9]
    (tie,) = relationship(sire, dam, inbreeding(sire, dam), 10, 11).ties
    assert (tie.up, tie.full, tie.times, tie.ancestors, tie.share) == ((2, 2), False, 2, (0, 1), 0.0625)


def test_thirty_generations_of_full_sibs_are_told_at_once() -> None:
    """Millions of paths: the shortest are listed, the others counted, and nothing is lost.

    A loop over all of them would take days, and the test run would say where it hangs.
    """
    sire, dam, pair = [-1, -1], [-1, -1], (0, 1)
    for _ in range(30):
        here = len(sire)
        sire += [pair[0]] * 2
        dam += [pair[1]] * 2
        pair = (here, here + 1)
    f = inbreeding(sire, dam)
    told = relationship(sire, dam, f, *pair)
    assert told.ties[0].up == (1, 1)
    assert told.ties[0].full
    assert all(len(each.paths) <= module.MOST_PATHS for each in told.through)
    oldest = {each.ancestor: each for each in told.through}[0]
    assert len(oldest.paths) == module.MOST_PATHS
    assert oldest.more == 2**29 - module.MOST_PATHS  # each generation doubles them
    assert told.rest == pytest.approx(told.coancestry - sum(tie.share for tie in told.ties))


def test_thirty_generations_of_a_small_herd_are_told_too() -> None:
    dice = np.random.default_rng(7)
    size = 24
    sire, dam = [-1] * size, [-1] * size
    for generation in range(1, 30):
        start = (generation - 1) * size
        sire += [start + int(dice.integers(0, 4)) for _ in range(size)]
        dam += [start + int(dice.integers(4, size)) for _ in range(size)]
    f = inbreeding(sire, dam)
    told = relationship(sire, dam, f, len(sire) - 1, len(sire) - 2)
    assert told.coancestry == pytest.approx(coancestry(sire, dam, f, [len(sire) - 1], [len(sire) - 2])[0, 0])
    assert sum(len(each.paths) for each in told.through) > 0
    assert sum(tie.share for tie in told.ties) + told.rest == pytest.approx(told.coancestry)


def test_nothing_shared_is_no_tie() -> None:
    told = relationship([-1, -1], [-1, -1], [0.0, 0.0], 0, 1)
    assert (told.coancestry, told.through, told.ties, told.rest) == (0.0, (), (), 0.0)
