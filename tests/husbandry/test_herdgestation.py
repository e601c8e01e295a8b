"""The herd's own gestations: closed forms, the mixed model solved at once, and cows that were played."""

from __future__ import annotations

import random

import numpy as np
import pytest

from herdbook.husbandry.herdgestation import Gestation, HerdGestation, herd_gestation


def test_without_calvings_the_default_stands() -> None:
    own = herd_gestation([])
    assert own == HerdGestation()
    assert own.mean(283) == 283.0
    assert own.words(283) is None


def test_the_herd_alone_is_drawn_half_way_by_ten() -> None:
    """Normal-normal shrinkage by hand: ten calvings two days early, and a default worth ten, give one day."""
    own = herd_gestation([Gestation(281, 283.0)] * 10)
    assert own.herd == pytest.approx(-1.0)
    assert own.mean(289) == pytest.approx(288.0)
    assert str(own.words(283)) == "283 by default, 282.0 from your 10 dated calvings."
    assert str(herd_gestation([Gestation(283, 283.0)]).words(283)).endswith("from your one dated calving.")


def test_herd_sires_and_cows_together_are_the_mixed_model() -> None:
    """Solved at once: (Z'Z + 10 I) b = Z'y, a column for the herd, each sire and each cow."""
    dice = random.Random(4)
    rows = [
        Gestation(round(dice.gauss(281, 6)), 283.0, f"sire {dice.randrange(4)}", f"cow {dice.randrange(12)}")
        for _ in range(40)
    ]
    names = ["herd", *sorted({str(r.sire) for r in rows}), *sorted({str(r.cow) for r in rows})]
    design = np.zeros((len(rows), len(names)))
    for at, row in enumerate(rows):
        for name in ("herd", str(row.sire), str(row.cow)):
            design[at, names.index(name)] = 1.0
    off = np.array([row.days - row.expected for row in rows])
    solved = np.linalg.solve(design.T @ design + 10.0 * np.eye(len(names)), design.T @ off)
    own = herd_gestation(rows)
    assert own.herd == pytest.approx(solved[0], abs=1e-6)
    for name, value in zip(names[1:], solved[1:], strict=True):
        assert (own.sires | own.cows)[name] == pytest.approx(value, abs=1e-6)
    sire, cow = rows[0].sire, rows[0].cow
    assert own.mean(285, sire, cow) == pytest.approx(285 + own.herd + own.sires[sire] + own.cows[cow])


def test_a_sire_unlike_the_others_takes_his_difference_with_him() -> None:
    late = [Gestation(291, 283.0, "late")] * 20
    own = herd_gestation([*late, *[Gestation(283, 283.0, f"other {n}") for n in range(60)]])
    assert own.mean(283, "late") > own.mean(283, "never seen") + 3.0
    assert own.mean(283, "never seen") == pytest.approx(283 + own.herd)


def test_impossible_lengths_are_left_out() -> None:
    assert herd_gestation([Gestation(200, 283.0), Gestation(331, 283.0)]).count == 0


def test_what_is_seen_makes_the_spread_a_little_narrower() -> None:
    none, many = herd_gestation([]), herd_gestation([Gestation(283, 283.0)] * 200)
    assert none.sd == pytest.approx(6.0)
    assert none.sd / 1.1**0.5 < many.sd < none.sd


def test_it_finds_a_herd_that_is_three_days_early() -> None:
    dice = random.Random(8)
    own = herd_gestation([Gestation(round(dice.gauss(280, 5.7)), 283.0) for _ in range(400)])
    assert own.herd == pytest.approx(-3.0 * 400 / 410, abs=3 * 5.7 / 20)


@pytest.mark.parametrize("wrong", [{"worth": 0}, {"sd": 0}])
def test_figures_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        herd_gestation([], **wrong)
