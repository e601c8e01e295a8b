"""Founders, ancestors and lines against published and worked values, and the rules written out slowly."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.doubt import AverageKinship
from herdbook.husbandry.doubt import Links as DoubtLinks
from herdbook.husbandry.founders import (
    Share,
    ancestor_shares,
    carriers,
    contributions,
    effective_ancestors,
    effective_founders,
    founder_genomes,
    founder_shares,
    founder_table,
    line_founders,
    unknown_shares,
)
from herdbook.husbandry.kinship import inbreeding
from herdbook.husbandry.measures import mean_kinship
from tests.husbandry.test_kinship import Links, pedigree, pedigrees
from tests.published import herd_measures as published

BOTTLENECK = ([-1, -1, -1, -1, 0, 2, *[4] * 6], [-1, -1, -1, -1, 1, 3, *[5] * 6])
SIX_SIBS = range(6, 12)
ONE_BULL = ([-1] * 26 + [0] * 25, [-1] * 26 + list(range(1, 26)))
CALVES = range(26, 51)


def of(shares: Iterable[Share]) -> list[float]:
    return [found.share for found in shares]


@st.composite
def families(draw: st.DrawFn) -> tuple[Links, list[int]]:
    """Draw a pedigree and a group of its animals."""
    links = draw(pedigrees())
    rows = range(len(links[0]))
    return links, draw(st.lists(st.sampled_from(rows), min_size=1, max_size=5, unique=True))


def upward(row: int, links: Links) -> Iterator[tuple[tuple[int, ...], Fraction]]:
    """Yield every way up that a gene of an animal can have come from the first known, with its chance."""
    sire, dam = links
    ways: list[tuple[tuple[int, ...], Fraction]] = [((row,), Fraction(1))]
    while ways:
        way, chance = ways.pop()
        parents = (sire[way[-1]], dam[way[-1]])
        if parents == (-1, -1):
            yield way, chance
            continue
        for parent in parents:
            if parent < 0:
                yield way, chance / 2  # from the parent that is not known
            else:
                ways.append(((*way, parent), chance / 2))


def slow_ancestors(links: Links, group: list[int]) -> list[tuple[int, Fraction]]:
    """Return ancestors and what each adds by the rule itself: every gene's way written out, nothing saved."""
    ways = [(set(way), chance / len(group)) for row in group for way, chance in upward(row, links)]
    found: list[tuple[int, Fraction]] = []
    while ways:
        adds = {row: sum(c for way, c in ways if row in way) for row in range(len(links[0]))}
        best = max(adds, key=lambda row: (adds[row], -row))
        found.append((best, Fraction(adds[best])))
        ways = [(way, chance) for way, chance in ways if best not in way]
    return found


# -- published and worked values --


def test_contributions_of_the_sixteen() -> None:
    # Source: published.GSE
    names, sire, dam, _ = pedigree("ped_gse_contributions16.csv")
    for animal, *shares in published.CONTRIBUTIONS_16:
        assert contributions(sire, dam, [names.index(str(animal))])[:4] == shares


def test_effective_numbers_of_the_sixteen() -> None:
    # Worked values, see tests/published/herd_measures.py; the contributions they are made of are printed.
    names, sire, dam, _ = pedigree("ped_gse_contributions16.csv")
    group = [names.index(name) for name in ("13", "14", "15", "16")]
    assert effective_founders(of(founder_shares(sire, dam, group))) == published.FOUNDERS_16
    ancestors = ancestor_shares(sire, dam, group)
    assert [(names[a.row], a.share) for a in ancestors] == published.ANCESTOR_SHARES_16
    assert effective_ancestors(of(ancestors)) == published.ANCESTORS_16
    kinship = mean_kinship(sire, dam, inbreeding(sire, dam), group)
    assert founder_genomes(kinship) == pytest.approx(published.GENOMES_16, rel=1e-15)


def test_a_bottleneck_shows_in_the_ancestors_and_not_in_the_founders() -> None:
    """Constructed: two pairs of founders, one son and one daughter, six calves; kinship 7/24 among these."""
    assert effective_founders(of(founder_shares(*BOTTLENECK, SIX_SIBS))) == 4
    ancestors = ancestor_shares(*BOTTLENECK, SIX_SIBS)
    assert [(a.row, a.share) for a in ancestors] == [(4, 0.5), (5, 0.5)]
    assert effective_ancestors(of(ancestors)) == 2
    kinship = mean_kinship(*BOTTLENECK, inbreeding(*BOTTLENECK), SIX_SIBS)
    assert kinship == pytest.approx(7 / 24, rel=1e-15)
    assert founder_genomes(kinship) == pytest.approx(12 / 7, rel=1e-15)


def test_one_bull_and_unrelated_cows() -> None:
    """Constructed: f_e = f_a = 50/13, which is also 4 Nm Nf / (Nm + Nf); 1 / (2 mean kinship) 25/7."""
    founders, ancestors = founder_shares(*ONE_BULL, CALVES), ancestor_shares(*ONE_BULL, CALVES)
    assert (founders[0].row, founders[0].share, len(founders)) == (0, 0.5, 26)
    assert effective_founders(of(founders)) == pytest.approx(50 / 13)
    assert (ancestors[0].row, len(ancestors)) == (0, 26)
    assert effective_ancestors(of(ancestors)) == pytest.approx(50 / 13)
    kinship = mean_kinship(*ONE_BULL, inbreeding(*ONE_BULL), CALVES)
    assert founder_genomes(kinship) == pytest.approx(25 / 7)


# -- what is not known --


def test_an_unknown_parent_is_nobody_s_share_and_the_rest_is_scaled_up() -> None:
    """Row 2 is by an unknown bull out of cow 0; row 3 by bull 1 out of cow 0."""
    sire, dam = [-1, -1, -1, 1], [-1, -1, 0, 0]
    founders, unknown = founder_shares(sire, dam, [2, 3]), unknown_shares(sire, dam, [2, 3])
    assert [(f.row, f.share) for f in founders] == [(0, 0.5), (1, 0.25)]
    assert [(u.row, u.share) for u in unknown] == [(2, 0.25)]
    assert effective_founders(of(founders)) == pytest.approx(1 / (4 / 9 + 1 / 9))
    assert effective_founders([*of(founders), *of(unknown)]) == pytest.approx(1 / (1 / 4 + 1 / 16 + 1 / 16))


def test_nobody_known() -> None:
    assert effective_founders([]) is None
    assert effective_ancestors([]) is None
    assert founder_shares([-1, -1], [-1, -1], [1])[0].share == 1.0


# -- doubtful sires --


@st.composite
def doubts(draw: st.DrawFn) -> tuple[Links, list[int], dict[int, list[tuple[int, float]]]]:
    """Draw a family and, of up to three of its animals, two possible sires with chances of quarters."""
    links, group = draw(families())
    rows = [row for row in range(len(links[0])) if row > 1]
    several = draw(st.lists(st.sampled_from(rows), max_size=3, unique=True)) if rows else []
    doubtful = {}
    for row in several:
        bulls = draw(st.lists(st.integers(0, row - 1), min_size=2, max_size=2, unique=True))
        chance = draw(st.sampled_from([0.25, 0.5, 0.75]))
        doubtful[row] = [(bulls[0], chance), (bulls[1], 1 - chance)]
    return links, group, doubtful


def settled(links: Links, doubtful: dict[int, list[tuple[int, float]]]) -> Iterator[tuple[Links, float]]:
    """Yield the pedigree with every doubt settled in every way, with the chance of each."""
    for way in product(*doubtful.values()):
        sire = list(links[0])
        for row, (bull, _) in zip(doubtful, way, strict=True):
            sire[row] = bull
        yield (sire, links[1]), math.prod(chance for _, chance in way)


@given(doubts())
def test_shares_and_kinship_are_the_mean_over_all_that_the_sires_could_be(
    case: tuple[Links, list[int], dict[int, list[tuple[int, float]]]],
) -> None:
    """Henderson's average relationship is that mean; so then are the shares and the mean kinship."""
    links, group, doubtful = case
    shares, kinship = [0.0] * len(links[0]), 0.0
    for one, chance in settled(links, doubtful):
        for row, share in enumerate(contributions(*one, group)):
            shares[row] += chance * share
        kinship += chance * mean_kinship(*one, inbreeding(*one), group)
    assert contributions(*links, group, doubtful) == pytest.approx(shares)
    child = [row for row, sires in doubtful.items() for _ in sires]
    bulls = [each for sires in doubtful.values() for each in sires]
    average = AverageKinship(
        *links,
        DoubtLinks(
            np.array(child, dtype=np.int64),
            np.array([bull for bull, _ in bulls], dtype=np.int64),
            np.array([chance for _, chance in bulls]),
        ),
    )
    found = mean_kinship(*links, average.inbreeding, group, doubtful, average.added)
    assert found == pytest.approx(kinship)
    ancestors = of(ancestor_shares(*links, group, doubtful))
    assert sum(ancestors) == pytest.approx(1)
    assert ancestors == sorted(ancestors, reverse=True)


def test_carriers_of_a_possible_sire() -> None:
    """Row 3 is by 0 or 1 out of 2: it may carry genes of either."""
    found = carriers([-1, -1, -1, 0], [-1, -1, -1, 2], [0, 1, 2], [3], {3: [(0, 0.5), (1, 0.5)]})
    assert [(c.count, c.alone) for c in found] == [(1, 3)] * 3


def test_what_cannot_be_a_doubt_is_refused() -> None:
    with pytest.raises(ValueError, match="Possible sires"):
        contributions([-1, 0], [-1, -1], [1], {0: [(1, 0.5)]})
    with pytest.raises(ValueError, match="must be given"):
        mean_kinship([-1, -1, 0], [-1] * 3, [0.0] * 3, [2], {2: [(0, 0.5), (1, 0.5)]})


# -- what must always hold --


@given(families())
def test_shares_add_up(family: tuple[Links, list[int]]) -> None:
    links, group = family
    founders, unknown = of(founder_shares(*links, group)), of(unknown_shares(*links, group))
    assert sum(founders) + sum(unknown) == pytest.approx(1)
    ancestors = of(ancestor_shares(*links, group))
    assert sum(ancestors) == pytest.approx(1)
    assert ancestors == sorted(ancestors, reverse=True)
    number = effective_ancestors(ancestors)
    assert number is not None
    assert number * (1 + 1e-12) >= 1
    assert number <= len(ancestors) * (1 + 1e-12)


@given(families())
def test_no_more_genomes_than_founders(family: tuple[Links, list[int]]) -> None:
    """Twice the mean kinship is the founders' sum of squares and what sampling adds: never less."""
    links, group = family
    each = [*of(founder_shares(*links, group)), *of(unknown_shares(*links, group))]
    whole = effective_founders(each)
    assert whole is not None
    genomes = founder_genomes(mean_kinship(*links, inbreeding(*links), group))
    assert genomes <= whole * (1 + 1e-12)


@given(families())
def test_ancestors_are_those_of_the_rule_written_out(family: tuple[Links, list[int]]) -> None:
    links, group = family
    found, slow = ancestor_shares(*links, group), slow_ancestors(links, group)
    assert [a.row for a in found] == [row for row, _ in slow]
    assert of(found) == pytest.approx([float(share) for _, share in slow])


def test_the_greedy_rule_does_not_promise_fewer_ancestors_than_founders() -> None:
    """Kept as a warning: row 4 comes first and takes most of rows 0 and 1, whose rests then count singly.

    Row 4 is by 0 out of 1. Of 20 calves 16 are out of row 4, by rows 0, 1 and 2; 4 are by row 2 out of row 3.
    """
    sire = [-1, -1, -1, -1, 0, *[0] * 6, *[1] * 6, *[2] * 8]
    dam = [-1, -1, -1, -1, 1, *[4] * 16, *[3] * 4]
    group = range(5, 25)
    founders = of(founder_shares(sire, dam, group))
    ancestors = of(ancestor_shares(sire, dam, group))
    f_e, f_a = effective_founders(founders), effective_ancestors(ancestors)
    assert f_e is not None
    assert f_a is not None
    assert f_a > f_e


@given(families())
def test_carriers_are_those_who_descend(family: tuple[Links, list[int]]) -> None:
    links, living = family
    everyone = range(len(links[0]))
    expected = []
    for founder in everyone:
        having = [row for row in living if contributions(*links, [row])[founder] > 0]
        expected.append((founder, len(having), having[0] if len(having) == 1 else None))
    found = carriers(*links, everyone, living)
    assert [(c.founder, c.count, c.alone) for c in found] == expected


def test_carriers_of_many_founders(monkeypatch: pytest.MonkeyPatch) -> None:
    """In blocks as at once; with nobody alive nobody carries anything."""
    at_once = carriers(*ONE_BULL, range(26), CALVES)
    assert [c.count for c in at_once] == [25, *[1] * 25]
    assert at_once[7].alone == 32
    monkeypatch.setattr("herdbook.husbandry.founders._FOUNDERS_AT_ONCE", 3)
    assert carriers(*ONE_BULL, range(26), CALVES) == at_once
    assert {(c.count, c.alone) for c in carriers(*ONE_BULL, range(26), [])} == {(0, None)}


def test_lines_from_dam_to_dam() -> None:
    assert line_founders([-1, -1, 0, 2, 3, 1]) == [0, 1, 0, 0, 0, 1]


# -- what is refused --


@pytest.mark.parametrize(
    ("sire", "group", "says"),
    [
        ([-1, 0], [], "at least one"),
        ([-1, 0], [2], "each once"),
        ([-1, 0], [-1], "each once"),
        ([-1, 0], [1, 1], "each once"),
        ([1, -1], [0], "before their offspring"),
        ([-1, -2], [0], "before their offspring"),
        ([-1], [0], "same length"),
        ([-1.0, 0.0], [0], "row numbers"),
    ],
)
def test_what_is_no_pedigree_or_group_is_refused(sire: list[int], group: list[int], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        contributions(sire, [-1, -1], group)


def test_no_kinship_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        founder_genomes(0.0)


@given(families())
def test_the_table_of_shares_adds_up_to_the_group_s(family: tuple[Links, list[int]]) -> None:
    links, group = family
    founders, table = founder_table(*links, group)
    wanted = {found.row: found.share for found in founder_shares(*links, group)}
    assert founders == sorted(wanted)
    assert dict(zip(founders, table.mean(axis=0).tolist(), strict=True)) == pytest.approx(wanted)
    for row, mine in zip(group, table, strict=True):
        own = {found.row: found.share for found in founder_shares(*links, [row])}
        assert {f: share for f, share in zip(founders, mine.tolist(), strict=True) if share} == own


def test_the_table_counts_each_doubtful_sire_by_his_chance() -> None:
    founders, table = founder_table([-1, -1, -1, 0], [-1, -1, -1, 2], [3], {3: [(0, 0.75), (1, 0.25)]})
    assert founders == [0, 1, 2]
    assert table.tolist() == [[0.375, 0.125, 0.5]]
