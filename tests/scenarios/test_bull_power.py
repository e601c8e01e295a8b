"""How many females a bull is given, and young bulls beside old ones, as the sort has them.

One female for each month of his age at turn-in until 24 months, then 25 to 35, after a soundness examination;
sixty heifers need four bulls of 15 months; young with young and old with old: Oklahoma State University
Extension (breeding-season column). That an old bull beside a young one is a caution and no more: some
yearlings sire many, trade press 2017.
"""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.husbandry.bullpower import bulls_needed
from herdbook.husbandry.days import add_months
from herdbook.services.commands.happenings import ExamineBull
from herdbook.services.queries.sort import AskedBull, AskedGroup, SortAsk, SortResult, each_alone, solve
from tests.services.conftest import Herd

ON, BULL_IN, BULL_OUT = date(2026, 5, 1), date(2026, 6, 1), date(2026, 8, 2)
EXAMINED = date(2026, 4, 20)


def _sort(herd: Herd, groups: tuple[AskedGroup, ...]) -> SortResult:
    bulls = tuple(bull.animal for group in groups for bull in group.bulls)
    asked = SortAsk(bull_in=BULL_IN, bull_out=BULL_OUT, groups=groups, heifer_bulls=bulls)
    return herd.ask(solve, asked, on=ON)


@pytest.fixture
def yearling(herd: Herd) -> Herd:
    """Return a bull 14 months old at bull-in and twenty-five cows that are no kin of his."""
    herd.add("Cheviot", "M", add_months(BULL_IN, -14))
    for n in range(1, 26):
        herd.add(str(n), "F", date(2019, 3, 1), calved_before=True)
    return herd


def test_twenty_five_cows_for_a_bull_of_fourteen_months(yearling: Herd) -> None:
    h = yearling
    result = _sort(h, each_alone([h.id["Cheviot"]]))
    (group,) = result.bull_groups
    assert (group.months, group.capacity) == (14, 14)
    assert "14 months old at bull-in: 14 females" in str(group.bulls[0].guide)
    assert len(result.groups[0].females) == 14
    assert [one.code for one in result.not_bred] == ["no_place"] * 11


def test_his_examination_is_asked_for_until_it_is_written(yearling: Herd) -> None:
    h = yearling
    notes = {note.code for note in _sort(h, each_alone([h.id["Cheviot"]])).bull_groups[0].notes}
    assert "exam_missing" in notes
    h.do(ExamineBull(h.id["Cheviot"], EXAMINED, result="satisfactory"))
    assert not _sort(h, each_alone([h.id["Cheviot"]])).bull_groups[0].notes
    h.do(ExamineBull(h.id["Cheviot"], date(2026, 4, 30), result="unsatisfactory"))
    failed = _sort(h, each_alone([h.id["Cheviot"]]))
    assert failed.bull_groups[0].capacity == 0
    assert failed.groups[0].females == ()


def test_the_keepers_own_number_stands_over_it_with_a_caution(yearling: Herd) -> None:
    h = yearling
    h.do(ExamineBull(h.id["Cheviot"], EXAMINED, result="satisfactory"))
    result = _sort(h, each_alone([AskedBull(h.id["Cheviot"], 25)]))
    assert len(result.groups[0].females) == 25
    assert [note.code for note in result.bull_groups[0].notes] == ["over_guide"]


def test_sixty_heifers_need_four_bulls_of_fifteen_months(herd: Herd) -> None:
    assert bulls_needed(60, 15) == 4
    for n in range(1, 5):
        herd.add(f"B{n}", "M", add_months(BULL_IN, -15))
    for n in range(1, 61):
        herd.add(str(n), "F", date(2025, 3, 1))
    four = _sort(herd, each_alone([herd.id[f"B{n}"] for n in range(1, 5)]))
    assert [len(group.females) for group in four.groups] == [15] * 4
    assert four.not_bred == ()
    three = _sort(herd, each_alone([herd.id[f"B{n}"] for n in range(1, 4)]))
    assert [one.code for one in three.not_bred] == ["no_place"] * 15


def test_a_young_bull_with_an_old_one_is_a_caution_only(yearling: Herd) -> None:
    h = yearling
    h.add("Pentland", "M", date(2019, 3, 1))
    for tag in ("Cheviot", "Pentland"):
        h.do(ExamineBull(h.id[tag], EXAMINED, result="satisfactory"))
    both = (AskedGroup((AskedBull(h.id["Pentland"]), AskedBull(h.id["Cheviot"]))),)
    result = _sort(h, both)
    (group,) = result.bull_groups
    assert [note.code for note in group.notes] == ["young_with_old"]
    assert group.capacity == 14 + 30
    assert len(result.groups[0].females) == 25, "nobody is kept out by it"
