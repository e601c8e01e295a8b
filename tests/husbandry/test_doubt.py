"""Expected inbreeding and kinship with doubtful sires, against every assignment and a published case."""

from __future__ import annotations

import csv
from collections import Counter
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.doubt import AverageKinship, Links, depths
from herdbook.husbandry.kinship import coancestry, inbreeding
from tests.husbandry.doubts import Doubted, doubted, tabular
from tests.husbandry.test_kinship import pedigrees

PUBLISHED = Path(__file__).parents[1] / "published" / "doubtful_sires"


def lines(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as text:
        return list(csv.DictReader(text))


def henderson() -> tuple[list[str], Doubted]:
    rows = lines("henderson_1988.csv")
    names = list(dict.fromkeys(row["id"] for row in rows))
    place = {name: at for at, name in enumerate(names)} | {"": -1}
    several = {name for name, times in Counter(row["id"] for row in rows).items() if times > 1}
    first = {row["id"]: row for row in reversed(rows)}
    sires = {
        place[name]: [(place[r["sire"]], float(r["probability"])) for r in rows if r["id"] == name]
        for name in names
        if name in several
    }
    sire = [place[first[name]["sire"]] for name in names]
    return names, Doubted(sire, [place[first[name]["dam"]] for name in names], sires)


def test_published_average_relationships() -> None:
    """Henderson 1988, J. Anim. Sci. 66:1614; how the matrix was worked out stands beside the file."""
    names, case = henderson()
    kin = AverageKinship(case.sire, case.dam, case.links)
    wanted = [[float(row[name]) for name in names] for row in lines("henderson_1988_A.csv")]
    everyone = np.arange(len(names))
    np.testing.assert_allclose(2 * kin.coancestry(everyone, everyone), wanted, rtol=0, atol=1e-15)
    fractions = [Fraction(row["fraction"]) for row in lines("henderson_1988_F.csv")]
    np.testing.assert_allclose(kin.inbreeding, [float(f) for f in fractions], rtol=0, atol=1e-15)


@given(case=doubted())
def test_expected_is_the_mean_over_every_assignment(case: Doubted) -> None:
    kin = AverageKinship(case.sire, case.dam, case.links)
    mean, everyone = case.mean(), np.arange(len(case.dam))
    np.testing.assert_allclose(2 * kin.coancestry(everyone, everyone), mean, rtol=0, atol=4e-15)
    np.testing.assert_allclose(1 + kin.inbreeding, np.diag(mean), rtol=0, atol=4e-15)


@given(links=pedigrees(), data=st.data())
def test_without_doubt_it_is_plain_kinship(links: tuple[list[int], list[int]], data: st.DataObject) -> None:
    sire, dam = links
    kin, f = AverageKinship(sire, dam), inbreeding(sire, dam)
    assert kin.inbreeding.tolist() == f.tolist()
    some = st.lists(st.integers(0, len(sire) - 1), max_size=4)
    males, females = data.draw(some), data.draw(some)
    assert kin.coancestry(males, females).tolist() == coancestry(sire, dam, f, males, females).tolist()


def test_a_group_has_the_mean_relationship_of_its_members() -> None:
    # 0 and 1 unrelated, 2 and 3 their full sibs; 4 the mean of 2 and 3; 5 a calf of that mean and of 0.
    group = Links(np.array([4, 4]), np.array([2, 3]), np.array([0.5, 0.5]))
    kin = AverageKinship([-1, -1, 0, 0, -1, 4], [-1, -1, 1, 1, -1, 0], groups=group)
    a = tabular([-1, -1, 0, 0], [-1, -1, 1, 1])
    assert kin.inbreeding[4] == (a[2, 2] + a[3, 3] + 2 * a[2, 3]) / 4 - 1
    assert kin.inbreeding[5] == 0.25
    # The same as a calf that is either one's, each as likely as the other.
    either = Links(np.array([4, 4]), np.array([2, 3]), np.array([0.5, 0.5]))
    same = AverageKinship([-1, -1, 0, 0, -1], [-1, -1, 1, 1, 0], either)
    assert same.inbreeding[4] == kin.inbreeding[5]
    assert same.coancestry([4], range(4)).tolist() == kin.coancestry([5], range(4)).tolist()


def test_strips_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    names, case = henderson()
    whole = AverageKinship(case.sire, case.dam, case.links)
    monkeypatch.setattr("herdbook.husbandry.doubt._CELLS_AT_ONCE", 1)
    strips = AverageKinship(case.sire, case.dam, case.links)
    assert strips.inbreeding.tolist() == whole.inbreeding.tolist()
    everyone = np.arange(len(names))
    assert strips.coancestry(everyone, everyone).tolist() == whole.coancestry(everyone, everyone).tolist()


def test_chances_beyond_one_and_loops_are_refused() -> None:
    too_many = Links(np.array([2, 2]), np.array([0, 1]), np.array([0.7, 0.7]))
    with pytest.raises(ValueError, match="add up to 1"):
        AverageKinship([-1, -1, -1], [-1, -1, -1], too_many)
    with pytest.raises(ValueError, match="own ancestor"):
        AverageKinship([1, 0], [-1, -1])
    assert depths(0, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)).tolist() == []
