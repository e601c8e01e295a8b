"""Heifers too young to be bred beside entire males: one place computes it, and everything asks there."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from herdbook.services.commands.animals import Move, NewGroup
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import Castrate, Lose, Serve, Wean
from herdbook.services.commands.running import TurnIn
from herdbook.services.facts import load_herd
from herdbook.services.queries import register
from herdbook.services.queries.animal import card
from herdbook.services.queries.company import alerts_among, alerts_of, rules_of, too_young_heifers
from herdbook.services.queries.due import due_list
from herdbook.services.settings import load_settings
from tests.services.conftest import Herd

FROM = date(2026, 9, 9)
"""A heifer born on 10 March 2026, with a bull calf born on the 15th, is 183 days old.

A keepers' page (lifestyleblock.co.nz) and an extension answer on breeding age (beef.unl.edu).
"""


@pytest.fixture
def calves(empty: Herd) -> Herd:
    """Two cows, a heifer calf at foot of one and a bull calf of the other."""
    for dam in ("1", "2"):
        empty.add(dam, "F", date(2018, 1, 1))
    empty.calve("1", date(2026, 3, 10), "h", sex="F")
    empty.calve("2", date(2026, 3, 15), "m", sex="M")
    return empty


def _alerts(h: Herd, on: date, tag: str = "h") -> list[str]:
    """Ask of the one heifer, and of the whole herd's facts: both must say the same."""
    with h.book.read() as conn:
        herd, rules = load_herd(conn, on), rules_of(load_settings(conn))
        beside = too_young_heifers(herd, on, rules)
        whole = {key: alerts_of(facts, beside, herd, on) for key, facts in herd.items()}
        assert alerts_among(conn, on) == {key: told for key, told in whole.items() if told}
        told = alerts_among(conn, on, [h.id[tag]]).get(h.id[tag], ())
        assert told == whole.get(h.id[tag], ())
    return [reason.code for reason in told]


def _in_one_field(h: Herd) -> None:
    field = h.do(NewGroup(name="Top field"))
    h.do(Move((h.id["h"], h.id["m"]), FROM, field))


def test_from_the_day_on_which_both_are_old_enough(calves: Herd) -> None:
    assert _alerts(calves, FROM - timedelta(days=1)) == []
    assert _alerts(calves, FROM) == ["too_young_beside_male"]
    _in_one_field(calves)
    assert _alerts(calves, date(2027, 5, 9)) == ["too_young_beside_male"]
    assert _alerts(calves, date(2027, 5, 10)) == []  # 14 months


def test_herds_that_calve_at_three_wait_longer(calves: Herd) -> None:
    calves.do(ChangeSetting("breed_from_months", 24))
    _in_one_field(calves)
    assert _alerts(calves, date(2028, 3, 9)) == ["too_young_beside_male"]
    assert _alerts(calves, date(2028, 3, 10)) == []


def test_parted_or_castrated(calves: Herd) -> None:
    h = calves
    fields = [h.do(NewGroup(name=name)) for name in ("Top field", "River field")]
    for dam, field in zip(("1", "2"), fields, strict=True):
        h.do(Move((h.id[dam],), date(2026, 9, 1), field))
    assert _alerts(h, FROM) == []
    h.do(Move((h.id["2"],), date(2026, 9, 5), fields[0]))
    assert _alerts(h, FROM) == ["too_young_beside_male"]
    h.do(Wean(h.id["m"], date(2026, 9, 6)))  # no group of his own: with nobody's group
    assert _alerts(h, FROM) == []
    h.do(Move((h.id["m"],), date(2026, 9, 7), fields[0]))
    assert _alerts(h, FROM) == ["too_young_beside_male"]
    h.do(Castrate(h.id["m"], date(2026, 9, 8), method="ring"))
    assert _alerts(h, FROM) == []
    h.do(Castrate(h.id["m"], date(2026, 9, 9), method="rig"))
    assert _alerts(h, FROM) == ["too_young_beside_male"]


def test_with_a_bull_where_he_runs(calves: Herd) -> None:
    h = calves
    bull = h.add("B", "M", date(2020, 1, 1))
    h.do(Castrate(h.id["m"], date(2026, 6, 1), method="ring"))
    assert _alerts(h, FROM) == []
    h.do(TurnIn((bull,), (h.id["h"],), date(2026, 9, 1), date(2026, 9, 20)))
    assert _alerts(h, FROM - timedelta(days=1)) == []
    assert _alerts(h, FROM) == ["too_young_beside_male", "mated_too_young"]
    assert _alerts(h, date(2026, 10, 1)) == ["mated_too_young"]
    (row,) = [row for row in h.ask(due_list, on=date(2026, 10, 1)) if row.tag == "h"]
    assert "mated_too_young" in [note.code for note in row.notes]
    h.do(Lose(h.id["h"], date(2026, 10, 5), loss_kind="aborted"))
    assert _alerts(h, date(2026, 10, 6)) == []


def test_the_due_list_of_a_heifer_served_in_time_says_nothing(calves: Herd) -> None:
    h = calves
    bull = h.add("B", "M", date(2020, 1, 1))
    for day, codes in ((date(2027, 4, 20), ["mated_young"]), (date(2027, 5, 11), [])):
        h.do(Serve(h.id["h"], day, sire=bull))
        (row,) = [row for row in h.ask(due_list, on=day) if row.tag == "h"]
        assert [note.code for note in row.notes if note.code.startswith("mated")] == codes
        h.book.undo()


def test_the_register_and_her_card_tell_it(calves: Herd) -> None:
    with calves.book.read() as conn:
        rows = register.rows(conn, list(calves.id.values()), FROM)
        told = {row.tag: [alert.code for alert in row.alerts] for row in rows if row.alerts}
        assert told == {"h": ["too_young_beside_male"]}
        (alert,) = card(conn, calves.id["h"], FROM).alerts
        assert "(m)" in str(alert)
        assert "castrate" in str(alert)
        assert card(conn, calves.id["1"], FROM).alerts == ()
