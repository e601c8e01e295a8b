"""A heifer calf still running with a bull calf: from the day on which both are old enough for a mishap.

Heifers can conceive from about six months, and calving then is dangerous (University of Nebraska Extension on
breeding age; a smallholders' handbook). That an entire male counts from four months is common practice.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.husbandry.mishaps import beside_male_from
from herdbook.services.commands.animals import Move, NewGroup
from herdbook.services.commands.happenings import Castrate, Serve
from herdbook.services.doubts import doubts
from herdbook.services.queries.today import Errand, today
from tests.services.conftest import Herd

HEIFER, BULL_CALF = date(2026, 3, 10), date(2026, 3, 15)
FROM = date(2026, 9, 9)


@pytest.fixture
def moor(herd: Herd) -> Herd:
    """Return two cows with their calves at foot, in one group."""
    for tag in ("Eden", "Lune"):
        herd.add(tag, "F", date(2018, 3, 1))
    herd.calve("Eden", HEIFER, "Nith")
    herd.calve("Lune", BULL_CALF, "Bora", sex="M")
    group = herd.do(NewGroup("Moor"))
    herd.do(Move((herd.id["Eden"], herd.id["Lune"]), BULL_CALF, group))
    return herd


def _alerts(herd: Herd, on: date) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == "too_young"]


def test_the_day_is_183_days_after_her_birth() -> None:
    assert beside_male_from(HEIFER, BULL_CALF) == FROM == HEIFER + timedelta(days=183)
    # Four months are 122 days: a younger male counts later, and then he sets the day.
    assert beside_male_from(HEIFER, date(2026, 6, 1)) == date(2026, 6, 1) + timedelta(days=122)


def test_today_asks_from_that_day_on(moor: Herd) -> None:
    assert _alerts(moor, FROM - timedelta(days=1)) == []
    (alert,) = _alerts(moor, FROM)
    assert alert.urgency == "act"
    assert moor.id["Nith"] in alert.what
    for word in ("Nith", "Bora", "castrate", "vet"):
        assert word in alert.text


def test_parting_or_castrating_ends_it(moor: Herd) -> None:
    away = moor.do(NewGroup("Bank"))
    moor.do(Move((moor.id["Bora"],), FROM, away))
    assert _alerts(moor, FROM) == []
    moor.book.undo()
    moor.do(Castrate(moor.id["Bora"], FROM, method="clamp"))
    assert _alerts(moor, FROM) == []


def test_a_service_so_young_is_asked_about(moor: Herd) -> None:
    with moor.book.read() as conn:
        told = [str(d) for d in doubts(conn, Serve(moor.id["Nith"], FROM, sire=moor.id["Bora"]), FROM)]
    assert any("5 months old" in words and "dangerous" in words for words in told)
