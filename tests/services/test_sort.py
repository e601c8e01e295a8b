"""The sort over a whole book: who may be bred, the limit, the heifer rule, hand-made choices, accepting."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import Leave, Serve
from herdbook.services.queries.due import due_list
from herdbook.services.queries.plans import accept_command
from herdbook.services.queries.sort import (
    AskedBull,
    Choice,
    SortAsk,
    SortResult,
    each_alone,
    season_of,
    solve,
)
from herdbook.services.registry import Refused
from herdbook.services.settings import BookSettings
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
SEASON = SortAsk(bull_in=date(2026, 6, 1), bull_out=date(2026, 8, 2))


def _ask(**more: object) -> SortAsk:
    return SortAsk(bull_in=SEASON.bull_in, bull_out=SEASON.bull_out, **more)  # type: ignore[arg-type]


def _groups(result: SortResult) -> dict[str, list[str]]:
    return {group.tag: [female.tag for female in group.females] for group in result.groups}


def _codes(result: SortResult) -> dict[str, str]:
    return {female.tag: female.code for female in result.not_bred}


@pytest.fixture
def two_bulls(empty: Herd) -> Herd:
    """Cheviot is sire of Eden's daughter Kent; Pentland is unrelated; Eden and Lune have calved."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Pentland", "M", date(2022, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.add("Lune", "F", date(2019, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    for dam in ("Eden", "Lune", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
    return h


def test_a_daughter_does_not_go_to_her_sire(two_bulls: Herd) -> None:
    result = two_bulls.ask(solve, SEASON, on=ON)
    assert "Kent" in _groups(result)["Pentland"]
    assert result.worst_inbreeding == 0.0
    assert result.proven_optimal
    kent = next(f for f in result.females if f.tag == "Kent")
    assert dict(zip((b.tag for b in result.bulls), kent.calves, strict=True)) == {
        "Cheviot": 0.25,
        "Pentland": 0.0,
    }


def test_who_is_over_the_limit_everywhere_is_listed_with_the_least(two_bulls: Herd) -> None:
    result = two_bulls.ask(solve, _ask(groups=each_alone([two_bulls.id["Cheviot"]])), on=ON)
    assert _codes(result)["Kent"] == "over_limit"
    reason = next(str(n.reason) for n in result.not_bred if n.tag == "Kent")
    assert "25.0%" in reason
    assert "6.25%" in reason


def test_places_run_out(two_bulls: Herd) -> None:
    bulls = each_alone([AskedBull(two_bulls.id["Cheviot"], 1), AskedBull(two_bulls.id["Pentland"], 1)])
    result = two_bulls.ask(solve, _ask(groups=bulls), on=ON)
    assert sum(len(group) for group in _groups(result).values()) == 2
    assert list(_codes(result).values()).count("no_place") == 1


def test_heifers_go_only_to_bulls_marked_fit(two_bulls: Herd) -> None:
    h = two_bulls
    h.add("Tyne", "F", date(2025, 2, 1))
    result = h.ask(solve, SEASON, on=ON)
    assert _codes(result)["Tyne"] == "not_fit_for_heifers"
    marked = h.ask(solve, _ask(heifer_bulls=(h.id["Pentland"],)), on=ON)
    assert "Tyne" in _groups(marked)["Pentland"]
    chosen = Choice("bull", h.id["Cheviot"], "small calves from him")
    by_hand = h.ask(solve, _ask(choices={h.id["Tyne"]: chosen}), on=ON)
    assert "Tyne" in _groups(by_hand)["Cheviot"], "the way on, with a reason"


def test_codes_of_those_who_are_not_bred(two_bulls: Herd) -> None:
    h = two_bulls
    h.add("Rye", "F", date(2025, 9, 1))
    h.add("Tweed", "F", date(2020, 3, 1))
    h.do(Serve(h.id["Tweed"], date(2026, 2, 20), sire=h.id["Pentland"]))
    choices = {h.id["Lune"]: Choice("sell", None, "bad feet")}
    codes = _codes(h.ask(solve, _ask(choices=choices), on=ON))
    assert codes["Rye"] == "too_young"
    assert codes["Tweed"] == "in_calf"
    assert codes["Lune"] == "chosen"


def test_who_is_gone_before_the_bull_comes_has_no_place(two_bulls: Herd) -> None:
    h = two_bulls
    for tag in ("Lune", "Cheviot"):
        h.do(Leave(h.id[tag], date(2026, 5, 20), departure_kind="sold"))
    h.do(Leave(h.id["Eden"], date(2026, 6, 20), departure_kind="sold"))  # during the season
    result = h.ask(solve, SEASON, on=ON)
    assert _codes(result)["Lune"] == "left"
    assert set(_groups(result)) == {"Pentland"}
    assert "Eden" in _groups(result)["Pentland"]


def test_marked_not_to_be_bred(two_bulls: Herd) -> None:
    two_bulls.do(ChangeAnimal(two_bulls.id["Lune"], sex="F", do_not_breed="old"))
    assert _codes(two_bulls.ask(solve, SEASON, on=ON))["Lune"] == "chosen"


def test_of_two_possible_sires_the_worse_is_held_against_the_mating(empty: Herd) -> None:
    """Bulls that ran together: the calf's sire is doubtful, and the worse candidate counts, never a mean."""
    h = empty
    for tag in ("Cheviot", "Pentland"):
        h.add(tag, "M", date(2020, 3, 1))
    h.add("Eden", "F", date(2018, 3, 1))
    h.add("Ure", "M", date(2022, 3, 1))
    from herdbook.services.commands.running import TurnIn

    bulls = (h.id["Cheviot"], h.id["Pentland"])
    h.do(TurnIn(bulls, (h.id["Eden"],), date(2022, 6, 1), date(2022, 8, 2)))
    h.calve("Eden", date(2023, 4, 1), "Kent")
    h.calve("Kent", date(2026, 3, 1), "Swale")
    result = h.ask(solve, SEASON, on=ON)
    kent = next(f for f in result.females if f.tag == "Kent")
    by_bull = dict(zip((b.tag for b in result.bulls), kent.calves, strict=True))
    assert by_bull == {"Cheviot": 0.25, "Pentland": 0.25, "Ure": 0.0}
    assert "Kent" in _groups(result)["Ure"]


def test_accepting_writes_runs_and_fills_the_due_list_and_can_be_undone(two_bulls: Herd) -> None:
    h = two_bulls
    before = h.ask(due_list, on=ON)
    choices = {h.id["Lune"]: Choice("finishing", None, "fat enough")}
    result = h.ask(solve, _ask(choices=choices), on=ON)
    h.do(accept_command(result, ON))
    rows = {row.tag: row for row in h.ask(due_list, on=date(2026, 9, 1))}
    assert set(rows) == {"Eden", "Kent"}
    assert rows["Kent"].sires[0].tag == "Pentland"
    assert rows["Kent"].first_due == date(2027, 3, 11)
    h.book.undo()
    assert h.ask(due_list, on=ON) == before


def test_a_bull_alone_is_counted_by_the_months_of_his_age(empty: Herd) -> None:
    """A bull of 14 months at turn-in has 14 females (one a month: Oklahoma State Extension)."""
    empty.add("Fell", "M", date(2025, 4, 1))
    empty.add("Eden", "F", date(2018, 3, 1))
    result = empty.ask(solve, SEASON, on=ON)
    assert [(b.tag, b.capacity) for b in result.bulls] == [("Fell", 14)]


def test_no_bull_at_all_is_refused_in_words(empty: Herd) -> None:
    empty.add("Eden", "F", date(2018, 3, 1))
    with pytest.raises(Refused, match="no bull"):
        empty.ask(solve, SEASON, on=ON)


@pytest.mark.parametrize(
    ("usual", "on", "begins"),
    [
        ("06-01", date(2026, 5, 1), date(2026, 6, 1)),
        ("06-01", date(2026, 6, 1), date(2026, 6, 1)),
        ("06-01", date(2026, 6, 2), date(2027, 6, 1)),
        ("02-29", date(2026, 2, 1), date(2026, 3, 1)),
        ("02-29", date(2028, 2, 1), date(2028, 2, 29)),
    ],
)
def test_the_next_usual_bull_in(usual: str, on: date, begins: date) -> None:
    settings = BookSettings(usual_bull_in=usual)
    assert season_of(SortAsk(), settings, on)[0] == begins


def test_the_limit_is_a_setting(two_bulls: Herd) -> None:
    two_bulls.do(ChangeSetting("inbreeding_limit", 0.3))
    assert two_bulls.ask(solve, SEASON, on=ON).limit == 0.3
