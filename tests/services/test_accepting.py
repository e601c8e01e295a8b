"""Accepting a plan: runs, moves, Today and the due list; another in its place, withdrawn, undone, redone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import select

from herdbook.services.commands.accepting import AcceptPlan, WithdrawPlan
from herdbook.services.commands.animals import Move, NewGroup
from herdbook.services.commands.happenings import Castrate, Leave
from herdbook.services.commands.running import ChangeBull, EndRun, JoinRun, LeaveRun
from herdbook.services.commands.season import ChangePlan, DropPlan
from herdbook.services.facts import load_herd
from herdbook.services.history import entry_words
from herdbook.services.queries.due import due_list
from herdbook.services.queries.plan_open import open_plan
from herdbook.services.queries.plans import accept_command, accepted_plan, days_of, keep_command, plans
from herdbook.services.queries.runs import RunRow, runs
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, gather, solve
from herdbook.services.queries.today import today
from herdbook.services.registry import Refused
from herdbook.store import tables as t
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
FIRST, LAST = date(2026, 6, 1), date(2026, 8, 2)
CHANGE = date(2026, 7, 1)


@pytest.fixture
def season(empty: Herd) -> Herd:
    """Cheviot is followed by Pentland with one group, Fell and Ochil run together with the other."""
    h = empty
    for tag in ("Cheviot", "Pentland", "Fell", "Ochil"):
        h.add(tag, "M", date(2021, 3, 1))
    for tag in ("Eden", "Lune", "Tees", "Wear", "Nith"):
        h.add(tag, "F", date(2019, 3, 1))
        h.calve(tag, date(2026, 3, 20), f"{tag} calf", sex="F")
    return h


def ask_of(h: Herd, first: date = FIRST, last: date = LAST) -> SortAsk:
    """Return what is asked: two females to each group, one to finish."""
    change = first + timedelta(days=30)
    in_turn = (
        AskedBull(h.id["Cheviot"], None, first, change - timedelta(days=1)),
        AskedBull(h.id["Pentland"], None, change, last),
    )
    together = (AskedBull(h.id["Fell"]), AskedBull(h.id["Ochil"]))
    with_bull = {"Eden": "Cheviot", "Lune": "Cheviot", "Tees": "Fell", "Wear": "Fell"}
    choices = {h.id[tag]: Choice("bull", h.id[bull]) for tag, bull in with_bull.items()}
    choices[h.id["Nith"]] = Choice("finishing", None, "bad feet")
    return SortAsk(
        bull_in=first, bull_out=last, groups=(AskedGroup(in_turn), AskedGroup(together)), choices=choices
    )


def accept(h: Herd, ask: SortAsk | None = None, on: date = ON, **more: Any) -> int:
    """Sort and accept; return the plan's id."""
    ask = ask or ask_of(h)
    made: int = h.do(accept_command(h.ask(solve, ask, on=on), on, ask=ask, **more))
    return made


def whole(h: Herd) -> dict[str, list[Any]]:
    """Return every row of every table that is journaled."""
    with h.book.read() as conn:
        return {
            name: [tuple(row) for row in conn.execute(select(table).order_by(table.c.id))]
            for name, table in t.METADATA.tables.items()
            if name not in ("act", "act_row")
        }


def _runs(h: Herd) -> list[RunRow]:
    with h.book.read() as conn:
        return runs(conn)


def _groups(h: Herd, on: date, *tags: str) -> dict[str, str | None]:
    with h.book.read() as conn:
        herd = load_herd(conn, on)
    return {tag: (group[1] if (group := herd[h.id[tag]].group) else None) for tag in tags}


def _told(h: Herd, on: date, code: str) -> list[str]:
    return [errand.text for errand in h.ask(today, on=on) if errand.code == code]


def test_each_group_is_a_run_with_each_bulls_own_days(season: Herd) -> None:
    h = season
    plan_id = accept(h)
    in_turn, together = _runs(h)
    days = {bull.tag: (bull.from_day, bull.to_day) for bull in (*in_turn.bulls, *together.bulls)}
    assert days == {
        "Cheviot": (FIRST, date(2026, 6, 30)),
        "Pentland": (CHANGE, LAST),
        "Fell": (FIRST, LAST),
        "Ochil": (FIRST, LAST),
    }
    assert [f.tag for f in in_turn.females] == ["Eden", "Lune"]
    assert {(f.from_day, f.to_day) for f in in_turn.females} == {(FIRST, LAST)}
    assert [f.tag for f in together.females] == ["Tees", "Wear"]
    assert {run.plan for run in (in_turn, together)} == {plan_id}


def test_the_due_list_fills_and_names_every_bull_that_may_be_the_sire(season: Herd) -> None:
    """Bulls one after the other: both, by dates. Bulls together: both, and neither is preferred."""
    h = season
    accept(h)
    rows = {row.tag: row for row in h.ask(due_list, on=date(2026, 9, 1))}
    assert set(rows) == {"Eden", "Lune", "Tees", "Wear"}
    # 1 June and 2 August, and 283 days: 11 March and 12 May.
    assert (rows["Eden"].first_due, rows["Eden"].last_due) == (date(2027, 3, 11), date(2027, 5, 12))
    in_turn = {sire.tag: sire.chance for sire in rows["Eden"].sires}
    assert set(in_turn) == {"Cheviot", "Pentland"}
    together = {sire.tag: sire.chance for sire in rows["Tees"].sires}
    assert set(together) == {"Fell", "Ochil"}
    assert together["Fell"] == pytest.approx(together["Ochil"])


def test_today_tells_of_each_bull_in_and_out_on_his_day_and_of_the_check(season: Herd) -> None:
    h = season
    accept(h)
    assert len(_told(h, ON, "bull_in")) == 0, "not yet: it is 31 days ahead"
    assert sorted(text.split(": ")[1] for text in _told(h, date(2026, 5, 20), "bull_in")) == [
        "Cheviot with 2",
        "Fell, Ochil with 2",
    ]
    assert [t for t in _told(h, date(2026, 6, 25), "bull_out") if "Cheviot" in t]
    assert [t for t in _told(h, date(2026, 6, 25), "bull_in") if "Pentland" in t]
    out = _told(h, date(2026, 7, 25), "bull_out")
    assert len(out) == 2
    assert not [t for t in out if "Cheviot" in t]
    assert _told(h, LAST + timedelta(days=34), "check") == []
    (check,) = _told(h, LAST + timedelta(days=35), "check")
    assert check.startswith("4 to be checked")


def test_groups_are_moved_on_the_day_that_their_bull_comes(season: Herd) -> None:
    h = season
    h.do(Move((h.id["Cheviot"], h.id["Eden"]), date(2026, 4, 1), h.do(NewGroup("Yard", "other"))))
    accept(h)
    before = _groups(h, date(2026, 5, 31), "Cheviot", "Eden", "Tees", "Nith")
    assert before == {"Cheviot": "Yard", "Eden": "Yard", "Tees": None, "Nith": "Finishing"}
    june = _groups(h, FIRST, "Cheviot", "Pentland", "Eden", "Tees")
    name = "With Cheviot + Pentland"
    assert june == {"Cheviot": name, "Pentland": None, "Eden": name, "Tees": "With Fell + Ochil"}
    assert _groups(h, date(2026, 6, 30), "Cheviot") == {"Cheviot": name}, "his last day counts"
    july = _groups(h, CHANGE, "Cheviot", "Pentland", "Eden")
    assert july == {"Cheviot": "Yard", "Pentland": name, "Eden": name}
    after = _groups(h, LAST + timedelta(days=1), "Pentland", "Eden")
    assert after == {"Pentland": None, "Eden": name}, "the females stay until they are moved"


def test_next_year_the_same_bulls_have_the_same_group(season: Herd) -> None:
    h = season
    accept(h)
    accept(h, ask_of(h, date(2027, 6, 1), date(2027, 8, 2)), on=date(2027, 5, 1), name="Season 2027")
    with h.book.read() as conn:
        names = list(conn.scalars(select(t.Group.name).where(t.Group.purpose == "breeding")))
    assert sorted(names) == ["With Cheviot + Pentland", "With Fell + Ochil"]


def test_undone_it_is_gone_and_done_again_it_stands_as_before(season: Herd) -> None:
    h = season
    before = whole(h)
    accept(h)
    after = whole(h)
    h.book.undo()
    assert whole(h) == before
    h.book.redo()
    assert whole(h) == after
    assert len(_told(h, date(2026, 5, 20), "bull_in")) == 2


def test_a_draft_accepted_writes_what_the_page_would(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    draft = h.do(keep_command(h.ask(solve, ask, on=ON), ask=ask))
    kept = whole(h)
    h.do(AcceptPlan(draft, ON))
    from_draft = [(run.name, run.bulls, run.females) for run in _runs(h)]
    h.book.undo()
    assert whole(h) == kept, "the draft stands"
    h.book.undo()
    accept(h)
    assert [(run.name, run.bulls, run.females) for run in _runs(h)] == from_draft


def test_who_has_left_since_a_draft_was_kept_is_passed_over(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    draft = h.do(keep_command(h.ask(solve, ask, on=ON), ask=ask))
    h.do(Leave(h.id["Eden"], ON, departure_kind="sold"))
    h.do(Leave(h.id["Nith"], ON, departure_kind="sold"))
    h.do(AcceptPlan(draft, ON))
    assert [[female.tag for female in run.females] for run in _runs(h)] == [["Lune"], ["Tees", "Wear"]]
    with h.book.read() as conn:
        moved = set(conn.scalars(select(t.Membership.animal_id).where(t.Membership.plan_id == draft)))
    assert not moved & {h.id["Eden"], h.id["Nith"]}


def test_a_draft_whose_bull_is_gone_or_none_any_more_is_refused(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    draft = h.do(keep_command(h.ask(solve, ask, on=ON), ask=ask))
    kept_on = date.today()  # noqa: DTZ011 - a plan is kept at the present time
    h.do(Castrate(h.id["Ochil"], ON, method="band"))
    with pytest.raises(Refused, match="Ochil is castrated"):
        h.do(AcceptPlan(draft, ON))
    h.book.undo()
    h.do(Leave(h.id["Pentland"], kept_on, departure_kind="sold"))
    with pytest.raises(Refused, match="Pentland is not here any more"):
        h.do(AcceptPlan(draft, kept_on))
    assert _runs(h) == []


def test_a_second_plan_for_days_that_overlap_is_refused(season: Herd) -> None:
    h = season
    accept(h)
    before = whole(h)
    later = ask_of(h, LAST, date(2026, 10, 1))  # one day in common
    with pytest.raises(Refused, match="Season 2026 was accepted on 2026-05-01 for days"):
        accept(h, later, name="Late")
    assert whole(h) == before


def test_a_bull_kept_in_beyond_the_season_shares_his_days_too(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    long = AskedGroup((AskedBull(h.id["Fell"], None, FIRST, date(2026, 9, 30)), AskedBull(h.id["Ochil"])))
    longer = replace(ask, groups=(ask.groups[0], long))  # type: ignore[index]
    accept(h, longer)
    with pytest.raises(Refused, match="shares"):
        accept(h, ask_of(h, date(2026, 9, 30), date(2026, 11, 30)), name="Autumn")
    with h.book.read() as conn:
        plan = accepted_plan(conn, date(2026, 9, 30), date(2026, 11, 30))
        assert plan is not None
        assert plan.name == "Season 2026"
        assert accepted_plan(conn, date(2026, 10, 1), date(2026, 11, 30)) is None
        assert days_of(gather(conn, longer, ON)) == (FIRST, date(2026, 9, 30))


def test_two_seasons_a_year_stand_beside_each_other(season: Herd) -> None:
    h = season
    accept(h)
    accept(h, ask_of(h, date(2026, 11, 1), date(2027, 1, 2)), name="Autumn")
    assert {run.name for run in _runs(h)} == {
        "Season 2026 Cheviot + Pentland", "Season 2026 Fell + Ochil",
        "Autumn Cheviot + Pentland", "Autumn Fell + Ochil",
    }  # fmt: skip
    with h.book.read() as conn:
        assert accepted_plan(conn, FIRST, LAST).name == "Season 2026"  # type: ignore[union-attr]
        assert accepted_plan(conn, date(2027, 1, 2), date(2027, 1, 2)).name == "Autumn"  # type: ignore[union-attr]


def test_another_plan_takes_its_place_in_one_act(season: Herd) -> None:
    h = season
    h.do(Move((h.id["Eden"], h.id["Nith"]), date(2026, 4, 1), h.do(NewGroup("Yard", "other"))))
    first = accept(h)
    between = whole(h)
    only = AskedGroup((AskedBull(h.id["Fell"]),))
    other = SortAsk(bull_in=date(2026, 6, 10), bull_out=LAST, groups=(only,))
    later = date(2026, 5, 10)
    second = accept(h, other, on=later, name="One bull", instead=True)
    (run,) = _runs(h)
    assert (run.plan, run.bull_words, len(run.females)) == (second, "Fell", 5)
    with h.book.read() as conn:
        rows = {row.id: row for row in plans(conn)}
    assert (rows[first].state, rows[first].replaced) == ("replaced", later)
    assert rows[second].state == "accepted"
    assert _groups(h, FIRST, "Eden", "Tees") == {"Eden": "Yard", "Tees": None}, "its moves are gone"
    nith = {day: _groups(h, day, "Nith")["Nith"] for day in (later, date(2026, 6, 10))}
    assert nith == {later: "Finishing", date(2026, 6, 10): "With Fell"}, "what was done by then stands"
    assert _told(h, date(2026, 5, 20), "bull_in") == ["Bull in 10 Jun: Fell with 5"]
    h.book.undo()
    assert whole(h) == between


def test_moves_of_the_same_day_are_taken_back_with_the_plan(season: Herd) -> None:
    h = season
    before = {tag: _groups(h, date(2026, 7, 5), tag)[tag] for tag in ("Nith", "Eden", "Cheviot")}
    plan_id = accept(h)
    h.do(WithdrawPlan(plan_id, ON))
    assert {tag: _groups(h, date(2026, 7, 5), tag)[tag] for tag in before} == before
    assert _runs(h) == []
    with h.book.read() as conn:
        assert next(row for row in plans(conn)).state == "draft"
    h.do(AcceptPlan(plan_id, ON))
    assert len(_runs(h)) == 2, "a draft again can be accepted again"


def test_what_has_begun_is_not_taken_back(season: Herd) -> None:
    h = season
    plan_id = accept(h)
    before = whole(h)
    other = ask_of(h, FIRST, date(2026, 8, 10))
    with pytest.raises(Refused, match="Season 2026 has begun: Cheviot went in on 2026-06-01"):
        accept(h, other, on=FIRST, name="Other", instead=True)
    with pytest.raises(Refused, match="has begun"):
        h.do(WithdrawPlan(plan_id, FIRST))
    assert whole(h) == before


def test_a_withdrawn_plan_can_be_thrown_away_though_moves_were_made(season: Herd) -> None:
    h = season
    plan_id = accept(h)
    later = date(2026, 5, 10)
    with pytest.raises(Refused, match="stays in the book"):
        h.do(DropPlan(plan_id))
    h.do(WithdrawPlan(plan_id, later))
    h.do(DropPlan(plan_id))
    assert _groups(h, later, "Nith") == {"Nith": "Finishing"}


def test_accepted_twice_is_refused(season: Herd) -> None:
    plan_id = accept(season)
    with pytest.raises(Refused, match="accepted already"):
        season.do(AcceptPlan(plan_id, ON))
    with pytest.raises(Refused, match="no such plan"):
        season.do(AcceptPlan(99, ON))


def test_an_accepted_plan_opens_as_it_was(season: Herd) -> None:
    h = season
    result = h.ask(solve, ask_of(h), on=ON)
    opened = h.ask(open_plan, accept(h), on=ON)
    assert opened.changes == ()
    assert (opened.result.groups, opened.result.not_bred) == (result.groups, result.not_bred)


def test_a_bull_taken_out_sooner_goes_back_sooner(season: Herd) -> None:
    """One bull hurt on 5 July, another in on the 9th: the days between cover nobody, in the groups too."""
    h = season
    h.do(Move((h.id["Pentland"],), date(2026, 4, 1), h.do(NewGroup("Yard", "other"))))
    accept(h)
    name = "With Cheviot + Pentland"
    h.add("Merrick", "M", date(2022, 3, 1))
    hurt, after = date(2026, 7, 5), date(2026, 7, 9)
    h.do(ChangeBull(h.id["Pentland"], hurt, h.id["Merrick"], after))
    assert _groups(h, hurt, "Pentland") == {"Pentland": name}
    assert _groups(h, date(2026, 7, 6), "Pentland", "Merrick") == {"Pentland": "Yard", "Merrick": None}
    assert _groups(h, after, "Merrick", "Eden") == {"Merrick": name, "Eden": name}
    assert _groups(h, LAST + timedelta(days=1), "Pentland", "Merrick") == {
        "Pentland": "Yard",
        "Merrick": None,
    }


def test_a_run_ended_sooner_takes_its_bulls_out_of_the_group(season: Herd) -> None:
    h = season
    accept(h)
    ended = date(2026, 7, 10)
    together = next(run for run in _runs(h) if "Fell" in run.bull_words)
    h.do(EndRun(together.id, ended))
    assert _groups(h, ended, "Fell", "Ochil") == dict.fromkeys(("Fell", "Ochil"), "With Fell + Ochil")
    assert _groups(h, ended + timedelta(days=1), "Fell", "Ochil") == {"Fell": None, "Ochil": None}
    assert _groups(h, CHANGE, "Pentland") == {"Pentland": "With Cheviot + Pentland"}, "the other run goes on"


def test_a_bull_put_into_an_open_run_and_taken_out_again(season: Herd) -> None:
    h = season
    h.add("Merrick", "M", date(2022, 3, 1))
    h.do(Move((h.id["Merrick"],), date(2026, 4, 1), h.do(NewGroup("Yard", "other"))))
    accept(h)
    together = next(run for run in _runs(h) if "Fell" in run.bull_words)
    h.do(JoinRun(together.id, (h.id["Merrick"],), CHANGE))
    assert _groups(h, date(2026, 10, 1), "Merrick") == {"Merrick": "With Fell + Ochil"}, "no day is set"
    h.do(LeaveRun(together.id, (h.id["Merrick"],), date(2026, 7, 20)))
    assert _groups(h, date(2026, 7, 21), "Merrick") == {"Merrick": "Yard"}


def test_a_move_before_bull_in_leaves_the_planned_one(season: Herd) -> None:
    h = season
    plan_id = accept(h)
    yard = h.do(NewGroup("Yard", "other"))
    h.do(Move((h.id["Eden"],), date(2026, 5, 20), yard))
    assert _groups(h, date(2026, 5, 25), "Eden") == {"Eden": "Yard"}
    assert _groups(h, FIRST, "Eden") == {"Eden": "With Cheviot + Pentland"}
    h.do(WithdrawPlan(plan_id, date(2026, 5, 25)))
    assert _groups(h, FIRST, "Eden") == {"Eden": "Yard"}


def test_a_bull_moved_by_hand_in_the_season_goes_back_nowhere(season: Herd) -> None:
    h = season
    yard, pen = h.do(NewGroup("Yard", "other")), h.do(NewGroup("Pen", "other"))
    h.do(Move((h.id["Cheviot"],), date(2026, 4, 1), yard))
    plan_id = accept(h)
    assert _groups(h, CHANGE, "Cheviot") == {"Cheviot": "Yard"}
    h.do(Move((h.id["Cheviot"],), date(2026, 6, 20), pen))
    assert _groups(h, CHANGE, "Cheviot") == {"Cheviot": "Pen"}
    h.book.undo()
    h.do(Move((h.id["Cheviot"],), date(2026, 5, 20), pen))
    assert _groups(h, CHANGE, "Cheviot") == {"Cheviot": "Pen"}, "back to where he was last"
    h.do(WithdrawPlan(plan_id, date(2026, 5, 25)))
    assert _groups(h, CHANGE, "Cheviot") == {"Cheviot": "Pen"}


def test_moves_written_out_of_order_fit_in_by_their_days(season: Herd) -> None:
    h = season
    yard, hill = h.do(NewGroup("Yard", "other")), h.do(NewGroup("Hill", "other"))
    h.do(Move((h.id["Eden"],), date(2026, 5, 1), hill))
    h.do(Move((h.id["Eden"],), date(2026, 4, 1), yard))
    assert _groups(h, date(2026, 4, 30), "Eden") == {"Eden": "Yard"}
    assert _groups(h, date(2026, 5, 1), "Eden") == {"Eden": "Hill"}


def test_the_history_tells_of_plans_by_name(season: Herd) -> None:
    h = season
    ask = ask_of(h)
    result = h.ask(solve, ask, on=ON)
    draft = h.do(keep_command(result, ask=ask))
    h.do(ChangePlan(draft, "Hill", "after the sale"))
    h.do(AcceptPlan(draft, ON))
    h.do(WithdrawPlan(draft, ON))
    h.do(DropPlan(draft))
    assert [entry_words(entry) for entry in reversed(h.book.history(5))] == [
        "plan Season 2026 kept, bull in 1 Jun 2026",
        "name or note of plan Hill",
        "plan Hill accepted, bull in 1 Jun 2026",
        "plan Hill a draft again",
        "draft Hill thrown away",
    ]
