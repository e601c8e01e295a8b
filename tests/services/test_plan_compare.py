"""Plans side by side: counts, figures, due days, and who is placed otherwise."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.genetics import TestGenes
from herdbook.services.queries.plan_compare import Comparison, PlaceIn, compare
from herdbook.services.queries.plans import keep_command, plan
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, each_alone, solve
from herdbook.services.queries.sort_due import due_of_all, due_of_group
from herdbook.services.registry import Refused
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
SEASON = SortAsk(bull_in=date(2026, 6, 1), bull_out=date(2026, 8, 2), limit=0.3)


@pytest.fixture
def season(empty: Herd) -> Herd:
    """Kent is Cheviot's daughter; Lune and Eden are unrelated to both bulls."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1), breed="Angus")
    h.add("Pentland", "M", date(2022, 3, 1), breed="Limousin")
    for tag, born in (("Eden", 2018), ("Lune", 2019)):
        h.add(tag, "F", date(born, 3, 1))
    h.add("Kent", "F", date(2022, 4, 1), dam=h.id["Eden"], sire=h.id["Cheviot"])
    for dam in ("Eden", "Lune", "Kent"):
        h.calve(dam, date(2026, 3, 20), f"{dam} calf", sex="M")
    return h


def _keep(h: Herd, ask: SortAsk, name: str) -> int:
    made: int = h.do(keep_command(h.ask(solve, ask, on=ON), name, ask=ask))
    return made


def _compare(h: Herd, *ids: int) -> Comparison:
    with h.book.read() as conn:
        return compare(conn, ids)


def test_two_plans_side_by_side(season: Herd) -> None:
    h = season
    one = _keep(h, replace(SEASON, groups=each_alone([h.id["Cheviot"]])), "One bull")
    choices = {h.id["Lune"]: Choice("sell", None, "bad feet")}
    two = _keep(h, replace(SEASON, limit=0.0625, choices=choices), "Two bulls")
    told = _compare(h, two, one)
    assert [side.row.name for side in told.plans] == ["Two bulls", "One bull"]
    by_two, by_one = told.plans
    assert [(g.words, g.females) for g in by_one.groups] == [("Cheviot", 3)]
    # A daughter to her sire: 1/4, Wright's path coefficient; the others are unrelated as far as is known.
    assert (by_one.row.worst, by_one.row.mean) == (0.25, pytest.approx(0.25 / 3))
    assert (by_two.row.worst, by_two.row.sell, by_two.row.bred, by_two.by_hand) == (0.0, 1, 2, 1)
    # Kept with the limit of 30 %, which nothing is over.
    assert (by_one.over_limit, by_two.over_limit) == (0, 0)
    differ = {one.tag: one.places for one in told.differ}
    assert differ["Kent"] == (PlaceIn("bull", "Pentland", 0.0, False), PlaceIn("bull", "Cheviot", 0.25))
    assert differ["Lune"][0] == PlaceIn("sell", None, None)


def test_a_nil_that_rests_on_nothing_is_counted_apart(season: Herd) -> None:
    """No parent of either bull is in the book: all that is known is that Kent is a daughter of Cheviot."""
    h = season
    h.do(ChangeAnimal(h.id["Lune"], sex="F", do_not_breed="bad udder"))
    one = _keep(h, replace(SEASON, groups=each_alone([h.id["Cheviot"]])), "One bull")
    choices = {h.id[tag]: Choice("bull", h.id["Pentland"]) for tag in ("Kent", "Eden")}
    two = _keep(h, replace(SEASON, choices=choices), "Two bulls")
    told = _compare(h, one, two)
    by_one, by_two = told.plans
    # Kent with her sire 1/4; Eden, of no known parents, with him a nil that rests on nothing.
    assert (by_one.row.mean, by_one.row.known_mean, by_one.row.not_known) == (0.125, 0.25, 1)
    assert (by_two.row.mean, by_two.row.known_mean, by_two.row.not_known) == (0.0, None, 2)
    (group,) = by_one.groups
    assert (group.mean, group.known_mean, group.not_known) == (0.125, 0.25, 1)
    empty = next(group for group in by_two.groups if not group.females)
    assert (empty.known_mean, empty.not_known) == (None, 0)
    (kent,) = (one.places for one in told.differ if one.tag == "Kent")
    assert [place and place.known for place in kent] == [True, False]
    result = h.ask(solve, replace(SEASON, groups=each_alone([h.id["Cheviot"]])), on=ON)
    assert (result.mean_inbreeding, result.known_mean, result.known_worst) == (0.125, 0.25, 0.25)
    assert result.not_known == 1


def test_a_mating_over_the_limit_by_hand_is_counted(season: Herd) -> None:
    h = season
    by_hand = {h.id["Kent"]: Choice("bull", h.id["Cheviot"], "terminal calf")}
    (side,) = _compare(h, _keep(h, replace(SEASON, limit=0.0625, choices=by_hand), "By hand")).plans
    assert (side.over_limit, side.by_hand) == (1, 1)


def test_matings_at_genetic_risk_are_counted(season: Herd) -> None:
    h = season
    for tag in ("Cheviot", "Lune"):
        h.do(TestGenes(h.id[tag], ON, condition="AM", genotype="carrier"))
    ask = replace(SEASON, choices={h.id["Lune"]: Choice("bull", h.id["Cheviot"], "to see")})
    result, plan_id = h.ask(solve, ask, on=ON), _keep(h, ask, "Risk")
    of = {female.animal: female for female in result.females}
    marked = [
        one.tag
        for column, group in enumerate(result.groups)
        for one in group.females
        if of[one.animal].risks and of[one.animal].risks[column]
    ]
    (side,) = _compare(h, plan_id).plans
    assert side.at_risk == len(marked)
    with h.book.read() as conn:
        kept = plan(conn, plan_id)
    assert kept is not None
    # Two carriers of a recessive condition: one calf in four is affected, Mendel.
    assert {one.tag: one.affected for one in kept.places}["Lune"] == pytest.approx(0.25)


def test_due_days_are_those_of_the_sort(season: Herd) -> None:
    h = season
    bulls = (
        AskedBull(h.id["Cheviot"], None, date(2026, 6, 1), date(2026, 6, 30)),
        AskedBull(h.id["Pentland"], None, date(2026, 7, 4), date(2026, 8, 2)),
    )
    ask = replace(SEASON, groups=(AskedGroup(bulls),))
    result = h.ask(solve, ask, on=ON)
    (side,) = _compare(h, _keep(h, ask, "In turn")).plans
    assert (side.groups[0].bull_in, side.groups[0].bull_out) == (date(2026, 6, 1), date(2026, 8, 2))
    assert side.groups[0].due == due_of_group(result, 0)
    assert side.due == due_of_all(result)
    assert side.groups[0].words == "Cheviot + Pentland"


def test_who_is_not_known_to_a_plan_stands_empty(season: Herd) -> None:
    h = season
    before = _keep(h, SEASON, "Before")
    h.add("Nith", "F", date(2020, 1, 1))
    after = _keep(h, SEASON, "After")
    nith = next(one for one in _compare(h, before, after).differ if one.tag == "Nith")
    assert nith.places[0] is None
    assert nith.places[1] is not None


def test_the_same_plan_twice_differs_in_nothing(season: Herd) -> None:
    h = season
    told = _compare(h, _keep(h, SEASON, "A"), _keep(h, SEASON, "A"))
    assert [side.row.version for side in told.plans] == [1, 2]
    assert told.differ == ()


def test_a_plan_that_is_not_there_is_refused(season: Herd) -> None:
    with pytest.raises(Refused, match="no such plan"):
        _compare(season, 99)


def test_kept_back_on_her_card_is_not_by_hand(season: Herd) -> None:
    """Lune is not to be bred, which the sort was told by her card: it is no choice made in the plan."""
    season.do(ChangeAnimal(season.id["Lune"], sex="F", do_not_breed="bad udder"))
    kept = _keep(season, SEASON, "One")
    (side,) = _compare(season, kept).plans
    assert (side.row.not_bred, side.by_hand) == (1, 0)
