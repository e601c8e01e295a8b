"""Carrier chances against the sum over every genotype of every animal, and against worked scenarios.

The scenarios, in tests/published/carriers, are exact fractions: genotypes of small pedigrees counted out, and
rules of thumb of the trade (the 7/8 rule, 2/3 of normal sibs) that they reproduce. `derived` throughout.
"""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.carriers import CalfChances, Carriers
from herdbook.husbandry.inheritance import Contradiction, Core, Descent, Locus, summable, two_alleles

PUBLISHED = Path(__file__).parents[1] / "published" / "carriers"
FREE, CARRIER, AFFECTED, NORMAL = (1.0, 0, 0), (0, 1.0, 0), (0, 0, 1.0), (1.0, 1.0, 0)
Evidence = Mapping[int, Sequence[float]]


def rows(name: str) -> list[dict[str, str]]:
    """Read one table of published figures."""
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def calf(
    parents: Sequence[tuple[int, int]], dam: int, sire: int, q: float, evidence: Evidence | None = None
) -> CalfChances:
    """Return the chances of one calf of a pedigree written as (sire, dam) of each animal."""
    descent = Descent([s for s, _ in parents], [d for _, d in parents])
    return Carriers(descent, q, evidence or {}, [dam, sire]).calves([dam], [sire])


# ---------------------------------------------------------------- every genotype counted out


def worlds(descent: Descent, locus: Locus, evidence: Evidence) -> list[tuple[float, tuple[int, ...]]]:
    """Return every assignment of genotypes that can be, with its weight: the definition, nothing clever."""
    count = len(locus.genotypes)
    child, prior = locus.child, locus.prior
    unknown = np.einsum("d,sdg->sg", prior, child)  # an unknown parent is a founder without a row
    found = []
    for world in itertools.product(range(count), repeat=len(descent.sire)):
        weight = 1.0
        for row, own in enumerate(world):
            dam, sires = descent.mother(row), descent.sires(row)
            mixed, left = 0.0, 1.0
            for sire, chance in sires:
                mixed += chance * (
                    child[world[sire], world[dam], own] if dam >= 0 else unknown[world[sire], own]
                )
                left -= chance
            alone = unknown[world[dam], own] if dam >= 0 else prior[own]
            if not sires and dam < 0 and sum(x > 0 for x in evidence.get(row, ())) == 1:
                alone = 1.0  # a founder of one known genotype, however rare
            weight *= (mixed + max(left, 0.0) * alone) * evidence.get(row, [1.0] * count)[own]
            if not weight:
                break
        else:
            found.append((weight, world))
    return found


def counted(descent: Descent, q: float, evidence: Evidence, dam: int, sire: int) -> list[float] | None:
    """Return clear, carrier and affected of a calf, counted out; None when nothing is possible."""
    locus = two_alleles(q)
    found = worlds(descent, locus, evidence)
    whole = math.fsum(weight for weight, _ in found)
    if not whole:
        return None
    child = locus.child
    return [math.fsum(w * child[g[sire], g[dam], c] for w, g in found) / whole for c in range(3)]


@st.composite
def herds(draw: st.DrawFn, most: int = 7) -> tuple[Descent, dict[int, tuple[float, ...]]]:
    """Draw a small pedigree with loops, doubtful sires and unknown parents, and evidence on some of it."""
    size = draw(st.integers(2, most))
    sire, dam, doubtful = [], [], {}
    for row in range(size):
        sire.append(draw(st.integers(-1, row - 1)))
        dam.append(draw(st.integers(-1, row - 1)))
        if row >= 2 and draw(st.booleans()):
            candidates = draw(st.lists(st.integers(0, row - 1), min_size=2, max_size=3, unique=True))
            parts = [draw(st.integers(1, 4)) for _ in candidates]
            whole = sum(parts) + draw(st.integers(0, 2))
            doubtful[row] = tuple((c, part / whole) for c, part in zip(candidates, parts, strict=True))
    seen = [FREE, CARRIER, AFFECTED, NORMAL, (1.0, 1.0, 0.5), (0, 0.5, 1.0)]
    evidence = draw(st.dictionaries(st.integers(0, size - 1), st.sampled_from(seen), max_size=size))
    return Descent(sire, dam, doubtful), {row: tuple(map(float, told)) for row, told in evidence.items()}


@given(herds(), st.sampled_from([0.0, 0.01, 0.2, 0.5]), st.data())
def test_calves_agree_with_counting_every_genotype(
    drawn: tuple[Descent, dict[int, tuple[float, ...]]], q: float, data: st.DataObject
) -> None:
    """Exact, with loops, doubt and clashing evidence; a clash is named and is one by itself."""
    descent, evidence = drawn
    last = len(descent.sire) - 1
    dam, sire = data.draw(st.integers(0, last)), data.draw(st.integers(0, last))
    wanted = counted(descent, q, evidence, dam, sire)
    if wanted is None:
        with pytest.raises(Contradiction) as clash:
            Carriers(descent, q, evidence, [dam, sire])
        named = {row: evidence[row] for row in clash.value.rows}
        assert counted(descent, q, named, dam, sire) is None
        return
    carriers = Carriers(descent, q, evidence, [dam, sire])
    told = carriers.calves([dam], [sire])
    assert told.exact
    assert [told.clear[0, 0], told.carrier[0, 0], told.affected[0, 0]] == pytest.approx(wanted, abs=1e-12)
    found = worlds(descent, two_alleles(q), evidence)
    whole = math.fsum(weight for weight, _ in found)
    alone = [math.fsum(w for w, g in found if g[dam] == state) / whole for state in range(3)]
    assert carriers.copies([dam])[0].tolist() == pytest.approx(alone, abs=1e-12)


@given(herds(), st.sampled_from([0.01, 0.3]), st.data())
def test_bounds_hold_the_truth(
    drawn: tuple[Descent, dict[int, tuple[float, ...]]], q: float, data: st.DataObject
) -> None:
    """Where tables may not grow, what is told is a least and a most, and the truth lies between."""
    descent, evidence = drawn
    last = len(descent.sire) - 1
    dam, sire = data.draw(st.integers(0, last)), data.draw(st.integers(0, last))
    wanted = counted(descent, q, evidence, dam, sire)
    if wanted is None or dam == sire:
        return
    try:
        carriers = Carriers(descent, q, evidence, [dam, sire], cells=4)
    except Contradiction:
        raise AssertionError("bounds may not find a clash where there is none") from None
    told = carriers.calves([dam], [sire])
    assert told.least[0, 0] - 1e-12 <= wanted[2] <= told.affected[0, 0] + 1e-12
    assert told.clear[0, 0] - 1e-12 <= wanted[0]
    assert wanted[1] <= told.carrier[0, 0] + 1e-12
    found = worlds(descent, two_alleles(q), evidence)
    whole = math.fsum(weight for weight, _ in found)
    low, high = carriers.copies_between([dam])
    for state in range(3):
        alone = math.fsum(w for w, g in found if g[dam] == state) / whole
        assert low[0, state] - 1e-12 <= alone <= high[0, state] + 1e-12


@given(herds(most=5), st.data())
def test_three_alleles_agree_with_counting(
    drawn: tuple[Descent, dict[int, tuple[float, ...]]], data: st.DataObject
) -> None:
    """The sums know nothing of how many alleles there are: coat colour has three."""
    descent, _ = drawn
    locus = Locus(("ED", "E+", "e"), (0.5, 0.2, 0.3))
    last = len(descent.sire) - 1
    row, asked = data.draw(st.integers(0, last)), data.draw(st.integers(0, last))
    evidence = {row: (1.0, 1.0, 1.0, 0.0, 0.0, 0.0), asked: (1.0,) * 6}
    found = worlds(descent, locus, {row: evidence[row]})
    whole = math.fsum(weight for weight, _ in found)
    core = Core(locus, descent, evidence if asked != row else {row: evidence[row]})
    told = core.genotypes(asked)
    alone = [math.fsum(w for w, g in found if g[asked] == state) / whole for state in range(6)]
    assert told.tolist() == pytest.approx(alone, abs=1e-12)


# ---------------------------------------------------------------- worked scenarios

A, B, C, D, E, F, G, H = range(8)
NONE = (-1, -1)
SCENARIOS: dict[str, tuple[list[tuple[int, int]], int, int, Evidence]] = {
    "carrier x carrier": ([NONE, NONE], A, B, {A: CARRIER, B: CARRIER}),
    "carrier x free": ([NONE, NONE], A, B, {A: CARRIER, B: FREE}),
    "affected x carrier": ([NONE, NONE], A, B, {A: AFFECTED, B: CARRIER}),
    "affected x free": ([NONE, NONE], A, B, {A: AFFECTED, B: FREE}),
    "carrier bull x untested cow whose sire is a carrier (dam free)": (
        [NONE, NONE, NONE, (B, C)], D, A, {A: CARRIER, B: CARRIER, C: FREE},
    ),
    "carrier bull x untested cow whose maternal grandsire is a carrier": (
        [NONE, NONE, NONE, (B, C), NONE, (E, D)], F, A, {A: CARRIER, B: CARRIER, C: FREE, E: FREE},
    ),
    "untested x untested, each by a (different) carrier sire": (
        [NONE, NONE, NONE, NONE, (A, B), (C, D)], E, F, {A: CARRIER, B: FREE, C: CARRIER, D: FREE},
    ),
    "carrier bull x his own untested daughter (dam free)": (
        [NONE, NONE, (A, B)], C, A, {A: CARRIER, B: FREE},
    ),
    "half sibs by a carrier sire, dams free": (
        [NONE, NONE, NONE, (A, B), (A, C)], D, E, {A: CARRIER, B: FREE, C: FREE},
    ),
    "full sibs (untested) of carrier x carrier, no phenotype information": (
        [NONE, NONE, (A, B), (A, B)], C, D, {A: CARRIER, B: CARRIER},
    ),
    "full sibs, both normal, of carrier x carrier": (
        [NONE, NONE, (A, B), (A, B)], C, D, {A: CARRIER, B: CARRIER, C: NORMAL, D: NORMAL},
    ),
    "first cousins, one common grandparent a carrier, others free": (
        [NONE, NONE, (A, B), (A, B), NONE, NONE, (C, E), (D, F)], G, H,
        {A: CARRIER, B: FREE, E: FREE, F: FREE},
    ),
    "semidominant: dwarf carrier x dwarf carrier (ACAN type)": ([NONE, NONE], A, B, {A: CARRIER, B: CARRIER}),
}  # fmt: skip
ANIMALS: dict[str, tuple[list[tuple[int, int]], int, Evidence]] = {
    "normal calf of carrier x carrier": (
        [NONE, NONE, (A, B)], C, {A: CARRIER, B: CARRIER, C: NORMAL},
    ),
    "normal full sib of an affected calf (parents otherwise unknown, q = 0.01)": (
        [NONE, NONE, (A, B), (A, B)], C, {C: NORMAL, D: AFFECTED},
    ),
}  # fmt: skip


def told_of(row: dict[str, str]) -> list[float]:
    """Return free, carrier and affected of a published row."""
    return [float(Fraction(row[f"P_{what}_fraction"])) for what in ("free", "carrier", "affected")]


@pytest.mark.parametrize("row", rows("carrier_scenarios"), ids=lambda row: row["scenario"])
def test_worked_scenarios(row: dict[str, str]) -> None:
    """Every published scenario, to rounding: a calf of a mating, or an animal itself."""
    name, q = row["scenario"], float(row["q"])
    if name in SCENARIOS:
        parents, dam, sire, known = SCENARIOS[name]
        told = calf(parents, dam, sire, q, known)
        found = [told.clear[0, 0], told.carrier[0, 0], told.affected[0, 0]]
    elif name in ANIMALS:
        parents, animal, known = ANIMALS[name]
        found = copies(parents, animal, q, known)
        if "nearly" in row["note"]:
            # The printed 2/3 takes both parents for carriers; they may be affected, with a weight of q.
            assert found == pytest.approx(told_of(row), abs=q)
            found = copies(parents, animal, q, {**known, A: NORMAL, B: NORMAL})
    elif name.startswith("untested cow by carrier sire after"):
        found = after_normal_calves(int(name.split()[6]), q)
    else:
        evidence = {A: CARRIER, B: NORMAL} if "known normal" in name else {A: CARRIER}
        told = calf([NONE, NONE], B, A, q, evidence)
        found = [told.clear[0, 0], told.carrier[0, 0], told.affected[0, 0]]
    assert found == pytest.approx(told_of(row), abs=1e-12)


def copies(parents: list[tuple[int, int]], animal: int, q: float, evidence: Evidence) -> list[float]:
    """Return the chances of no copy, one and two of one animal."""
    descent = Descent([s for s, _ in parents], [d for _, d in parents])
    told: list[float] = Carriers(descent, q, evidence, [animal]).copies([animal])[0].tolist()
    return told


def after_normal_calves(calves: int, q: float) -> list[float]:
    """Return the chances of a cow by a carrier sire after so many normal calves by a carrier bull."""
    parents = [NONE, NONE, (A, B), NONE, *[(D, C)] * calves]
    evidence = {A: CARRIER, B: FREE, D: CARRIER} | {4 + n: NORMAL for n in range(calves)}
    return copies(parents, C, q, evidence)


@pytest.mark.parametrize("row", rows("recessive_inbred"), ids=lambda row: f"q {row['q']}, F {row['F']}")
def test_inbred_calves_of_untested_stock(row: dict[str, str]) -> None:
    """``q^2 + F q (1 - q)``, from pedigrees whose calf is inbred by F (Falconer & Mackay, from memory)."""
    pedigrees = {
        "0": ([NONE, NONE], A, B),
        "0.03125": ([NONE, NONE, NONE, (A, B), (A, C), NONE, NONE, (D, F), (E, G)], 7, 8),
        "0.0625": ([NONE, NONE, (A, B), (A, B), NONE, NONE, (C, E), (D, F)], G, H),
        "0.125": ([NONE, NONE, NONE, (A, B), (A, C)], D, E),
        "0.25": ([NONE, NONE, (A, B), (A, B)], C, D),
    }
    parents, dam, sire = pedigrees[row["F"]]
    told = calf(parents, dam, sire, float(row["q"]))
    affected = float(row["P_affected = q^2+Fq(1-q)"])
    carrier = float(row["P_carrier = 2q(1-q)(1-F)"])
    assert [told.affected[0, 0], told.carrier[0, 0]] == pytest.approx([affected, carrier], abs=1e-12)


@pytest.mark.parametrize("row", rows("test_matings"), ids=lambda row: row["mates"])
def test_normal_calves_clear_a_bull(row: dict[str, str]) -> None:
    """Test matings: so many normal calves would have shown a carrier with 95, 99 and 99.9 %."""
    mates = {
        "homozygous recessive mates": AFFECTED,
        "known carrier mates": CARRIER,
        "own daughters / daughters of a carrier": None,
    }[row["mates"]]
    # The bull's own chance of being a carrier is 1/2, so that free : carrier is 1 : P(all calves normal).
    normal = float(Fraction(row["P(normal calf | bull carrier)"]))
    for column, share in (("n_for_95%", 0.95), ("n_for_99%", 0.99), ("n_for_99.9%", 0.999)):
        needed = int(row[column])
        assert 1 - missed(needed, mates) >= share > 1 - missed(needed - 1, mates)
    assert missed(3, mates) == pytest.approx(normal**3, rel=1e-9)
    assert 1 - missed(20, mates) == pytest.approx(float(row["detection_with_20_normal_calves"]), abs=1e-9)


def missed(calves: int, mates: Sequence[float] | None) -> float:
    """Return the chance that a carrier bull gives only normal calves: his odds after over before."""
    parents, evidence = [NONE, NONE, (A, B)], {A: CARRIER, B: FREE}
    for _ in range(calves):
        if mates is None:
            parents += [NONE, NONE, (len(parents), len(parents) + 1)]  # a daughter of another carrier
            evidence |= {len(parents) - 3: CARRIER, len(parents) - 2: FREE}
        else:
            parents.append(NONE)
            evidence[len(parents) - 1] = mates  # type: ignore[assignment]
        parents.append((C, len(parents) - 1))
        evidence[len(parents) - 1] = NORMAL
    free, carrier, _ = copies(parents, C, 0.0, evidence)
    return carrier / free


# ---------------------------------------------------------------- what must hold beside


def test_relatives_share_carriers() -> None:
    """A calf's chance is not the product of its parents' chances where they are related."""
    parents = [NONE, NONE, NONE, (A, B), (A, C)]
    descent = Descent([s for s, _ in parents], [d for _, d in parents])
    carriers = Carriers(descent, 0.05, {B: FREE}, [D, E])
    alone = carriers.copies([D, E]) @ np.array([0, 0.5, 1])
    assert carriers.calves([D], [E]).affected[0, 0] > 1.5 * alone[0] * alone[1]


def test_doubtful_sire_is_a_mean_over_the_candidates() -> None:
    """A cow that is by a carrier with 30 % and by a free bull with 70 %."""
    descent = Descent([-1, -1, -1, 0, -1], [-1, -1, -1, 2, -1], {3: ((0, 0.3), (1, 0.7))})
    carriers = Carriers(descent, 0.0, {0: CARRIER, 1: FREE, 4: CARRIER}, [3, 4])
    assert carriers.copies([3])[0].tolist() == pytest.approx([0.85, 0.15, 0])
    assert carriers.calves([3], [4]).affected[0, 0] == pytest.approx(0.15 / 4)


def test_a_clash_is_named_by_its_animals() -> None:
    """Two free parents of an affected calf; a third test that is all right is not named."""
    descent = Descent([-1, -1, 0, -1], [-1, -1, 1, -1])
    with pytest.raises(Contradiction) as clash:
        Carriers(descent, 0.01, {0: FREE, 1: FREE, 2: AFFECTED, 3: CARRIER}, [2])
    assert set(clash.value.rows) <= {0, 1, 2}
    assert 2 in clash.value.rows
    assert 3 not in clash.value.rows


def test_an_entangled_pedigree_counts_the_first_results_only() -> None:
    """As many results as can be summed are taken from the front, and nothing is lost where all can be."""
    dice = np.random.default_rng(3)
    size = 60
    sire = [-1] * 8 + [int(dice.integers(0, row)) for row in range(8, size)]
    dam = [-1] * 8 + [int(dice.integers(0, row)) for row in range(8, size)]
    descent, locus = Descent(sire, dam), two_alleles(0.1)
    evidence = dict.fromkeys(range(size - 1, 20, -1), NORMAL)
    told = summable(locus, descent, evidence, cells=3**5)
    assert 0 < len(told) < len(evidence)
    assert list(told) == list(evidence)[: len(told)]
    assert Core(locus, descent, told, cells=3**5).exact
    assert summable(locus, descent, told, cells=3**5) == told
    entangled = Carriers(descent, 0.1, evidence, [50, 51], cells=3**5).calves([50], [51])
    assert not entangled.exact
    assert entangled.least[0, 0] < entangled.affected[0, 0]


def test_a_loop_is_refused() -> None:
    """An animal that is its own ancestor has no genotype."""
    with pytest.raises(ValueError, match="own ancestor"):
        Carriers(Descent([1, 0], [-1, -1]), 0.01, {0: CARRIER}, [1])


def test_frequencies_must_add_up() -> None:
    """A gene's alleles share 1 between them."""
    with pytest.raises(ValueError, match="add up"):
        Locus(("a", "b"), (0.5, 0.4))
    with pytest.raises(ValueError, match="one frequency"):
        Locus(("a", "b"), (1.0,))
