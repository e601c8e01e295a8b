"""The sort with more than one bull in a group, and with pairs that must not be."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from herdbook.husbandry.trust import Trust
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, SortResult, solve
from herdbook.services.queries.sort_hand import rules_passed
from herdbook.services.queries.sort_rows import BullGroup, SortBull
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
SEASON = SortAsk(bull_in=IN, bull_out=OUT)


@pytest.fixture
def sisters(empty: Herd) -> Herd:
    """Kent is Cheviot's daughter, Nith Pentland's, Tay of nobody here; Ochil is not related to anyone."""
    h = empty
    for bull in ("Cheviot", "Pentland", "Ochil"):
        h.add(bull, "M", date(2020, 3, 1))
    for dam, cow, sire in (("Eden", "Kent", "Cheviot"), ("Lune", "Nith", "Pentland")):
        h.add(dam, "F", date(2016, 3, 1))
        h.add(cow, "F", date(2021, 4, 1), dam=h.id[dam], sire=h.id[sire])
    h.add("Tay", "F", date(2021, 5, 1))
    return h


def _ask(h: Herd, *groups: AskedGroup, **more: object) -> SortResult:
    bulls = tuple(bull.animal for group in groups for bull in group.bulls)
    ask = replace(SEASON, groups=groups, heifer_bulls=bulls, **more)  # type: ignore[arg-type]
    return h.ask(solve, ask, on=ON)  # type: ignore[no-any-return]


def _group(h: Herd, *bulls: str, **more: int) -> AskedGroup:
    return AskedGroup(tuple(AskedBull(h.id[bull]) for bull in bulls), **more)


def _where(result: SortResult) -> dict[str, str]:
    return {f.tag: group.tag for group in result.groups for f in group.females} | {
        n.tag: n.code for n in result.not_bred
    }


def test_of_two_bulls_together_the_worse_counts(sisters: Herd) -> None:
    """DNA work found 0 to 64 calves per bull in groups of several sires: doi 10.2527/jas.2013-7217."""
    result = _ask(sisters, _group(sisters, "Cheviot", "Pentland"), _group(sisters, "Ochil"))
    calves = {f.tag: f.calves for f in result.females}
    assert (calves["Kent"], calves["Nith"], calves["Tay"]) == ((0.25, 0), (0.25, 0), (0, 0))
    both, alone = result.bull_groups
    assert (both.tag, both.animal) == ("Cheviot + Pentland", sisters.id["Cheviot"])
    assert (both.capacity, alone.capacity) == (60, 30)
    assert _where(result)["Kent"] == _where(result)["Nith"] == "Ochil"


def test_bulls_that_follow_one_another_have_the_least_of_their_numbers(sisters: Herd) -> None:
    h = sisters
    first = AskedBull(h.id["Cheviot"], capacity=12, bull_out=date(2026, 6, 25))
    second = AskedBull(h.id["Ochil"], bull_in=date(2026, 6, 27))
    result = _ask(h, AskedGroup((first, second)))
    (group,) = result.bull_groups
    assert group.capacity == 12
    assert (group.bull_in, group.bull_out) == (IN, OUT)
    assert [(b.bull_in, b.bull_out) for b in group.bulls] == [
        (IN, date(2026, 6, 25)),
        (date(2026, 6, 27), OUT),
    ]
    by_hand = _ask(h, AskedGroup((first, second), capacity=20, paddock=15))
    assert (by_hand.bull_groups[0].capacity, by_hand.bull_groups[0].places) == (20, 15)


def _bull(number: int, capacity: int, first: int, last: int) -> SortBull:
    days = date(2026, 6, first), date(2026, 6, last)
    return SortBull(number, str(number), None, 24, capacity, number != 2, *days, trust=list(Trust)[number])


def test_a_group_stands_for_its_least_favourable_bull() -> None:
    bulls = (_bull(1, 20, 1, 10), _bull(2, 15, 10, 20), _bull(3, 10, 21, 30))
    group = BullGroup(bulls, 10)
    assert not group.fit_for_heifers
    assert group.trust is list(Trust)[1]
    assert BullGroup((replace(bulls[0], months=None), bulls[1]), 35).months is None


def test_a_pair_that_must_not_be_is_not_made(sisters: Herd) -> None:
    h = sisters
    ochil, cheviot = h.id["Ochil"], h.id["Cheviot"]
    groups = (_group(h, "Cheviot"), _group(h, "Ochil"))
    assert _where(_ask(h, *groups))["Kent"] == "Ochil"
    kept = _ask(h, *groups, apart={(h.id["Kent"], ochil): "hurt by him"})
    assert _where(kept)["Kent"] == "over_limit"
    none = _ask(h, *groups, apart={(h.id["Tay"], ochil): "", (h.id["Tay"], cheviot): ""})
    assert _where(none)["Tay"] == "kept_apart"
    passed = rules_passed(kept, h.id["Kent"], Choice("bull", ochil))
    assert [reason.code for reason in passed] == ["kept_apart"]


def test_the_number_of_groups_and_their_least_size_are_kept(sisters: Herd) -> None:
    h = sisters
    groups = (_group(h, "Cheviot"), _group(h, "Pentland"), _group(h, "Ochil"))
    one = _ask(h, *groups, most_groups=1)
    assert [group.tag for group in one.groups if group.females] == ["Ochil"]
    few = _ask(h, *groups, least_group=4)
    assert [len(group.females) for group in few.groups] == [0, 0, 5]
    choices = {h.id["Tay"]: Choice("bull", h.id["Cheviot"]), h.id["Nith"]: Choice("bull", h.id["Ochil"])}
    clash = _ask(h, *groups, most_groups=1, choices=choices)
    assert set(clash.clash) == {h.id["Tay"], h.id["Nith"]}
    assert not any(group.females for group in clash.groups)


def test_a_bull_that_would_go_before_he_comes_is_refused(sisters: Herd) -> None:
    wrong = AskedGroup((AskedBull(sisters.id["Ochil"], bull_in=date(2026, 7, 1), bull_out=date(2026, 6, 1)),))
    with pytest.raises(Refused, match="before he is in"):
        _ask(sisters, wrong)
    with pytest.raises(Refused, match="named twice"):
        _ask(sisters, _group(sisters, "Ochil", "Ochil"))
