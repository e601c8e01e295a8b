"""Every fault of a pedigree is named with its rows, all in one list."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import kinship
from herdbook.husbandry.pedigree_faults import Fault, PedigreeRefused, pedigree_faults

NAN = float("nan")


def test_a_sound_pedigree_has_none() -> None:
    assert pedigree_faults([], []) == []
    sound = ([-1, -1, 0, 0], [-1, -1, 1, 2])
    births = [1.0, 1.0, 400.0, NAN]
    assert pedigree_faults(*sound, in_order=True, male=[1, 0, 0, -1], earliest=births, latest=births) == []


def test_everything_wrong_is_in_one_list() -> None:
    #       0   1   2  3   4   5   6  7   8
    sire = [-1, 2, 1, -1, 99, 3, 6, 8, -1]
    dam = [-1, 3, 0, -7, 0, 8, -1, 0, -1]
    male = [1, 1, -1, 0, 1, 0, 1, 0, 1]
    births = [100.0, 50.0, 50.0, 10.0, 20.0, 30.0, NAN, 60.0, 60.0]
    found = pedigree_faults(sire, dam, in_order=True, male=male, earliest=births, latest=births)
    assert found == [
        Fault("outside", (3,)),
        Fault("outside", (4,)),
        Fault("loop", (1, 2)),
        Fault("loop", (6,)),
        Fault("order", (5, 8)),
        Fault("order", (7, 8)),
        Fault("sire_and_dam", (3,)),
        Fault("sire_and_dam", (8,)),
        Fault("sire_female", (5, 3)),
        Fault("dam_male", (2, 0)),
        Fault("dam_male", (4, 0)),
        Fault("dam_male", (5, 8)),
        Fault("dam_male", (7, 0)),
        Fault("younger_parent", (1, 2)),
        Fault("younger_parent", (2, 0)),
        Fault("younger_parent", (2, 1)),
        Fault("younger_parent", (4, 0)),
        Fault("younger_parent", (5, 8)),
        Fault("younger_parent", (7, 0)),
        Fault("younger_parent", (7, 8)),
    ]
    assert {fault.kind for fault in found if not fault.computable} == {"outside", "loop", "order"}


def test_a_day_that_is_not_known_exactly_is_read_kindly() -> None:
    """Born some day of the year against born on its 100th day: no fault; on its first day or before: one."""
    links = ([-1, 0], [-1, -1])
    assert pedigree_faults(*links, earliest=[0, 100], latest=[364, 100]) == []
    assert pedigree_faults(*links, earliest=[0, 0], latest=[364, 0]) == [Fault("younger_parent", (1, 0))]


REFUSING: list[Callable[[Any, Any], Any]] = [
    kinship.inbreeding,
    kinship.known_generations,
    lambda sire, dam: kinship.coancestry(sire, dam, np.zeros(len(sire)), [0], [1]),
    lambda sire, dam: kinship.shared_ancestors(sire, dam, np.zeros(len(sire)), 0, 1),
    lambda sire, dam: kinship.relationship(sire, dam, np.zeros(len(sire)), [0, 1]),
]


@pytest.mark.parametrize("compute", REFUSING)
def test_nothing_is_computed_of_a_faulty_pedigree(compute: Callable[[Any, Any], Any]) -> None:
    sire, dam = [-1, 2, 1, 4, 4, 6, -1], [-1, -1, -1, -1, -1, 0, -1]
    with pytest.raises(PedigreeRefused) as refused:
        compute(sire, dam)
    assert refused.value.faults == (
        Fault("loop", (1, 2)),
        Fault("loop", (4,)),
        Fault("order", (3, 4)),
        Fault("order", (5, 6)),
    )
    assert "own ancestor: rows 1-2, 4" in str(refused.value)
    with pytest.raises(PedigreeRefused, match=r"outside the pedigree: row 1, 6") as refused:
        compute([-1, 12, 1, 4, 4, 6, -1], [-1, -1, -1, -1, -1, 0, -3])
    assert [fault.kind for fault in refused.value.faults] == ["outside", "outside", "loop", "order", "order"]


def test_order_and_generations_name_the_loops() -> None:
    for ask in (kinship.order_parents_first, kinship.generations):
        with pytest.raises(PedigreeRefused) as refused:
            ask([1, 0, -1, 3], [-1] * 4)
        assert [fault.rows for fault in refused.value.faults] == [(0, 1), (3,)]


def test_a_long_list_is_cut_in_the_sentence_and_not_in_the_list() -> None:
    n = 1_000
    with pytest.raises(PedigreeRefused) as refused:
        kinship.inbreeding(np.append(np.arange(1, n), 0), np.full(n, -1))
    assert refused.value.faults == (Fault("loop", tuple(range(n))),)
    assert "and 988 more" in str(refused.value)
    with pytest.raises(PedigreeRefused, match="and 987 more"):
        kinship.inbreeding(np.append(np.arange(1, n), -1), np.full(n, -1))


@given(st.lists(st.tuples(st.integers(-2, 6), st.integers(-2, 6)), min_size=6, max_size=6))
def test_what_has_no_fault_is_computed_and_what_has_is_refused(parents: list[tuple[int, int]]) -> None:
    sire, dam = [one for one, _ in parents], [other for _, other in parents]
    faults = pedigree_faults(sire, dam, in_order=True)
    if all(fault.computable for fault in faults):
        assert np.isfinite(kinship.inbreeding(sire, dam)).all()
    else:
        with pytest.raises(PedigreeRefused):
            kinship.inbreeding(sire, dam)


def test_what_is_no_pedigree_at_all() -> None:
    with pytest.raises(ValueError, match="same length"):
        pedigree_faults([-1, -1], [-1])
    with pytest.raises(ValueError, match="row numbers"):
        pedigree_faults([0.5], [0.5])
