"""What is asked about before a plan is accepted."""

from __future__ import annotations

from datetime import date

import pytest

from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.happenings import Leave
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from herdbook.services.queries.plans import accept_command, keep_command
from herdbook.services.queries.sort import AskedBull, Choice, SortAsk, each_alone, solve
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
FIRST, LAST = date(2026, 6, 1), date(2026, 8, 2)


@pytest.fixture
def season(empty: Herd) -> Herd:
    """Cheviot with Eden and Lune, Fell with nobody, Tees to finish; Ochil is known by name only."""
    h = empty
    for tag in ("Cheviot", "Fell"):
        h.add(tag, "M", date(2021, 3, 1))
    h.add("Ochil", "M", date(2021, 3, 1), here=False)
    for tag in ("Eden", "Lune", "Tees"):
        h.add(tag, "F", date(2019, 3, 1))
        h.calve(tag, date(2026, 3, 20), f"{tag} calf", sex="F")
    return h


def ask_of(h: Herd, bull: str = "Cheviot") -> SortAsk:
    """Return what is asked: all with one bull, Tees to finish."""
    choices = {h.id[tag]: Choice("bull", h.id[bull]) for tag in ("Eden", "Lune")}
    choices[h.id["Tees"]] = Choice("finishing", None, "bad feet")
    groups = each_alone([AskedBull(h.id[bull]), AskedBull(h.id["Fell"])])
    return SortAsk(bull_in=FIRST, bull_out=LAST, groups=groups, choices=choices)


def accepting(h: Herd, bull: str = "Cheviot") -> AcceptPlan:
    """Return the command that accepts the sort."""
    return accept_command(h.ask(solve, ask_of(h, bull), on=ON), ON, ask=ask_of(h, bull))


def told(h: Herd, command: AcceptPlan) -> dict[str, str]:
    """Return what is asked about it, by code."""
    with h.book.read() as conn:
        return {reason.code: str(reason) for reason in doubts(conn, command, command.day)}


def test_a_plain_plan_is_not_asked_about(season: Herd) -> None:
    assert told(season, accepting(season)) == {}


def test_a_bull_and_females_that_are_in_another_run_on_its_days(season: Herd) -> None:
    h = season
    command = accepting(h)
    h.do(TurnIn((h.id["Cheviot"],), (h.id["Lune"], h.id["Tees"]), LAST, date(2026, 9, 1)))
    said = told(h, command)
    assert said["bull_elsewhere"].startswith("Cheviot is in another bull run, with 2 from 2026-08-02 on")
    assert said["female_elsewhere"].endswith("both may be the sire: Lune")


def test_a_run_that_is_over_or_whose_bull_is_not_used_is_no_matter(season: Herd) -> None:
    h = season
    command = accepting(h)
    h.do(TurnIn((h.id["Cheviot"],), (h.id["Lune"],), date(2026, 4, 1), date(2026, 5, 31)))
    h.do(TurnIn((h.id["Fell"],), (h.id["Tees"],), FIRST, LAST))
    assert told(h, command) == {}


def test_the_plan_whose_place_it_takes_is_left_aside(season: Herd) -> None:
    h = season
    h.do(accepting(h))
    assert told(h, accepting(h)) == {}


def test_a_bull_that_is_not_here(season: Herd) -> None:
    said = told(season, accepting(season, "Ochil"))
    assert said == {"not_here_yet": "Ochil is not here; he must be by 2026-06-01"}


def test_of_a_draft_who_has_left_is_named(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    draft = h.do(keep_command(h.ask(solve, ask, on=ON), ask=ask))
    for tag in ("Eden", "Tees"):
        h.do(Leave(h.id[tag], ON, departure_kind="sold"))
    assert told(h, AcceptPlan(draft, ON)) == {"passed_over": "Not here any more and passed over: Eden, Tees"}
    assert told(h, AcceptPlan(99, ON)) == {}
