"""Moves by hand in a sort: the others stay, rules passed are named, a plan accepted is remembered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from herdbook.services.commands.happenings import Leave
from herdbook.services.queries.kin import kin_to_bulls
from herdbook.services.queries.plans import accept_command, accepted_plan
from herdbook.services.queries.sort import (
    AskedBull,
    Choice,
    SortAsk,
    SortResult,
    each_alone,
    gather,
    solve,
)
from herdbook.services.queries.sort_hand import moved, rules_passed
from herdbook.services.queries.sort_moves import bulls_at_hand, placed_as_before
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


def test_a_move_leaves_the_others_and_shows_the_new_figures(sorted_herd: Herd) -> None:
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    after = moved(before, h.id["Kent"], Choice("bull", h.id["Cheviot"], "no other road to the field"))
    changed = {tag for tag, place in _where(after).items() if _where(before)[tag] != place}
    assert changed == {"Kent"}
    # A daughter to her sire: 1/4, Wright's path coefficient.
    assert after.worst_inbreeding == 0.25
    assert before.worst_inbreeding == 0.0
    assert before.proven_optimal
    assert not after.proven_optimal
    kent = next(f for group in after.groups for f in group.females if f.tag == "Kent")
    assert kent.by_hand


def test_a_move_to_the_finishing_group_and_back(sorted_herd: Herd) -> None:
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    out = moved(before, h.id["Eden"], Choice("finishing", None, "fat enough"))
    assert _where(out)["Eden"] == "finishing"
    back = moved(out, h.id["Eden"], Choice("bull", h.id["Fell"]))
    assert _where(back)["Eden"] == "Fell"
    assert len(_where(back)) == len(before.females)


def test_rules_that_a_move_passes_are_named(sorted_herd: Herd) -> None:
    h = sorted_herd
    alone = each_alone([AskedBull(h.id["Cheviot"], 1), AskedBull(h.id["Fell"], 1)])
    ask = replace(SEASON, groups=alone)
    result = h.ask(solve, ask, on=ON)
    full = "Cheviot" if _where(result)["Eden"] == "Cheviot" else "Fell"

    def codes(tag: str, bull: str) -> set[str]:
        return {r.code for r in rules_passed(result, h.id[tag], Choice("bull", h.id[bull]))}

    assert "over_limit" in codes("Kent", "Cheviot")
    assert "not_fit_for_heifers" in codes("Tyne", "Fell")
    assert "too_young" in codes("Rye", "Fell")
    assert codes("Eden", full) == set()
    assert "over_capacity" in codes("Tyne", full)
    assert rules_passed(result, h.id["Rye"], Choice("sell")) == ()


def test_bulls_at_hand_include_those_that_are_not_taken_unasked(sorted_herd: Herd) -> None:
    from herdbook.services.commands.animals import ChangeAnimal

    h = sorted_herd
    h.do(ChangeAnimal(h.id["Fell"], sex="M", do_not_breed="bad feet"))
    at_hand = h.ask(bulls_at_hand, SEASON, on=ON)
    assert [(b.bull.tag, b.usual, b.kept_back) for b in at_hand] == [
        ("Cheviot", True, None),
        ("Fell", False, "bad feet"),
    ]


def test_a_bull_can_be_kept_from_heifers_for_this_sort(sorted_herd: Herd) -> None:
    h = sorted_herd
    fit = replace(SEASON, heifer_bulls=(h.id["Fell"],))
    assert _where(h.ask(solve, fit, on=ON))["Tyne"] == "Fell"
    unfit = replace(fit, not_for_heifers=(h.id["Fell"],))
    assert _where(h.ask(solve, unfit, on=ON))["Tyne"] == "not_bred"


def test_known_generations_stand_beside_each_bull(sorted_herd: Herd) -> None:
    result = sorted_herd.ask(solve, SEASON, on=ON)
    assert [bull.known_generations for bull in result.bulls] == [0.0, 0.0]
    kent = next(f for f in result.females if f.tag == "Kent")
    assert kent.known_generations == 1.0


def test_the_accepted_plan_is_found_until_it_is_undone(sorted_herd: Herd) -> None:
    h = sorted_herd

    def plan() -> object:
        with h.book.read() as conn:
            return accepted_plan(conn, date(2026, 6, 1), date(2026, 8, 2))

    assert plan() is None
    h.do(accept_command(h.ask(solve, SEASON, on=ON), ON))
    found = plan()
    assert (found.name, found.version, found.accepted) == ("Season 2026", 1, ON)  # type: ignore[attr-defined]
    h.book.undo()
    assert plan() is None


def test_an_accepted_sort_puts_nobody_in_calf_before_bull_in(sorted_herd: Herd) -> None:
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    h.do(accept_command(before, ON))
    assert _where(h.ask(solve, SEASON, on=ON)) == _where(before)
    after = h.ask(solve, SEASON, on=date(2026, 7, 1))
    assert {n.code for n in after.not_bred if n.tag in ("Eden", "Kent")} == {"in_calf"}


def test_a_placing_moved_by_hand_stands_when_the_book_is_read_anew(sorted_herd: Herd) -> None:
    h = sorted_herd
    before = h.ask(solve, SEASON, on=ON)
    by_hand = moved(before, h.id["Eden"], Choice("bull", h.id["Fell"], "he is near her field"))
    by_hand = moved(by_hand, h.id["Kent"], Choice("sell"))
    h.add("Nith", "F", date(2020, 1, 1))
    h.calve("Nith", date(2026, 3, 20), "Nith calf", sex="M")
    h.do(Leave(h.id["Eden"], ON, departure_kind="sold"))
    with h.book.read() as conn:
        anew = placed_as_before(gather(conn, SEASON, ON), by_hand)
    where = _where(anew)
    assert "Eden" not in where
    assert where["Kent"] == "sell"
    assert where["Nith"] in ("Cheviot", "Fell")
    assert set(anew.choices) == {h.id["Kent"]}
    assert not next(f for group in anew.groups for f in group.females if f.tag == "Nith").by_hand


def test_kin_to_several_bulls(sorted_herd: Herd) -> None:
    h = sorted_herd
    with h.book.read() as conn:
        to_sire, to_other = kin_to_bulls(conn, h.id["Kent"], (h.id["Cheviot"], h.id["Fell"]))
    assert (to_sire.inbreeding, to_other.inbreeding) == (0.25, 0.0)
    assert [s.tag for s in to_sire.shared] == ["Cheviot"]
