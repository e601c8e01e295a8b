"""What is decided by hand in a sort: moves together, who must stay, who must not be with whom."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from herdbook.services.queries.sort import (
    AskedBull,
    Choice,
    SortAsk,
    SortResult,
    each_alone,
    place,
    result_of,
    solve,
)
from herdbook.services.queries.sort_hand import (
    all_moved,
    all_passed,
    freed,
    held_here,
    kept_from,
    let_again,
    moved,
    rules_passed,
)
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
SEASON = SortAsk(bull_in=date(2026, 6, 1), bull_out=date(2026, 8, 2))


def _where(result: SortResult) -> dict[str, str]:
    return {f.tag: group.tag for group in result.groups for f in group.females} | {
        n.tag: n.place for n in result.not_bred
    }


@pytest.fixture
def sorted_herd(empty: Herd) -> Herd:
    """Kent is Cheviot's daughter; Tyne a heifer; Rye too young; Fell, a bull of 14 months, may have 14."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Fell", "M", date(2025, 4, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    h.add("Tyne", "F", date(2025, 2, 1))
    h.add("Rye", "F", date(2025, 9, 1))
    for dam in ("Eden", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
    return h


def _as_whole(result: SortResult) -> SortResult:
    """Return the same placing made anew from what was chosen and who stands where."""
    placed = {f.animal: at for at, group in enumerate(result.groups) for f in group.females}
    return result_of(result.ready, result.choices, placed, {n.animal: n.code for n in result.not_bred}, False)


def test_moves_together_are_what_a_placing_made_anew_would_be(sorted_herd: Herd) -> None:
    """Order, notes, mean and worst; and a group that nobody joins or leaves is the very same object."""
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    for choices in (
        {h.id["Eden"]: Choice("finishing"), h.id["Kent"]: Choice("bull", h.id["Cheviot"], "why not")},
        {h.id["Tyne"]: Choice("bull", h.id["Fell"]), h.id["Rye"]: Choice("sell")},
        {h.id["Kent"]: Choice("not_bred")},
    ):
        after = all_moved(before, choices)
        assert after == _as_whole(after)
        for old, new in zip(before.groups, after.groups, strict=True):
            same = {f.animal for f in old.females} == {f.animal for f in new.females}
            assert (new is old) == (same and not any(f.animal in choices for f in new.females))
        before = after


def test_several_moved_together_are_judged_together(sorted_herd: Herd) -> None:
    """One place is left: the first of two has it, the second comes beyond his number."""
    h = sorted_herd
    one = replace(SEASON, groups=each_alone([AskedBull(h.id["Cheviot"], 1), AskedBull(h.id["Fell"], 0)]))
    result = h.ask(
        solve, replace(one, choices={h.id["Eden"]: Choice("not_bred"), h.id["Kent"]: Choice("sell")}), on=ON
    )
    there = {h.id[tag]: Choice("bull", h.id["Cheviot"]) for tag in ("Eden", "Kent")}
    passed = all_passed(result, there)
    assert [reason.code for reason in passed[h.id["Kent"]]] == ["over_limit", "over_capacity"]
    assert h.id["Eden"] not in passed
    assert all_passed(result, {h.id["Eden"]: Choice("sell")}) == {}


def test_fixed_where_she_stands_and_free_again(sorted_herd: Herd) -> None:
    """Nobody moves; the best placing stays the best when it is made a rule, not when one is freed."""
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    held = held_here(before, [h.id["Kent"], h.id["Eden"]])
    assert (_where(held), held.proven_optimal) == (_where(before), True)
    assert set(held.choices) == {h.id["Kent"], h.id["Eden"]}
    loose = freed(held, [h.id["Kent"]])
    assert (_where(loose), set(loose.choices)) == (_where(before), {h.id["Eden"]})
    assert not loose.proven_optimal
    sold = freed(moved(before, h.id["Eden"], Choice("sell")), [h.id["Eden"]])
    assert next(n for n in sold.not_bred if n.tag == "Eden").code == "waiting"


def test_kept_from_a_bull_and_let_to_him_again(sorted_herd: Herd) -> None:
    """She leaves him, the sort does not give her back, and by hand it asks; without the rule it may again."""
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    bull = h.id[_where(before)["Eden"]]
    after = kept_from(held_here(before, [h.id["Eden"]]), h.id["Eden"], bull, "she fights with his cows")
    assert (_where(after)["Eden"], h.id["Eden"] in after.choices) == ("not_bred", False)
    assert [r.code for r in rules_passed(after, h.id["Eden"], Choice("bull", bull))] == ["kept_apart"]
    again = place(after.ready, after.choices)
    assert _where(again)["Eden"] not in (_where(before)["Eden"], "not_bred")
    free = let_again(again, h.id["Eden"], bull)
    assert rules_passed(free, h.id["Eden"], Choice("bull", bull)) == ()
