"""Plans of a season: kept with versions, listed, opened again as they were, with what has changed since."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import ChangeAnimal, NameParent
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import Castrate, Leave
from herdbook.services.commands.season import ChangePlan, DropPlan
from herdbook.services.queries.plan_open import OpenedPlan, open_plan
from herdbook.services.queries.plans import PlanRow, keep_command, plan, plans
from herdbook.services.queries.sort import (
    AskedBull,
    AskedGroup,
    Choice,
    SortAsk,
    SortResult,
    gather,
    place,
    solve,
)
from herdbook.services.queries.sort_hand import kept_from, moved
from herdbook.services.queries.sort_rows import Prices, WantedLook
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
FIRST, LAST = date(2026, 6, 1), date(2026, 8, 2)


@pytest.fixture
def season(empty: Herd) -> Herd:
    """Cheviot and Pentland follow one another, Fell runs alone; Kent is Cheviot's daughter, Rye too young."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.add("Pentland", "M", date(2022, 3, 1))
    h.add("Fell", "M", date(2023, 3, 1))
    for tag, born in (("Eden", 2018), ("Lune", 2019), ("Tees", 2020), ("Wear", 2020)):
        h.add(tag, "F", date(born, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    h.add("Rye", "F", date(2025, 9, 1))
    for dam in ("Eden", "Lune", "Tees", "Wear", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
    return h


def asked(h: Herd) -> SortAsk:
    """Return what is asked with everything set that a plan must keep."""
    one_after_the_other = AskedGroup(
        (
            AskedBull(h.id["Cheviot"], None, FIRST, date(2026, 6, 30)),
            AskedBull(h.id["Pentland"], 12, date(2026, 7, 1), LAST),
        ),
        paddock=3,
    )
    return SortAsk(
        limit=0.1,
        bull_in=FIRST,
        bull_out=LAST,
        groups=(one_after_the_other, AskedGroup((AskedBull(h.id["Fell"]),), capacity=4)),
        heifer_bulls=(h.id["Fell"],),
        choices={
            h.id["Lune"]: Choice("bull", h.id["Cheviot"], "she is in his field"),
            h.id["Tees"]: Choice("finishing", None, "bad feet"),
        },
        apart={(h.id["Wear"], h.id["Cheviot"]): "he hurt her last year"},
        most_groups=2,
        least_group=1,
        prices=Prices(risk=0.5, same_group=0.01, looks=(WantedLook("polled", "polled", 0.02),)),
        held="expected",
    )


def keep(h: Herd, ask: SortAsk | None = None, name: str = "") -> int:
    """Sort, keep it as a plan, and return its id."""
    ask = ask or asked(h)
    made: int = h.do(keep_command(h.ask(solve, ask, on=ON), name, ask=ask))
    return made


def keep_result(h: Herd, result: SortResult, ask: SortAsk) -> OpenedPlan:
    """Keep a placing, and open it again."""
    made = h.do(keep_command(result, ask=ask))
    with h.book.read() as conn:
        return open_plan(conn, made, ON)


def _where(result: SortResult) -> dict[str, str]:
    return {f.tag: group.tag for group in result.groups for f in group.females} | {
        n.tag: n.place for n in result.not_bred
    }


def _open(h: Herd, plan_id: int, on: date = ON) -> OpenedPlan:
    opened: OpenedPlan = h.ask(open_plan, plan_id, on=on)
    return opened


def _plans(h: Herd) -> list[PlanRow]:
    with h.book.read() as conn:
        return plans(conn)


def _changes(opened: OpenedPlan) -> set[tuple[str, str]]:
    return {(change.code, change.tag) for change in opened.changes}


def test_a_plan_opens_as_it_was_kept(season: Herd) -> None:
    h = season
    before = h.ask(solve, asked(h), on=ON)
    opened = _open(h, keep(h))
    assert opened.changes == ()
    assert _where(opened.result) == _where(before)
    assert opened.result.groups == before.groups
    assert opened.result.not_bred == before.not_bred
    assert opened.result.bull_groups == before.bull_groups
    assert (opened.result.proven_optimal, opened.result.gap) == (before.proven_optimal, before.gap)
    with h.book.read() as conn:
        again = place(gather(conn, opened.ask, ON), opened.ask.choices)
    assert _where(again) == _where(before), "the sort asked again from the plan"


def test_all_that_was_asked_comes_back(season: Herd) -> None:
    """Every field of the question; one that is added later must come back too."""
    ask = asked(season)
    plan_id = keep(season)
    with season.book.read() as conn:
        found = plan(conn, plan_id)
    assert found is not None
    for field in fields(SortAsk):
        mine, told = getattr(ask, field.name), getattr(found.ask, field.name)
        if field.name == "groups":  # the days of every bull are kept, also where they were the season's
            fell = AskedGroup((AskedBull(season.id["Fell"], None, FIRST, LAST),), capacity=4)
            assert told == (mine[0], fell)
        elif field.name == "not_for_heifers":  # each bull's mark is kept, so that a later one changes nothing
            assert told == (season.id["Cheviot"], season.id["Pentland"])
        else:
            assert told == mine, field.name


def test_moved_by_hand_and_kept(season: Herd) -> None:
    h = season
    ask = asked(h)
    result = moved(h.ask(solve, ask, on=ON), h.id["Eden"], Choice("sell", None, "old"))
    plan_id = h.do(keep_command(result, "Small herd", ask=ask))
    opened = _open(h, plan_id)
    assert _where(opened.result)["Eden"] == "sell"
    assert opened.result.choices[h.id["Eden"]] == Choice("sell", None, "old")
    assert not opened.result.proven_optimal


def test_versions_count_under_each_name(season: Herd) -> None:
    h = season
    first, second = keep(h), keep(h)
    other = keep(h, name="Two bulls")
    rows = {row.id: row for row in _plans(h)}
    assert [(rows[i].name, rows[i].version) for i in (first, second, other)] == [
        ("Season 2026", 1),
        ("Season 2026", 2),
        ("Two bulls", 1),
    ]
    h.do(ChangePlan(first, "Two bulls", "as last year"))
    named = {row.id: row for row in _plans(h)}[first]
    assert (named.name, named.version, named.note) == ("Two bulls", 2, "as last year")
    h.book.undo()
    assert {row.id: row for row in _plans(h)}[first] == rows[first]


def test_a_plan_is_listed_with_its_counts_and_figures(season: Herd) -> None:
    h = season
    result = h.ask(solve, asked(h), on=ON)
    keep(h)
    (row,) = _plans(h)
    bred = [f.inbreeding for group in result.groups for f in group.females]
    assert (row.bred, row.finishing, row.sell) == (len(bred), 1, 0)
    assert row.bred + row.not_bred + row.finishing == len(result.females)
    assert row.mean == pytest.approx(sum(bred) / len(bred))
    assert row.worst == max(bred)
    assert (row.bull_in, row.bull_out, row.state, row.limit) == (FIRST, LAST, "draft", 0.1)


def test_a_draft_is_thrown_away_and_comes_back_with_undo(season: Herd) -> None:
    h = season
    plan_id = keep(h)
    before = _open(h, plan_id)
    h.do(DropPlan(plan_id))
    assert _plans(h) == []
    with pytest.raises(Refused, match="no such plan"):
        _open(h, plan_id)
    h.book.undo()
    assert _open(h, plan_id).result == before.result


def test_a_plan_without_a_name_is_refused(season: Herd) -> None:
    with pytest.raises(Refused, match="needs a name"):
        keep(season, name="  ")


def test_it_is_said_who_has_left_and_who_has_come(season: Herd) -> None:
    h = season
    plan_id = keep(h)
    h.do(Leave(h.id["Eden"], ON, departure_kind="sold"))
    h.add("Nith", "F", date(2020, 1, 1))
    h.calve("Nith", date(2026, 3, 20), "Nith calf", sex="M")
    opened = _open(h, plan_id)
    assert {("left", "Eden"), ("new", "Nith")} <= _changes(opened)
    assert "Eden" not in _where(opened.result)
    (nith,) = (n for n in opened.result.not_bred if n.tag == "Nith")
    assert nith.code == "new", "nobody is placed anew by opening a plan"
    assert not opened.result.proven_optimal


def test_a_figure_that_is_another_now_is_told(season: Herd) -> None:
    h = season
    plan_id = keep(h, replace(asked(h), choices={h.id["Kent"]: Choice("bull", h.id["Cheviot"], "no other")}))
    h.do(ChangeAnimal(h.id["Kent"], sex="F", born=None, dam=None))
    assert _changes(_open(h, plan_id)) == set(), "sire and daughter still, whoever her dam is"
    h.do(NameParent(h.id["Kent"], h.id["Cheviot"], kind="excluded"))
    opened = _open(h, plan_id)
    (told,) = (str(c.reason) for c in opened.changes if c.code == "figure")
    assert told == "Kent: her calf would be 0.0% inbred; it was 25.0% in the plan."


def test_a_bull_that_is_gone_or_none_any_more_is_told(season: Herd) -> None:
    h = season
    plan_id = keep(h)
    today = date.today()  # noqa: DTZ011 - a plan is kept at the present time
    h.do(Leave(h.id["Fell"], today, departure_kind="sold"))
    assert ("bull_left", "Fell") in _changes(_open(h, plan_id, on=today))
    h.do(Castrate(h.id["Cheviot"], ON, method="band"))
    opened = _open(h, plan_id)
    assert ("not_a_bull", "Cheviot") in _changes(opened)
    assert [group.tag for group in opened.result.bull_groups] == ["Pentland", "Fell"]
    assert _where(opened.result)["Lune"] == "Pentland", "the choice stands with the bull that is left"


def test_females_whose_only_bull_is_none_any_more_have_no_place(season: Herd) -> None:
    h = season
    plan_id = keep(h)
    with_fell = {tag for tag, bull in _where(_open(h, plan_id).result).items() if bull == "Fell"}
    assert with_fell
    h.do(Castrate(h.id["Fell"], ON, method="band"))
    opened = _open(h, plan_id)
    assert {("no_bull", tag) for tag in with_fell} <= _changes(opened)


def test_who_may_be_bred_now_and_who_no_more(season: Herd) -> None:
    h = season
    plan_id = keep(h)
    assert _where(_open(h, plan_id).result)["Wear"] == "Fell"
    h.do(ChangeAnimal(h.id["Wear"], sex="F", do_not_breed="lame"))
    h.do(ChangeAnimal(h.id["Rye"], sex="F", born=PartDay(date(2024, 9, 1))))
    opened = _open(h, plan_id)
    assert {("not_ready", "Wear"), ("ready_now", "Rye")} <= _changes(opened)
    assert _where(opened.result)["Wear"] == "Fell", "she stays where the plan has her; it is only told"
    assert next(n for n in opened.result.not_bred if n.tag == "Rye").code == "ready_now"


def test_the_figure_held_against_the_limit_is_told_when_it_is_another(season: Herd) -> None:
    h = season
    plan_id = keep(h, replace(asked(h), held=None))
    h.do(ChangeSetting("inbreeding_held", "expected"))
    assert ("held", "") in _changes(_open(h, plan_id))
    chosen = keep(h)  # with a choice for this sort, whatever the book says
    h.do(ChangeSetting("inbreeding_held", "worst"))
    assert _changes(_open(h, chosen)) == set()


def test_who_waited_for_a_bull_waits_when_the_plan_is_opened(season: Herd) -> None:
    """Eden was kept from the bull she had, and nobody sorted again before the plan was kept."""
    h, ask = season, SortAsk(bull_in=FIRST, bull_out=LAST)
    result = h.ask(solve, ask, on=ON)
    column = next(group for group in result.groups if any(f.tag == "Eden" for f in group.females))
    waits = kept_from(result, h.id["Eden"], column.bull)
    opened = keep_result(h, waits, ask)
    assert opened.changes == ()
    before, after = (
        next(one for one in each.not_bred if one.tag == "Eden") for each in (waits, opened.result)
    )
    assert before == after
    assert str(after.reason) == "without a bull for now; she is placed when you sort again"


def test_choices_that_clash_are_no_plan(season: Herd) -> None:
    """One group only is to be used, and two are chosen by hand: nobody is placed, and each is told why."""
    h = season
    choices = {h.id["Eden"]: Choice("bull", h.id["Fell"]), h.id["Lune"]: Choice("bull", h.id["Cheviot"])}
    ask = SortAsk(bull_in=FIRST, bull_out=LAST, most_groups=1, choices=choices)
    result = h.ask(solve, ask, on=ON)
    assert set(result.clash) == {h.id["Eden"], h.id["Lune"]}
    told = {one.tag: str(one.reason) for one in result.not_bred if one.code == "clash"}
    assert set(told) == {"Eden", "Lune", "Tees", "Wear", "Kent"}
    assert set(told.values()) == {
        "choices made by hand clash: nobody is placed until one of them is taken back"
    }
    with pytest.raises(Refused, match="clash"):
        keep_command(result, ask=ask)
