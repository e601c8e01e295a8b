"""The sheets of a sort: everyone once, from where to where, from the page and from a kept plan."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.animals import ChangeAnimal, GiveTag, Move, NewGroup
from herdbook.services.commands.happenings import Leave
from herdbook.services.facts import load_herd
from herdbook.services.queries.plans import accept_command, keep_command
from herdbook.services.queries.season_placing import printable
from herdbook.services.queries.season_sheets import (
    Gate,
    SortSheet,
    SortSheets,
    sheets_of_plan,
    sheets_of_result,
)
from herdbook.services.queries.sort import Choice, SortAsk, solve
from herdbook.services.registry import Refused
from tests.services.conftest import Herd
from tests.services.season_herd import CHANGE, IN, ON, OUT, ask_of, result_of, sorted_herd


@pytest.fixture
def h(empty: Herd) -> Herd:
    return sorted_herd(empty)


def sheet(sheets: SortSheets, place: str, at: int = 0) -> SortSheet:
    return [one for one in sheets.sheets if one.place == place][at]


def tags(of: SortSheet) -> list[str]:
    return [row.who.tag for row in of.rows]


def test_everyone_once_each_on_the_sheet_of_her_place(h: Herd) -> None:
    """The rows are those of the sort, in order of tags; a calf at foot is not sorted."""
    sheets = h.ask(sheets_of_result, result_of(h))
    assert [tags(one) for one in sheets.sheets] == [
        ["Eden", "Lune"], ["Kent"], ["Wharfe"], ["Nith"], ["Tamar"],
    ]  # fmt: skip
    assert [one.to for one in sheets.sheets] == [
        "With Cheviot + Fell", "With Ochil", None, "Finishing", "To sell",
    ]  # fmt: skip
    assert sheets.too_young == ("Wharfe",)
    assert (sheets.accepted, sheets.kept, sheets.first, sheets.last) == (None, None, IN, OUT)


def test_what_a_row_says(h: Herd) -> None:
    """Number, class, take care, from where, and why by hand."""
    sheets = h.ask(sheets_of_result, result_of(h))
    eden, lune = sheet(sheets, "bull").rows
    assert (eden.who.electronic, eden.who.class_, eden.who.care) == ("982000123456789", "heifer", "kicks")
    assert (eden.who.group, eden.there, eden.by_hand, eden.reason) == (
        "Top field", False, True, "quiet with him",
    )  # fmt: skip
    assert (lune.who.electronic, lune.who.care, lune.reason) == (None, None, "")
    (wharfe,) = sheet(sheets, "not_bred").rows
    assert (wharfe.there, wharfe.by_hand) == (True, False)
    assert wharfe.reason == "12 months old at bull-in; 14 wanted."
    (tamar,) = sheet(sheets, "sell").rows
    assert tamar.reason == "chosen by hand: old udder"


def test_bulls_that_follow_one_another_stand_with_their_own_days(h: Herd) -> None:
    one = sheet(h.ask(sheets_of_result, result_of(h)), "bull")
    assert [(bull.who.tag, bull.first, bull.last) for bull in one.bulls] == [
        ("Cheviot", IN, CHANGE - timedelta(days=1)), ("Fell", CHANGE, OUT),
    ]  # fmt: skip
    assert one.places == 20, "no more than its paddock holds"


def test_who_moves_from_where_to_where(h: Herd) -> None:
    """The gates, with the bulls by name; who is in no group comes from nowhere that the book knows."""
    sheets = h.ask(sheets_of_result, result_of(h))
    assert sheets.gates == (
        Gate("Top field", "With Cheviot + Fell", 2, ("Cheviot", "Fell"), IN),
        Gate("Yard", "With Ochil", 1, (), IN),
        Gate(None, "With Ochil", 0, ("Ochil",), IN),
        Gate("Top field", "Finishing", 1, (), None),
        Gate("Top field", "To sell", 1, (), None),
    )
    assert sheets.staying == 1
    assert sum(gate.females for gate in sheets.gates) + sheets.staying == 6


def test_in_the_order_of_where_they_come_from(h: Herd) -> None:
    """From the yard after the top field, and within each by tag."""
    everyone = {h.id[tag]: Choice("bull", h.id["Ochil"]) for tag in ("Eden", "Kent", "Lune")}
    result = h.ask(solve, SortAsk(bull_in=IN, bull_out=OUT, choices=everyone))
    by_tag = h.ask(sheets_of_result, result)
    with h.book.read() as conn:
        by_group = sheets_of_result(conn, result, ON, "from")
    ochil = next(at for at, one in enumerate(by_tag.sheets) if one.to == "With Ochil")
    assert tags(by_tag.sheets[ochil])[:3] == ["Eden", "Kent", "Lune"]
    assert tags(by_group.sheets[ochil])[:3] == ["Eden", "Lune", "Kent"]
    assert {t for s in by_group.sheets for t in tags(s)} == {t for s in by_tag.sheets for t in tags(s)}


def test_a_kept_plan_gives_the_same_sheets_as_the_page(h: Herd) -> None:
    """Only its name and day are others."""
    result = result_of(h)
    plan = h.do(keep_command(result, "Summer", ask=ask_of(h)))
    of_page, of_plan = h.ask(sheets_of_result, result), h.ask(sheets_of_plan, plan)
    assert of_plan.sheets == of_page.sheets
    assert (of_plan.gates, of_plan.staying, of_plan.too_young) == (
        of_page.gates, of_page.staying, of_page.too_young,
    )  # fmt: skip
    assert of_plan.name == "Summer, version 1"
    assert of_plan.accepted is None
    assert of_plan.kept is not None


@pytest.mark.parametrize("later", [0, 40])
def test_after_accepting_they_still_come_from_where_they_stood_before(h: Herd, later: int) -> None:
    """Accepting moves them in the book; nobody has opened a gate yet."""
    result = result_of(h)
    before = h.ask(sheets_of_result, result)
    plan = h.do(accept_command(result, ON, "Summer", ask=ask_of(h)))
    after = h.ask(sheets_of_plan, plan, on=ON + timedelta(days=later))
    assert after.accepted == ON
    assert after.gates == before.gates
    assert [[row.who.group for row in one.rows] for one in after.sheets] == [
        [row.who.group for row in one.rows] for one in before.sheets
    ]


def test_who_stands_there_already_is_told_so(h: Herd) -> None:
    """She is counted among those that stay, and through no gate."""
    group = h.do(NewGroup("With Ochil", "breeding"))
    h.do(Move((h.id["Kent"], h.id["Ochil"]), date(2026, 4, 1), group))
    sheets = h.ask(sheets_of_result, result_of(h))
    assert [row.there for row in sheet(sheets, "bull", 1).rows] == [True]
    assert not [gate for gate in sheets.gates if gate.to == "With Ochil"]
    assert sheets.staying == 2


def test_who_has_left_since_the_plan_was_kept_is_told_so(h: Herd) -> None:
    plan = h.do(keep_command(result_of(h), ask=ask_of(h)))
    h.do(Leave(h.id["Lune"], ON))
    eden, lune = sheet(h.ask(sheets_of_plan, plan, on=ON + timedelta(days=1)), "bull").rows
    assert (eden.who.here, lune.who.here) == (True, False)


def test_a_kept_reason_has_its_days_in_words(h: Herd) -> None:
    """The plan holds the sentence as it was; a day in it is written as days are."""
    h.do(ChangeAnimal(h.id["Lune"], sex="F", do_not_breed="rest until 2026-09-01"))
    ask = SortAsk(bull_in=IN, bull_out=OUT)
    plan = h.do(keep_command(h.ask(solve, ask), ask=ask))
    rows = {row.who.tag: row.reason for row in sheet(h.ask(sheets_of_plan, plan), "not_bred").rows}
    assert rows["Lune"] == "Marked not to be bred: rest until 1 Sep 2026"


def test_a_heifer_too_young_beside_a_bull_is_an_alert_also_when_she_is_a_calf(h: Herd) -> None:
    """Wharfe, not a year old, stands in the field of two bulls; a calf of eight months there is told too.

    Heifers can conceive from about six months: see `husbandry.mishaps` for the sources.
    """
    h.add("Dove", "F", date(2025, 8, 20))
    group = h.ask(load_herd)[h.id["Eden"]].group
    h.do(Move((h.id["Dove"],), date(2026, 1, 1), group[0]))
    sheets = h.ask(sheets_of_result, result_of(h))
    rows = {row.who.tag: row.who.alerts for row in sheet(sheets, "not_bred").rows}
    assert set(rows) == {"Wharfe", "Dove"}
    for told in rows.values():
        assert "Too young to be bred, and with an entire male (Cheviot, Fell)" in told[0]
    assert "Bora" not in rows, "not six months old"


def test_the_likeliest_plan_to_print_comes_first(h: Herd) -> None:
    """The accepted season that is on or comes next, then the other accepted ones, then drafts."""
    h.do(keep_command(result_of(h), "Draft", ask=ask_of(h)))
    h.do(accept_command(result_of(h), ON, "Summer", ask=ask_of(h)))
    autumn = SortAsk(bull_in=date(2026, 10, 1), bull_out=date(2026, 12, 1))
    h.do(accept_command(h.ask(solve, autumn), ON, "Autumn", ask=autumn))
    for day, names in (
        (ON, ["Summer", "Autumn", "Draft"]),
        (OUT, ["Summer", "Autumn", "Draft"]),
        (OUT + timedelta(days=1), ["Autumn", "Summer", "Draft"]),
        (date(2027, 3, 1), ["Autumn", "Summer", "Draft"]),
    ):
        assert [row.name for row in h.ask(printable, on=day)] == names, day


def test_there_is_no_such_plan(h: Herd) -> None:
    with pytest.raises(Refused, match="no such plan"):
        h.ask(sheets_of_plan, 99)


def test_accepting_a_kept_plan_names_its_groups_as_the_book_has_them(h: Herd) -> None:
    """A bull that has a new tag since does not change what his group is called."""
    plan = h.do(keep_command(result_of(h), ask=ask_of(h)))
    h.do(AcceptPlan(plan, ON))
    h.do(ChangeAnimal(h.id["Ochil"], name="Ochil", sex="M"))
    h.do(GiveTag(h.id["Ochil"], "B7"))
    assert sheet(h.ask(sheets_of_plan, plan), "bull", 1).to == "With Ochil"
