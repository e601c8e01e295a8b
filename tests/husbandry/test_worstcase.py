"""The worst case of doubtful sires, against every assignment of small pedigrees."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.doubt import AverageKinship, Links
from herdbook.husbandry.worstcase import WorstKinship
from tests.husbandry.doubts import Doubted, doubted


def worst_of(case: Doubted) -> WorstKinship:
    return WorstKinship(case.sire, case.dam, case.links)


@given(case=doubted(), data=st.data())
def test_a_pair_is_settled_exactly(case: Doubted, data: st.DataObject) -> None:
    rows = st.integers(0, len(case.dam) - 1)
    one, other = data.draw(rows), data.draw(rows)
    found = worst_of(case).settle(one, other)
    assert found.exact
    assert found.value == case.most()[one, other] / 2
    assert case.settled(dict(found.sires))[one, other] / 2 == found.value


@given(case=doubted(), data=st.data())
def test_bound_and_table(case: Doubted, data: st.DataObject) -> None:
    some = st.lists(st.integers(0, len(case.dam) - 1), min_size=1, max_size=4)
    males, females = data.draw(some), data.draw(some)
    most = case.most()[np.ix_(males, females)] / 2
    kin = worst_of(case)
    assert np.all(kin.bound(males, females) >= most)
    expected = AverageKinship(case.sire, case.dam, case.links).coancestry(males, females)
    worst, exact = kin.table(males, females, expected)
    assert exact.all()
    np.testing.assert_allclose(worst, most, rtol=0, atol=1e-15)


@given(case=doubted())
def test_own_inbreeding(case: Doubted) -> None:
    rows = [row for row, dam in enumerate(case.dam) if dam >= 0]
    expected = AverageKinship(case.sire, case.dam, case.links).inbreeding[rows]
    found = worst_of(case).own(rows, expected)
    np.testing.assert_allclose(found, np.diag(case.most())[rows] - 1, rtol=0, atol=1e-15)


def both_ways() -> Doubted:
    """Return a case in which 7 descends from the bulls 0 and 1 alike, and 4 is by one of the two."""
    return Doubted(
        sire=[-1, -1, -1, -1, 0, 0, 1, 5],
        dam=[-1, -1, -1, -1, 2, 3, 3, 6],
        sires={4: [(0, 0.5), (1, 0.5)]},
    )


def test_one_animal_has_one_sire_in_the_worst_case() -> None:
    """7 descends from 0 and from 1, each a grandsire; 4 is by one of them, so 1/16 and not twice that."""
    case = both_ways()
    kin = worst_of(case)
    assert kin.settle(4, 7).value == case.most()[4, 7] / 2 == 0.0625
    # A calf of 4 by a calf of 4: there the doubt meets itself.
    more = Doubted([*case.sire, 4, 4], [*case.dam, 5, 6], case.sires)
    assert worst_of(more).bound([8], [9])[0, 0] > more.most()[8, 9] / 2
    assert worst_of(more).settle(8, 9).value == more.most()[8, 9] / 2


def test_a_search_cut_short_says_no_more_than() -> None:
    case = both_ways()
    more = Doubted([*case.sire, 4, 4], [*case.dam, 5, 6], case.sires)
    cut = worst_of(more).settle(8, 9, most=0)
    assert not cut.exact
    assert cut.value >= more.most()[8, 9] / 2
    assert more.settled(dict(cut.sires))[8, 9] / 2 <= cut.value
    expected = AverageKinship(more.sire, more.dam, more.links).coancestry([8], [9])
    worst, exact = worst_of(more).table([8], [9], expected, most=0)
    assert (worst[0, 0], exact[0, 0]) == (cut.value, False)


def test_pairs_that_the_limit_parts_are_settled_first() -> None:
    case = both_ways()
    more = Doubted([*case.sire, 4, 4], [*case.dam, 5, 6], case.sires)
    kin = worst_of(more)
    steps = kin.settle(8, 8).steps + 2
    expected = np.array([[0.15, 0.30]])  # of the two bounds, 0.22 and 0.56, only the first is parted by 0.16
    assert kin.table([8], [9, 8], expected, limit=0.16, most=steps)[1].tolist() == [[True, False]]
    assert kin.table([8], [9, 8], expected, most=steps)[1].tolist() == [[False, True]]


@given(case=doubted())
def test_bulls_taken_in_groups(case: Doubted) -> None:
    """Bulls whose ancestors are too many for one square go one after another; each bound still holds."""
    bulls, everyone = [0, 1, len(case.dam) - 1], list(range(len(case.dam)))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("herdbook.husbandry.worstcase.SQUARE", 1)
        bound = worst_of(case).bound(bulls, everyone)
    assert np.all(bound >= case.most()[bulls] / 2)
    assert np.all(bound[0, :2] == case.most()[0, :2] / 2)


def test_a_small_herd_is_settled_whole() -> None:
    """Thirty cows, eight years, always two of three bulls together: no pair is left at its bound."""
    dice = np.random.default_rng(1)
    sire, dam, links = [-1] * 33, [-1] * 33, []
    cows, bulls = list(range(30)), [30, 31, 32]
    for year in range(8):
        calves = list(range(len(sire), len(sire) + len(cows)))
        for calf, cow in zip(calves, cows, strict=True):
            pair = dice.choice(bulls, 2, replace=False).tolist()
            links += [(calf, father, 0.5) for father in pair]
            sire.append(pair[0])
            dam.append(cow)
        cows = cows[6:] + calves[:6]
        bulls = [*bulls[1:], calves[-1]] if year % 3 == 1 else bulls
    child, parent, chance = (np.array(column) for column in zip(*links, strict=True))
    doubt = Links(child, parent, chance)
    expected = AverageKinship(sire, dam, doubt).coancestry(bulls, cows)
    kin = WorstKinship(sire, dam, doubt)
    worst, exact = kin.table(bulls, cows, expected, limit=0.0625)
    assert exact.all()
    assert np.all(worst >= expected)
    assert np.any(worst < kin.bound(bulls, cows))


def test_parents_before_offspring() -> None:
    with pytest.raises(ValueError, match="before"):
        WorstKinship([1, -1], [-1, -1], Links())
