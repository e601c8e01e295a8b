"""Inbreeding that is kept equals a fresh computation after anything that was added or changed."""

from __future__ import annotations

import csv
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from herdbook.husbandry import kept as kept_module
from herdbook.husbandry.kept import Chances, KeptInbreeding, LoopFound
from herdbook.husbandry.kinship import coancestry, find_loops, inbreeding, order_parents_first

PUBLISHED = Path(__file__).parents[1] / "published" / "doubtful_sires"


def average(sire: list[int], dam: list[int], doubtful: dict[int, Chances]) -> Any:
    """Return all relationships by Henderson's recursion (1988), row by row, parents first."""
    n = len(sire)
    a = np.zeros((n, n))
    for row in range(n):
        sires = doubtful.get(row) or ([(sire[row], 1.0)] if sire[row] >= 0 else [])
        for one, chance in sires:
            a[row, :row] += 0.5 * chance * a[one, :row]
        if dam[row] >= 0:
            a[row, :row] += 0.5 * a[dam[row], :row]
        a[:row, row] = a[row, :row]
        own = sum(chance * a[one, dam[row]] for one, chance in sires) if dam[row] >= 0 else 0.0
        a[row, row] = 1.0 + 0.5 * own
    return a


def fresh(sire: list[int], dam: list[int]) -> list[float]:
    order = order_parents_first(sire, dam)
    place = np.append(np.argsort(order), -1)
    return inbreeding(place[np.array(sire)[order]], place[np.array(dam)[order]])[place[:-1]].tolist()


class Herd(RuleBasedStateMachine):
    """Calves added, parents named later, taken away, or doubtful; after each step all is as if made anew."""

    def __init__(self) -> None:
        super().__init__()
        self.sire, self.dam = [-1, -1, 0], [-1, -1, 1]
        self.doubtful: dict[int, Chances] = {}
        self.kept = KeptInbreeding(self.sire, self.dam)

    def draw_parents(self, data: st.DataObject) -> tuple[int, int, Chances]:
        row = st.integers(-1, len(self.sire) - 1)
        sire, dam = data.draw(row), data.draw(row)
        if sire < 0 or not data.draw(st.booleans()):
            return sire, dam, ()
        others = data.draw(st.lists(st.integers(0, len(self.sire) - 1), min_size=1, max_size=2))
        chance = 1.0 / len({sire, *others})
        return sire, dam, tuple((each, chance) for each in dict.fromkeys((sire, *others)))

    @precondition(lambda self: len(self.sire) < 12)
    @rule(data=st.data())
    def add(self, data: st.DataObject) -> None:
        sire, dam, chances = self.draw_parents(data)
        row = self.kept.add(sire, dam, chances)
        assert row == len(self.sire)
        self.sire.append(sire)
        self.dam.append(dam)
        if chances:
            self.doubtful[row] = chances

    @rule(data=st.data())
    def change(self, data: st.DataObject) -> None:
        row = data.draw(st.integers(0, len(self.sire) - 1))
        sire, dam, chances = self.draw_parents(data)
        before = self.kept.inbreeding.tolist()
        links = {each: [s for s, _ in c] for each, c in {**self.doubtful, row: chances}.items()}
        own = {row: [sire, dam]}
        reach = self.ancestors(row, links, own)
        if row in reach:
            with pytest.raises(LoopFound) as refused:
                self.kept.change(row, sire, dam, chances)
            assert row in refused.value.rows
            assert self.kept.inbreeding.tolist() == before
            return
        self.kept.change(row, sire, dam, chances)
        self.sire[row], self.dam[row] = sire, dam
        self.doubtful.pop(row, None)
        if chances:
            self.doubtful[row] = chances

    def ancestors(self, row: int, links: dict[int, list[int]], own: dict[int, list[int]]) -> set[int]:
        found: set[int] = set()
        todo = [row]
        while todo:
            here = todo.pop()
            sire, dam = own.get(here, [self.sire[here], self.dam[here]])
            for parent in (*(links.get(here) or [sire]), dam):
                if parent >= 0 and parent not in found:
                    found.add(parent)
                    todo.append(parent)
        return found

    @invariant()
    def as_if_made_anew(self) -> None:
        anew = KeptInbreeding(self.sire, self.dam, self.doubtful)
        if not self.doubtful:
            assert self.kept.inbreeding.tolist() == fresh(self.sire, self.dam)
            assert self.kept.inbreeding.tolist() == anew.inbreeding.tolist()
            assert self.kept.sampling.tolist() == anew.sampling.tolist()
        else:  # thirds are no sums of powers of one half
            assert self.kept.inbreeding == pytest.approx(anew.inbreeding, abs=1e-14)
            assert self.kept.sampling == pytest.approx(anew.sampling, abs=1e-14)


TestHerd = Herd.TestCase
TestHerd.settings = settings(max_examples=60, stateful_step_count=14, deadline=None)


@given(st.data())
def test_doubtful_sires_as_by_the_slow_recursion(data: st.DataObject) -> None:
    # Henderson (1988, J. Anim. Sci. 66:1614-1621): average relationship; chances in quarters, so exact.
    n = data.draw(st.integers(1, 9))
    sire, dam, doubtful = [-1] * n, [-1] * n, {}
    for row in range(1, n):
        sire[row], dam[row] = (data.draw(st.integers(-1, row - 1)) for _ in range(2))
        if sire[row] >= 0 and data.draw(st.booleans()):
            doubtful[row] = ((sire[row], 0.25), (data.draw(st.integers(0, row - 1)), 0.75))
    a = average(sire, dam, doubtful)
    held = KeptInbreeding(sire, dam, doubtful)
    one_by_one = KeptInbreeding([], [])
    for row in range(n):
        one_by_one.add(sire[row], dam[row], doubtful.get(row, ()))
    for each in (held, one_by_one):
        assert each.inbreeding == pytest.approx(np.diag(a) - 1.0, abs=1e-15)
        for one in range(n):
            for other in range(n):
                assert each.relationship(one, other) == pytest.approx(a[one, other], abs=1e-15)


def test_henderson_s_multiple_sires() -> None:
    # Henderson (1988): beside the files stands how the values were worked out.
    with (PUBLISHED / "henderson_1988.csv").open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    with (PUBLISHED / "henderson_1988_F.csv").open(newline="", encoding="utf-8") as lines:
        wanted = [float(Fraction(row["fraction"])) for row in csv.DictReader(lines)]
    held = KeptInbreeding([], [])
    for animal in range(1, 11):
        mine = [row for row in rows if int(row["id"]) == animal]
        dam = int(mine[0]["dam"] or 0) - 1
        chances = [(int(row["sire"]) - 1, float(row["probability"])) for row in mine if row["sire"]]
        assert {row["dam"] for row in mine} == {mine[0]["dam"]}
        held.add(dam=dam, chances=chances)
    assert held.inbreeding == pytest.approx(wanted, abs=1e-15)


def crops(animals: int) -> tuple[list[int], list[int]]:
    dice = np.random.default_rng(4)
    sire, dam = [-1] * animals, [-1] * animals
    for row in range(60, animals):
        sire[row] = row // 60 * 60 - int(dice.integers(1, 5))
        dam[row] = row // 60 * 60 - int(dice.integers(5, 60))
    return sire, dam


@pytest.mark.parametrize("least", [0, 10**9])
def test_many_descendants_or_few(monkeypatch: pytest.MonkeyPatch, least: int) -> None:
    """A change walks the descendants, or works all out anew where they are many: the same either way."""
    monkeypatch.setattr(kept_module, "_ANEW", least)
    sire, dam = crops(900)
    held = KeptInbreeding(sire, dam)
    for row, father, mother in ((65, 1, 30), (300, -1, 250), (100, 99, -1), (899, 5, 6)):
        held.change(row, father, mother)
        sire[row], dam[row] = father, mother
        assert find_loops(sire, dam) == []
        assert held.inbreeding.tolist() == fresh(sire, dam)


def test_relationships_are_those_of_the_table() -> None:
    sire, dam = crops(600)
    held = KeptInbreeding(sire, dam)
    table = coancestry(sire, dam, inbreeding(sire, dam), [590, 20, 333], [599, 333, 0])
    for row, one in enumerate((590, 20, 333)):
        for column, other in enumerate((599, 333, 0)):
            assert 0.5 * held.relationship(one, other) == table[row, column]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(LoopFound) as refused:
        KeptInbreeding([1, 0, -1], [-1, -1, -1])
    assert refused.value.rows == [0, 1]
    with pytest.raises(LoopFound) as refused:
        KeptInbreeding([-1, -1, -1], [-1, -1, -1], {0: [(1, 0.5), (2, 0.5)], 2: [(0, 1.0)]})
    assert refused.value.rows == [0, 2]
    held = KeptInbreeding([-1, -1], [-1, -1])
    with pytest.raises(ValueError, match="outside"):
        held.add(2, 0)
    with pytest.raises(ValueError, match="outside"):
        held.change(0, -1, 2)
    with pytest.raises(ValueError, match="add up to 1"):
        held.add(dam=0, chances=[(1, 0.7), (0, 0.7)])
    with pytest.raises(ValueError, match="outside"):
        KeptInbreeding([5], [-1])
    assert len(held) == 2
    assert held.inbreeding.tolist() == [0.0, 0.0]
