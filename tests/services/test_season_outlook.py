"""A season's plan in figures: days, groups, who is left out, and the calves to be expected."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest

from herdbook.husbandry.settling import settled
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import CheckPregnancy
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.plan_compare import compare
from herdbook.services.queries.plans import accept_command, keep_command
from herdbook.services.queries.season_outlook import SeasonOutlook, outlook_of_plan, outlook_of_result
from herdbook.services.queries.sort import AskedBull, AskedGroup, Choice, SortAsk, solve
from herdbook.services.queries.sort_due import due_of_all, due_of_group
from herdbook.services.queries.sort_hand import moved
from tests.services.conftest import Herd
from tests.services.season_herd import CHANGE, IN, ON, OUT, ask_of, result_of, sorted_herd


@pytest.fixture
def h(empty: Herd) -> Herd:
    return sorted_herd(empty)


def outlook(h: Herd, ask: SortAsk | None = None, on: date = ON) -> SeasonOutlook:
    found: SeasonOutlook = h.ask(outlook_of_result, h.ask(solve, ask or ask_of(h), on=on), on=on)
    return found


def test_the_days_of_the_groups(h: Herd) -> None:
    """Bull in and out of each, the check 35 days after the last, calvings 283 days after the first and last.

    1 June + 283 days is 11 March; 2 August + 283 days is 12 May; 2 August + 35 days is 6 September.
    """
    told = outlook(h)
    two, ochil = told.groups
    assert [(bull.who.tag, bull.first, bull.last) for bull in two.bulls] == [
        ("Cheviot", IN, CHANGE - timedelta(days=1)), ("Fell", CHANGE, OUT),
    ]  # fmt: skip
    assert (two.first, two.last, ochil.first, ochil.last) == (IN, OUT, IN, OUT)
    assert two.due == ochil.due == told.due == (date(2027, 3, 11), date(2027, 5, 12))
    assert told.check == (date(2026, 9, 6), date(2026, 9, 6))


def test_its_figures_are_those_of_the_sort(h: Herd) -> None:
    """Counts, due days and inbreeding as the page has them."""
    h.do(ChangeAnimal(h.id["Eden"], sex="F", breed="Limousin"))
    result = result_of(h)
    told = h.ask(outlook_of_result, result)
    assert [(group.females, group.places) for group in told.groups] == [
        (len(group.females), group.capacity) for group in result.groups
    ]
    assert [group.due for group in told.groups] == [due_of_group(result, 0), due_of_group(result, 1)]
    assert told.due == due_of_all(result)
    assert [(one.who.tag, one.place) for one in told.left_out] == [
        ("Wharfe", "not_bred"), ("Nith", "finishing"), ("Tamar", "sell"),
    ]  # fmt: skip
    why = told.at("not_bred")[0].why
    assert why.endswith(" 12 months old at bull-in; 14 wanted.")
    assert why.startswith("Too young to be bred, and with an entire male (Cheviot, Fell)"), "what cannot wait"
    assert told.spread.females == 3


def test_figures_of_a_related_pair_and_of_one_of_whom_nothing_is_known(h: Herd) -> None:
    """A bull on his daughter gives 25 %, nobody's kin on one side gives no figure: not known is not nil."""
    h.add("Ure", "F", date(2023, 4, 1), dam=h.id["Nith"], sire=h.id["Ochil"])
    choices = ask_of(h).choices
    ask = replace(ask_of(h), choices={**choices, h.id["Ure"]: Choice("bull", h.id["Ochil"])})
    two, ochil = outlook(h, ask).groups
    assert (ochil.mean, ochil.worst, ochil.unknown, ochil.over_limit) == (0.25, 0.25, 1, 1)
    assert (two.mean, two.worst, two.unknown) == (None, None, 2)
    doubts = "\n".join(outlook(h, ask).doubts)
    assert "not known of 3 of 4 pairs" in doubts
    assert "1 of 4 are above the limit of 6.25 %, by hand" in doubts


def test_everyone_is_in_the_spread(h: Herd) -> None:
    """Calvings and females not in calf make up all that are placed, in the herd and in each group."""
    told = outlook(h)
    for spread, females in ((told.spread, 3), (told.groups[0].spread, 2), (told.groups[1].spread, 1)):
        assert spread.calving + spread.open == pytest.approx(females)
    assert told.spread.calving == pytest.approx(sum(group.spread.calving for group in told.groups))
    for periods in (told.weeks, told.cycles):
        assert math.fsum(one.expected for one in periods) == pytest.approx(told.spread.calving)
        assert all(b.first == a.last + timedelta(days=1) for a, b in pairwise(periods))
    assert told.cycles[0].last == date(2027, 3, 31), "21 days from the first due day"
    assert all(week.last.weekday() == 6 for week in told.weeks), "weeks end on Sundays"
    assert math.fsum(one.expected for one in told.groups[1].cycles) == pytest.approx(
        told.groups[1].spread.calving
    )


def test_bulls_that_follow_one_another_settle_as_one(h: Herd) -> None:
    """No day lies between them: as many as one bull settles in the same days, by the law that Today tells."""
    share = settled([(IN, OUT)], OUT + timedelta(days=1))
    assert outlook(h).groups[0].spread.calving == pytest.approx(2 * share)


def test_the_keepers_own_shares_count(h: Herd) -> None:
    """Half of the heats settle and all are cycling: 1 - 0.5^3 of each after three cycles."""
    h.do(ChangeSetting("settled_share", 0.5))
    h.do(ChangeSetting("cycling_share", 1.0))
    told = outlook(h)
    assert told.groups[0].spread.calving == pytest.approx(2 * 0.875)
    assert "settles 50 % of females" in told.rests_on[0]
    assert "100 % of those past their rest" in told.rests_on[0]


def test_a_cow_that_calved_late_comes_later(h: Herd) -> None:
    """Kent calved on 1 February and is cycling; with a calving in May her calf comes later, if at all."""
    early = outlook(h).groups[1].spread
    h.do(RecordBirth(h.id["Kent"], date(2026, 5, 25), (NewCalf("F", "Dove"),)))
    late = outlook(h, on=date(2026, 5, 26)).groups[1].spread
    assert early.calving == pytest.approx(settled([(IN, OUT)], OUT + timedelta(days=1)))
    assert late.calving < early.calving
    middle = [spread.day_by(0.5) for spread in (early, late)]
    assert middle[0] < middle[1]  # type: ignore[operator]


def test_a_cow_due_before_bull_in_is_counted_from_her_due_day(h: Herd) -> None:
    """Lune is due on 25 May by a check: no heat before 14 June, and the cow is no heifer."""
    before = outlook(h).groups[0]
    h.do(
        TurnIn(bulls=(h.id["Cheviot"],), females=(h.id["Lune"],), day=date(2025, 8, 1), out=date(2025, 9, 1))
    )
    h.do(CheckPregnancy(h.id["Lune"], date(2025, 11, 1), result="pregnant", method="scan", days=75))
    after = outlook(h).groups[0]
    assert after.spread.calving < before.spread.calving
    assert (before.heifers, after.heifers) == (2, 1)


def test_a_cow_of_which_no_calving_is_known_is_named(h: Herd) -> None:
    """She counts as cycling, and the paper says so."""
    assert not any("Eden" in line for line in outlook(h).rests_on)
    h.do(ChangeAnimal(h.id["Eden"], sex="F", calved_before=True))
    told = outlook(h)
    assert "No calving day is in the book of Eden: counted as cycling at bull in." in told.rests_on
    assert told.groups[0].heifers == 1


def test_the_books_gestation_is_named(h: Herd) -> None:
    assert any(line.startswith("Gestation by breed, else 283 days") for line in outlook(h).rests_on)
    h.do(ChangeSetting("gestation_days", 280))
    told = outlook(h)
    assert any(line.startswith("Gestation of 280 days by the settings") for line in told.rests_on)
    assert told.due == (date(2027, 3, 8), date(2027, 5, 9))


def test_what_was_decided_by_hand(h: Herd) -> None:
    """Each choice with its reason, in order of tags; pairs that must not be come after."""
    ask = replace(ask_of(h), apart={(h.id["Eden"], h.id["Ochil"]): "he hurt her"})
    assert [(one.who.tag, one.what, one.why) for one in outlook(h, ask).decided] == [
        ("Eden", "with Cheviot + Fell", "quiet with him"),
        ("Kent", "with Ochil", ""),
        ("Lune", "with Cheviot + Fell", ""),
        ("Nith", "to the finishing group", ""),
        ("Tamar", "to sell", "old udder"),
        ("Eden", "not with Ochil", "he hurt her"),
    ]


def test_a_kept_plan_gives_the_figures_of_the_page(h: Herd) -> None:
    """As kept, as accepted, and as a comparison of plans has them."""
    result = result_of(h)
    page = h.ask(outlook_of_result, result)
    for command, day in (
        (keep_command(result, ask=ask_of(h)), None),
        (accept_command(result, ON, "Summer", ask=ask_of(h)), ON),
    ):
        plan = h.do(command)
        told = h.ask(outlook_of_plan, plan)
        assert (told.groups, told.decided, told.weeks) == (page.groups, page.decided, page.weeks)
        assert (told.left_out, told.accepted) == (page.left_out, day)
        assert told.doubts[-1].startswith("Kinship and risks are the figures of")
    with h.book.read() as conn:
        side = compare(conn, [plan]).plans[0]
    assert [(g.females, g.capacity, g.worst, g.due) for g in side.groups] == [
        (g.females, g.places, g.worst or 0.0, g.due) for g in told.groups
    ]


def test_in_the_season_and_after_it_the_plan_stays_the_plan(h: Herd) -> None:
    """What comes of the season is no calving before it."""
    plan = h.do(accept_command(result_of(h), ON, ask=ask_of(h)))
    before = h.ask(outlook_of_plan, plan)
    during = h.ask(outlook_of_plan, plan, on=date(2026, 7, 1))
    h.do(RecordBirth(h.id["Eden"], date(2027, 3, 20), (NewCalf("F", "Dove"),)))
    after = h.ask(outlook_of_plan, plan, on=date(2027, 6, 1))
    assert [one.spread for one in (during, after)] == [before.spread] * 2


def test_moved_by_hand_is_said_to_be_so(h: Herd) -> None:
    """Nobody has worked out whether another placing would be better."""
    result = result_of(h)
    assert not any("moved by hand" in line for line in h.ask(outlook_of_result, result).doubts)
    by_hand = moved(result, h.id["Lune"], Choice("not_bred"))
    assert any("moved by hand" in line for line in h.ask(outlook_of_result, by_hand).doubts)


def test_a_group_without_females_and_a_season_without_any(h: Herd) -> None:
    """Nothing is due and nothing is expected of it; there are no figures rather than nil."""
    everyone = {
        key: Choice("not_bred") for tag, key in h.id.items() if tag not in ("Cheviot", "Fell", "Ochil")
    }
    told = outlook(h, replace(ask_of(h), choices=everyone))
    assert [(group.females, group.due, group.cycles) for group in told.groups] == [(0, None, ())] * 2
    assert (told.due, told.check, told.weeks, told.cycles) == (None, None, (), ())
    assert (told.mean, told.worst, told.spread.females, told.spread.open) == (None, None, 0, 0.0)


def test_a_bull_from_elsewhere(h: Herd) -> None:
    """He is told as not here; his days are the season's."""
    hired = h.do(AddAnimal(tag="Rye", sex="M", here=False))
    ask = SortAsk(bull_in=IN, bull_out=OUT, groups=(AskedGroup((AskedBull(hired),)),))
    (bull,) = outlook(h, ask).groups[0].bulls
    assert (bull.who.tag, bull.who.here, bull.who.group) == ("Rye", False, None)
