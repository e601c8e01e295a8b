"""Known generations, the word for them, and what unknown parents could make of a coefficient."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given

from herdbook.husbandry import averageparents
from herdbook.husbandry.averageparents import fill_unknown
from herdbook.husbandry.completeness import completeness
from herdbook.husbandry.doubt import AverageKinship, Links
from herdbook.husbandry.kinship import known_generations
from herdbook.husbandry.trust import Depth, Trust, closeness, weaker
from tests.husbandry.doubts import Doubted, doubted
from tests.husbandry.test_kinship import pedigrees


def slow(sire: list[int], dam: list[int], row: int) -> tuple[int, int, float]:
    """Return maximum, complete and equivalent generations by walking up every line."""
    parents = [parent for parent in (sire[row], dam[row]) if parent >= 0]
    behind = [slow(sire, dam, parent) for parent in parents]
    if not behind:
        return 0, 0, 0.0
    complete = 1 + min(each[1] for each in behind) if len(behind) == 2 else 0
    return 1 + max(e[0] for e in behind), complete, sum(0.5 * (1 + e[2]) for e in behind)


@given(links=pedigrees(10))
def test_against_walking_every_line(links: tuple[list[int], list[int]]) -> None:
    sire, dam = links
    known = completeness(sire, dam)
    for row in range(len(sire)):
        assert known.of(row) == Depth(*slow(sire, dam, row))
    assert known.equivalent.tolist() == known_generations(sire, dam).tolist()


@given(case=doubted(8))
def test_of_possible_sires_the_least_known_counts_for_complete(case: Doubted) -> None:
    known = completeness(case.sire, case.dam, case.links)
    for row, several in case.sires.items():
        dam = case.dam[row]
        behind = [known.of(sire) for sire, _ in several]
        mothers = known.of(dam) if dam >= 0 else Depth(-1, -1, -1.0)
        assert known.complete[row] == 1 + min(mothers.complete, *(each.complete for each in behind))
        assert known.maximum[row] == 1 + max(mothers.maximum, *(each.maximum for each in behind))
        mean = sum(chance * each.equivalent for each, (_, chance) in zip(behind, several, strict=True))
        assert known.equivalent[row] == pytest.approx(0.5 * (mean + 1) + 0.5 * (mothers.equivalent + 1))


def test_a_possible_sire_whom_nobody_knows() -> None:
    links = Links(np.array([2, 2]), np.array([0, -1]), np.array([0.5, 0.5]))
    assert completeness([-1, -1, -1], [-1, -1, 1], links).of(2) == Depth(1, 0, 0.75)


@pytest.mark.parametrize(
    ("depth", "word"),
    [
        (Depth(0, 0, 0.0), Trust.NOTHING),
        (Depth(1, 0, 0.5), Trust.LITTLE),
        (Depth(5, 0, 2.5), Trust.LITTLE),
        (Depth(1, 1, 1.0), Trust.PARENTS),
        (Depth(2, 1, 1.5), Trust.PARENTS),
        (Depth(2, 2, 2.0), Trust.TWO),
        (Depth(5, 1, 2.5), Trust.TWO),
        (Depth(3, 3, 3.0), Trust.WELL),
        (Depth(8, 2, 4.0), Trust.WELL),
    ],
)
def test_words(depth: Depth, word: Trust) -> None:
    """The bounds are common practice, no source."""
    assert depth.trust is word


def test_a_mating_is_known_no_better_than_its_weaker_side() -> None:
    assert weaker((Trust.WELL, Trust.NOTHING)) is Trust.NOTHING
    assert weaker((Trust.TWO, Trust.PARENTS)) is Trust.PARENTS


def test_how_close() -> None:
    """1/16 first cousins and 1/8 half sibs (Lynch & Walsh 1998, table 7.1); the levels: no source."""
    assert [closeness(f) for f in (0.0, 0.0624, 0.0625, 0.1249, 0.125, 0.25)] == [
        "", "", "close", "close", "very close", "very close",
    ]  # fmt: skip
    assert closeness(0.05, 0.05, 0.2) == "close"


def test_an_unknown_parent_as_an_average_animal_of_the_herd() -> None:
    """A bought cow of 2016 by the bull that sired all calves of known parents: worked by hand.

    Each of the five calves 3 to 7 of 2013 has coancestry 1/4 with the bull 0. The calf of the bought cow 8 by
    him has half of that from each of her parents: 1/4, as much as if she were his daughter.
    """
    sire, dam = [-1, -1, -1, 0, 0, 0, 0, 0, -1], [-1, -1, -1, 1, 2, 1, 2, 1, -1]
    year = [2010, 2010, 2010, 2013, 2013, 2013, 2013, 2013, 2016]
    full = fill_unknown(sire, dam, year)
    kin = AverageKinship(full.sire, full.dam, groups=full.groups)
    assert kin.coancestry([0], [8])[0, 0] == 1 / 4
    # Her own parents are two of the five taken by chance: once in five the same one, else sibs.
    rows = np.arange(3, 8)
    assert kin.inbreeding[8] == pytest.approx(kin.coancestry(rows, rows).mean())
    assert (full.sire[:9] >= 0).tolist() == [False] * 3 + [True] * 6


def test_what_has_unknown_parents_itself_is_in_no_average() -> None:
    """Two more bought cows of 2013 change nothing."""
    sire, dam = [-1, -1, 0, 0, 0, 0, 0, -1], [-1, -1, 1, 1, 1, 1, 1, -1]
    year = [2010, 2010, 2013, 2013, 2013, 2013, 2013, 2016]
    full = fill_unknown([*sire, -1, -1], [*dam, -1, 1], [*year, 2013, 2013])
    kin = AverageKinship(full.sire, full.dam, groups=full.groups)
    assert kin.coancestry([0], [7])[0, 0] == 1 / 4


@pytest.mark.parametrize(("born", "filled"), [(2014, False), (2015, True), (2028, True), (2029, False)])
def test_parents_are_so_much_older(born: int, filled: bool) -> None:
    sire, dam = [-1, -1, 0, 0, 0, 0, 0, -1], [-1, -1, 1, 1, 1, 1, 1, -1]
    full = fill_unknown(sire, dam, [2010, 2010, 2013, 2013, 2013, 2013, 2013, born])
    assert bool(full.sire[7] >= 0) is bool(full.dam[7] >= 0) is filled


def test_a_few_make_no_average() -> None:
    """Four animals with known parents: the bought cow stays a founder."""
    sire, dam = [-1, -1, 0, 0, 0, 0, -1], [-1, -1, 1, 1, 1, 1, -1]
    full = fill_unknown(sire, dam, [2010, 2010, 2013, 2013, 2013, 2013, 2016])
    assert full.sire[6] == full.dam[6] == -1


def test_the_one_parent_that_is_unknown_is_filled() -> None:
    """An own calf of 2016 of unknown sire: its dam stays the one that is known."""
    sire, dam = [-1, -1, 0, 0, 0, 0, 0, -1], [-1, -1, 1, 1, 1, 1, 1, 1]
    full = fill_unknown(sire, dam, [2010, 2010, 2013, 2013, 2013, 2013, 2013, 2016])
    kin = AverageKinship(full.sire, full.dam, groups=full.groups)
    assert full.dam[7] == 1
    assert kin.inbreeding[7] == 1 / 4  # as of a dam and a son of hers


def test_animals_before_everything_else_stay_founders() -> None:
    full = fill_unknown([-1, -1, 0, 0, 0, 0, 0], [-1, -1, 1, 1, 1, 1, 1], [0, 0, *[2015] * 5])
    assert full.sire[:2].tolist() == full.dam[:2].tolist() == [-1, -1]
    kin = AverageKinship(full.sire, full.dam, groups=full.groups)
    assert kin.coancestry([0], [1])[0, 0] == 0.0


@given(links=pedigrees(10))
def test_wrong_years_do_no_harm(links: tuple[list[int], list[int]]) -> None:
    """Years that run backwards still make no animal its own ancestor, and the high end is no lower."""
    sire, dam = links
    size = len(sire)
    year = [2020 - row for row in range(size)]
    with patch.object(averageparents, "FEWEST", 1):
        full = fill_unknown(sire, dam, year)
    kin = AverageKinship(full.sire, full.dam, groups=full.groups)
    low = AverageKinship(sire, dam)
    everyone = np.arange(size)
    assert np.all(kin.coancestry(everyone, everyone) >= low.coancestry(everyone, everyone) - 1e-12)
