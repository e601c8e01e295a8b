"""What is asked before a heifer too young to be bred is brought together with an entire male."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import AddAnimal, Move, NewGroup
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Arrive, Castrate, RecordRound, Wean
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from tests.services.conftest import Herd

ON = date(2026, 9, 20)
"""A heifer calf born on 10 March 2026 is over 183 days old; a bull calf born on the 15th over 122."""


@pytest.fixture
def fields(empty: Herd) -> Herd:
    """Two cows in two fields, a heifer calf at foot of one and a bull calf of the other; a bull alone."""
    h = empty
    for dam, calf, day, sex in (("1", "h", 10, "F"), ("2", "m", 15, "M")):
        h.add(dam, "F", date(2018, 1, 1))
        h.calve(dam, date(2026, 3, day), calf, sex=sex)
        h.id[f"field {dam}"] = h.do(NewGroup(name=f"Field {dam}"))
        h.do(Move((h.id[dam],), date(2026, 4, 1), h.id[f"field {dam}"]))
    h.add("B", "M", date(2020, 1, 1))
    return h


def _asked(h: Herd, command: Any) -> list[str]:
    with h.book.read() as conn:
        return [str(r) for r in doubts(conn, command, ON) if r.code == "too_young_beside_male"]


def test_a_dam_moved_takes_her_calf_along(fields: Herd) -> None:
    h = fields
    (doubt,) = _asked(h, Move((h.id["1"],), ON, h.id["field 2"]))
    assert "with an entire male (m): h." in doubt
    assert "ask your vet" in doubt
    assert len(_asked(h, Move((h.id["2"],), ON, h.id["field 1"]))) == 1, "the male that comes to her"
    assert _asked(h, Move((h.id["1"],), ON, h.id["field 1"])) == []
    assert _asked(h, Move((h.id["1"],), date(2026, 9, 1), h.id["field 2"])), "she would be there now"


def test_what_is_together_already_is_not_asked_again(fields: Herd) -> None:
    h = fields
    h.do(Move((h.id["1"],), date(2026, 9, 1), h.id["field 2"]))
    other = h.do(NewGroup(name="River field"))
    assert _asked(h, Move((h.id["1"], h.id["2"]), ON, other)) == []


def test_the_calf_of_a_female_put_to_the_bull(fields: Herd) -> None:
    h = fields
    (doubt,) = _asked(h, TurnIn((h.id["B"],), (h.id["1"],), ON))
    assert "(B): h." in doubt
    assert _asked(h, TurnIn((h.id["B"],), (h.id["2"],), ON)) == []
    assert _asked(h, TurnIn((h.id["B"],), (h.id["h"],), ON)) == [], "her own age is asked about by itself"


def test_weaned_into_no_group(fields: Herd) -> None:
    h = fields
    h.do(Wean(h.id["m"], date(2026, 9, 10)))
    assert len(_asked(h, Wean(h.id["h"], ON))) == 1
    one = RecordRound(ON, "weaning", (Wean(h.id["h"], ON),))
    assert len(_asked(h, one)) == 1
    h.do(Castrate(h.id["m"], date(2026, 9, 11), method="ring"))
    assert _asked(h, Wean(h.id["h"], ON)) == []
    h.do(Wean(h.id["h"], date(2026, 9, 12)))
    assert len(_asked(h, Castrate(h.id["m"], ON, method="rig"))) == 1


def test_both_weaned_in_one_round(fields: Herd) -> None:
    h = fields
    both = (Wean(h.id["h"], ON), Wean(h.id["m"], ON))
    assert _asked(h, both[0]) == []
    assert len(_asked(h, RecordRound(ON, "weaning", both))) == 1


def test_a_birth_written_late_and_one_that_comes(fields: Herd) -> None:
    h = fields
    h.add("3", "F", date(2019, 1, 1))
    h.do(Move((h.id["3"],), date(2026, 4, 1), h.id["field 1"]))
    late = RecordBirth(h.id["3"], date(2026, 4, 2), (NewCalf(sex="M", tag="late", ease=1),))
    (doubt,) = _asked(h, late)
    assert "(late): h." in doubt
    dead = RecordBirth(h.id["3"], date(2026, 4, 2), (NewCalf(sex="M", ease=1, fate="stillborn"),))
    assert _asked(h, dead) == []
    new = RecordBirth(h.id["3"], ON, (NewCalf(sex="M", tag="new", ease=1),))
    assert _asked(h, new) == []
    h.do(Wean(h.id["h"], date(2026, 9, 10)))
    bought = AddAnimal("X", "M", born=PartDay(date(2026, 1, 5)), entered=ON)
    assert len(_asked(h, bought)) == 1
    h.add("X", "M", PartDay(date(2026, 1, 5)), here=False)
    assert len(_asked(h, Arrive(h.id["X"], ON))) == 1
