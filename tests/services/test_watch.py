"""Whom to look at tonight, and what Today says of births under way and just over."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import ChangeAnimal, GiveTag
from herdbook.services.commands.births import NewCalf, RecordBirth, SeeAfterbirth
from herdbook.services.commands.diary import ChangeSetting, FinishTask
from herdbook.services.commands.happenings import Lose, SeeSign, Serve
from herdbook.services.queries.today import Errand, today
from herdbook.services.queries.watch import WatchList, watch_list
from herdbook.services.registry import Refused
from tests.services.conftest import ON, Herd


def _due(herd: Herd, tag: str, days: int, *, heifer: bool = False) -> None:
    """Enter a female whose day, 283 days from one service, is so many days ahead."""
    herd.add(tag, "F", date(2020, 3, 1), calved_before=None if heifer else True)
    herd.do(Serve(herd.id[tag], ON + timedelta(days=days - 283)))


def _watch(herd: Herd, on: date = ON) -> WatchList:
    found: WatchList = herd.ask(lambda conn, on: watch_list(conn, on), on=on)
    return found


def _errands(herd: Herd, code: str, on: date = ON) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == code]


@pytest.fixture
def barn(empty: Herd) -> Herd:
    """Return six to calve: by their days, by a sign, and one far off."""
    for tag, days, heifer in (
        ("cow past", -3, False), ("cow now", 0, False), ("heifer 2", 2, True), ("cow 9", 9, False),
        ("heifer 12", 12, True), ("cow 40", 40, False), ("sign 10", 10, False),
    ):  # fmt: skip
        _due(empty, tag, days, heifer=heifer)
    empty.do(SeeSign(empty.id["sign 10"], ON, code="teats", at="21:15"))
    empty.do(SeeSign(empty.id["cow 9"], ON, code="udder"))  # weeks before: tells nothing of the night
    return empty


def test_tonight_first_calvers_first_and_then_signs(barn: Herd) -> None:
    found = _watch(barn)
    assert [one.due.tag for one in found.tonight] == ["heifer 2", "sign 10", "cow past", "cow now"]
    assert [one.due.tag for one in found.fortnight] == ["heifer 12", "cow 9"]
    assert [one.why.code for one in found.tonight] == ["her_day", "near_sign", "past", "her_day"]
    assert [(s.words, s.at) for s in found.tonight[1].signs] == [("teats strutted", "21:15")]
    # A sign of the night is minded for two days.
    assert "sign 10" in [one.due.tag for one in _watch(barn, ON + timedelta(days=1)).tonight]
    assert "sign 10" not in [one.due.tag for one in _watch(barn, ON + timedelta(days=2)).tonight]


def test_one_who_is_calving_stands_first_and_leaves_with_her_calf(barn: Herd) -> None:
    barn.do(SeeSign(barn.id["cow 40"], ON, code="restless", at="20:00"))
    barn.do(SeeSign(barn.id["cow 40"], ON, code="water", at="22:40"))
    first = _watch(barn).tonight[0]
    assert (first.due.tag, first.labour is not None) == ("cow 40", True)
    (calving,) = _errands(barn, "calving_now")
    assert calving.urgency == "act"
    assert "since 22:40" in calving.text
    assert "No progress by 23:10, 30 minutes after the water bag: ring your vet" in calving.text
    barn.calve("cow 40", ON, "26/1")
    assert _errands(barn, "calving_now") == []
    assert "cow 40" not in [one.due.tag for one in _watch(barn).tonight]


def test_a_heifer_is_given_longer_and_the_book_may_say_otherwise(barn: Herd) -> None:
    barn.do(SeeSign(barn.id["heifer 2"], ON, code="water", at="13:00"))
    (calving,) = _errands(barn, "calving_now")
    assert "No progress by 14:00, 60 minutes" in calving.text
    barn.do(ChangeSetting("help_heifer_minutes", 45))
    (calving,) = _errands(barn, "calving_now")
    assert "No progress by 13:45, 45 minutes" in calving.text
    barn.do(SeeSign(barn.id["heifer 2"], ON, code="wrong", at="13:10"))
    (calving,) = _errands(barn, "calving_now")
    assert "ring your vet now" in calving.text


def test_a_sign_needs_a_name_or_words(empty: Herd) -> None:
    _due(empty, "1", 3)
    with pytest.raises(ValueError, match="which sign"):
        SeeSign(empty.id["1"], ON)
    assert SeeSign(empty.id["1"], ON, what="stands apart").what == "stands apart"
    assert SeeSign(empty.id["1"], ON, code="slack", at="4.05").at == "04:05"
    with pytest.raises(ValueError, match="no hour"):
        SeeSign(empty.id["1"], ON, code="slack", at="25:00")


def test_the_first_day_of_a_calf(empty: Herd) -> None:
    """Colostrum: about half of the power to take it up is gone by 6 hours (extension advice in trade press).

    The afterbirth is retained after 12 hours (University of Pennsylvania veterinary school).
    """
    _due(empty, "1", 0)
    empty.do(RecordBirth(empty.id["1"], ON, (NewCalf("F", "26/1"),), at="4:10"))
    (first,) = _errands(empty, "first_day")
    assert "Colostrum by 10:10" in first.text
    assert "still hangs at 16:10" in first.text
    assert "never pulled" in first.text
    assert first.urgency == "act"
    (next_day,) = _errands(empty, "first_day", ON + timedelta(days=1))
    assert next_day.urgency == "soon"
    assert _errands(empty, "first_day", ON + timedelta(days=2)) == []
    empty.do(FinishTask(first.tasks, ON))
    assert _errands(empty, "first_day") == []


def test_an_afterbirth_that_hangs_is_told_until_it_is_done(empty: Herd) -> None:
    _due(empty, "1", 0)
    empty.do(RecordBirth(empty.id["1"], ON, (NewCalf("F", "26/1"),), afterbirth="hanging"))
    (hangs,) = _errands(empty, "afterbirth", ON + timedelta(days=4))
    assert "never pulled" in hangs.text
    empty.do(SeeAfterbirth(empty.id["1"], "retained"))
    (retained,) = _errands(empty, "afterbirth", ON + timedelta(days=4))
    assert "retained" in retained.text
    empty.do(FinishTask(retained.tasks, ON))
    assert _errands(empty, "afterbirth", ON + timedelta(days=4)) == []
    empty.book.undo()
    empty.do(SeeAfterbirth(empty.id["1"], "came"))
    assert _errands(empty, "afterbirth", ON + timedelta(days=4)) == []
    heifer = empty.add("2", "F", date(2023, 1, 1))
    with pytest.raises(Refused):
        empty.do(SeeAfterbirth(heifer, "came"))


def test_born_dead_at_term_and_aborted_are_told_differently(empty: Herd) -> None:
    for tag in ("1", "2"):
        _due(empty, tag, 0)
    empty.do(RecordBirth(empty.id["1"], ON, (NewCalf("M", fate="stillborn"),)))
    empty.do(Lose(empty.id["2"], ON))
    (dead,) = _errands(empty, "no_calf")
    assert "Fostering" in dead.text
    assert _errands(empty, "first_day") == []
    (aborted,) = _errands(empty, "aborted")
    assert "catching, also to people" in aborted.text
    assert aborted.what == (empty.id["2"],)


def test_a_calfs_own_dates(empty: Herd) -> None:
    """GB: tags within 20 days, passport within 27 (cross-compliance guide SMR 7, 2020).

    Born 2025-03-20: tag by 2025-04-09, passport by 2025-04-16. Disbud by two months: Farm Animal Welfare
    Council.
    """
    empty.add("1", "F", date(2020, 1, 1))
    born = date(2025, 3, 20)
    (calf,) = empty.do(RecordBirth(empty.id["1"], born, (NewCalf("F"),)))
    (tag,) = _errands(empty, "tag", born + timedelta(days=6))
    assert (tag.when, tag.urgency, tag.what) == (date(2025, 4, 9), "soon", (calf,))
    assert "Check the current rule where you farm." in tag.text
    assert _errands(empty, "tag", born + timedelta(days=5)) == []
    assert len(_errands(empty, "tag", date(2025, 4, 10))) == 1
    assert _errands(empty, "tag", date(2025, 4, 24)) == []
    assert _errands(empty, "register_calf", date(2025, 4, 10)) == []  # nobody bears such a number
    empty.do(GiveTag(empty.id["1"], "GB-1", scheme="official"))
    (register,) = _errands(empty, "register_calf", date(2025, 4, 10))
    assert register.when == date(2025, 4, 16)
    (disbud,) = _errands(empty, "disbud", date(2025, 5, 10))
    assert disbud.when == date(2025, 5, 19)
    empty.do(ChangeAnimal(calf, sex="F", horns="polled", born=PartDay(born), dam=empty.id["1"]))
    assert _errands(empty, "disbud", date(2025, 5, 10)) == []
    empty.book.undo()
    empty.do(ChangeSetting("disbud_days", 0))
    assert _errands(empty, "disbud", date(2025, 5, 10)) == []
