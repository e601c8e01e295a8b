"""What is asked about before it is saved; nothing is refused."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal, GiveTag, NewGroup
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.diary import BookAnimal, BookDay
from herdbook.services.commands.happenings import (
    Arrive,
    Castrate,
    CheckPregnancy,
    Leave,
    RecordRound,
    Serve,
    Treat,
    Wean,
    Weigh,
)
from herdbook.services.commands.running import TurnIn
from herdbook.services.doubts import doubts
from tests.services.conftest import ON, Herd


def _codes(herd: Herd, command: Any, on: date = ON) -> list[str]:
    with herd.book.read() as conn:
        found = doubts(conn, command, on)
    assert all("{" not in str(reason) for reason in found)
    return [reason.code for reason in found]


def _birth(herd: Herd, dam: str, day: date = ON, *calves: NewCalf) -> RecordBirth:
    return RecordBirth(herd.id[dam], day, calves or (NewCalf("F", "26/8", kg=35.0),))


def test_a_usual_birth_raises_no_question(herd: Herd) -> None:
    # Eden ran with the bulls from 10 May to 10 July 2025.
    assert _codes(herd, _birth(herd, "12", date(2026, 3, 2))) == []


@pytest.mark.parametrize(
    ("kg", "unit", "codes"),
    [
        (15.0, "kg", []),
        (70.0, "kg", []),
        (14.9, "kg", ["unlikely_weight"]),
        (80.0, "kg", ["other_unit"]),  # 80 lb is 36 kg
        (36.3, "lb", []),
        (17.0, "lb", []),
        (13.6, "lb", ["other_unit"]),  # 30 lb; 30 kg is meant
        (200.0, "kg", ["unlikely_weight"]),
    ],
)
def test_birth_weights(herd: Herd, kg: float, unit: str, codes: list[str]) -> None:
    calf = NewCalf("F", "26/8", kg=kg, unit=unit)
    assert _codes(herd, _birth(herd, "12", ON, calf)) == codes


def test_dams_that_cannot_or_hardly_have_calved(herd: Herd) -> None:
    assert "male_dam" in _codes(herd, _birth(herd, "B1"))
    assert _codes(herd, _birth(herd, "25/2")) == ["dam_too_young", "not_exposed"]
    assert _codes(herd, _birth(herd, "7")) == ["twins_apart"]  # on 24 February
    assert "gone_before" in _codes(herd, _birth(herd, "9"))
    assert "not_here" in _codes(herd, _birth(herd, "9", date(2018, 1, 1)))
    assert _codes(herd, _birth(herd, "12", ON + timedelta(days=1))) == ["in_future"]


def test_a_dam_not_with_a_bull_at_the_time(herd: Herd) -> None:
    # From 10 May and until 10 July 2025: births are thinkable from 240 days on and until 330.
    herd.do(Castrate(herd.id["26/1"], date(2026, 4, 1), method="ring"))  # no male beside a heifer calf
    assert _codes(herd, _birth(herd, "12", date(2026, 1, 4)), date(2027, 1, 1)) == ["too_early"]
    assert _codes(herd, _birth(herd, "12", date(2026, 1, 5)), date(2027, 1, 1)) == []
    assert "not_exposed" not in _codes(herd, _birth(herd, "12", date(2026, 6, 5)), date(2027, 1, 1))
    assert _codes(herd, _birth(herd, "12", date(2026, 6, 6)), date(2027, 1, 1)) == ["not_exposed"]
    # A check of 85 days on 1 September says as much as a service on 8 June would, three weeks either way.
    cow = herd.add("40", "F", date(2020, 1, 1))
    assert _codes(herd, _birth(herd, "40")) == ["not_exposed"]
    herd.do(CheckPregnancy(cow, date(2025, 9, 1), result="pregnant", days=85))
    assert _codes(herd, _birth(herd, "40")) == []
    herd.do(CheckPregnancy(cow, date(2025, 11, 1), result="open"))
    assert _codes(herd, _birth(herd, "40")) == ["found_open"]


def test_tags_in_use(herd: Herd) -> None:
    calves = (NewCalf("F", "7"), NewCalf("M", "26/8"), NewCalf("M", "26/8"))
    assert _codes(herd, _birth(herd, "12", ON, *calves)) == ["tag_in_use", "tag_twice"]
    assert _codes(herd, _birth(herd, "12", ON, NewCalf("F", "9"))) == []  # Tamar has left
    assert _codes(herd, AddAnimal(tag="b1", sex="M", entered=ON)) == ["tag_in_use"]
    assert _codes(herd, AddAnimal(tag="B1", sex="M", here=False)) == []
    assert _codes(herd, GiveTag(herd.id["7"], "12")) == ["tag_in_use"]
    assert _codes(herd, GiveTag(herd.id["7"], "7")) == []
    assert _codes(herd, GiveTag(herd.id["7"], "12345", scheme="electronic")) == ["not_fifteen_digits"]
    assert _codes(herd, GiveTag(herd.id["7"], "999000000000077", scheme="electronic")) == ["test_number"]
    assert _codes(herd, AddAnimal(tag="41", sex="M", born=PartDay(date(2027, 1, 1)))) == ["in_future"]


def test_weights(herd: Herd) -> None:
    steer = herd.id["25/1"]  # born 20 March 2025; 230 kg on 20 October, 310 kg on 28 January
    assert _codes(herd, Weigh(steer, ON, kg=340.0)) == []
    assert _codes(herd, Weigh(steer, ON, kg=263.0)) == ["fallen"]
    assert _codes(herd, Weigh(steer, ON, kg=264.0)) == []
    assert _codes(herd, Weigh(steer, ON, kg=310.0 + 3 * 34 + 1)) == ["gain_too_large"]
    assert _codes(herd, Weigh(steer, date(2026, 1, 28), kg=315.0)) == ["weighed_already"]
    assert _codes(herd, Weigh(steer, date(2026, 2, 2), kg=340.0)) == []  # 5 days: no gain is worked out
    assert _codes(herd, Weigh(steer, date(2026, 2, 2), kg=357.0)) == ["risen"]
    assert _codes(herd, Weigh(steer, ON, kg=250.0, method="girth")) == []  # not compared with the scale
    assert "before_birth" in _codes(herd, Weigh(steer, date(2025, 3, 1), kg=40.0))
    assert _codes(herd, Weigh(herd.id["9"], ON, kg=600.0)) == ["not_here"]


def test_pounds_typed_as_kilograms(herd: Herd) -> None:
    # 520 at 230 days: as kg it is not likely, as lb it is 236 kg.
    calf = herd.id["25/2"]
    day = date(2025, 4, 2) + timedelta(days=230)
    assert "other_unit" in _codes(herd, Weigh(calf, day, kg=520.0))


def test_medicine(herd: Herd) -> None:
    steer = herd.id["25/1"]
    assert _codes(herd, Treat(steer, ON, product="Drench", meat_days=0)) == []
    assert _codes(herd, Treat(steer, ON, product="Drench")) == ["days_not_known"]
    day = herd.do(BookDay(date(2026, 3, 17)))
    herd.do(BookAnimal(steer, day))
    assert _codes(herd, Treat(steer, ON, product="Drench", meat_days=13)) == []  # through the 16th
    assert _codes(herd, Treat(steer, ON, product="Drench", meat_days=14)) == ["booked_before_clear"]
    early = Treat(steer, ON, product="Drench", meat_days=1, last_day=ON - timedelta(days=1))
    assert _codes(herd, early) == ["last_before_first"]


def test_leaving_in_a_medicine_period(herd: Herd) -> None:
    # 14 days, last dose 1 August: held through the 15th, the 16th is the first day clear.
    steer = herd.id["25/1"]
    herd.do(Treat(steer, date(2026, 8, 1), product="Pour-on", meat_days=14))
    after = date(2026, 9, 1)
    assert _codes(herd, Leave(steer, date(2026, 8, 15), departure_kind="slaughtered"), after) == [
        "medicine_runs"
    ]
    assert _codes(herd, Leave(steer, date(2026, 8, 16), departure_kind="slaughtered"), after) == []
    assert _codes(herd, Leave(steer, date(2026, 8, 15), departure_kind="died"), after) == []
    herd.do(Treat(steer, date(2026, 8, 2), product="Drench"))
    assert _codes(herd, Leave(steer, date(2026, 8, 30)), after) == ["medicine_not_known"]


def test_leaving_late_in_calf_or_just_calved(empty: Herd) -> None:
    # Served 2025-06-01: nine tenths of 283 days are over from 2026-02-11.
    cow = empty.add("1", "F", date(2018, 1, 1))
    empty.do(Serve(cow, date(2025, 6, 1), how="ai"))
    assert _codes(empty, Leave(cow, date(2026, 2, 10))) == []
    assert _codes(empty, Leave(cow, date(2026, 2, 11))) == ["late_in_calf"]
    empty.calve("1", date(2026, 2, 20), "c")
    assert _codes(empty, Leave(cow, date(2026, 2, 27))) == ["just_calved"]
    assert _codes(empty, Leave(cow, date(2026, 2, 28))) == []


def test_breeding(herd: Herd) -> None:
    kent, bull = herd.id["25/2"], herd.id["B1"]  # Kent was born on 2 April 2025
    assert _codes(herd, Serve(kent, ON, sire=bull)) == ["too_young"]
    assert _codes(herd, Serve(kent, date(2026, 6, 1), sire=bull), date(2026, 6, 1)) == ["too_young"]
    assert _codes(herd, Serve(kent, date(2026, 6, 2), sire=bull), date(2026, 6, 2)) == []
    assert _codes(herd, Serve(herd.id["12"], ON, sire=herd.id["7"])) == ["in_calf", "female_sire"]
    assert _codes(herd, Serve(bull, ON)) == ["male_dam"]
    herd.do(ChangeAnimal(herd.id["7"], name="Lune", sex="F", do_not_breed="udder", freemartin="probable"))
    run = TurnIn((herd.id["25/1"],), (herd.id["7"], kent), date(2026, 5, 1))
    assert _codes(herd, run) == ["not_to_be_bred", "freemartin", "too_young", "castrated_sire"]
    assert _codes(herd, CheckPregnancy(bull, ON, result="open")) == ["male_dam"]


def test_castration_and_weaning(herd: Herd) -> None:
    assert _codes(herd, Castrate(herd.id["26/1"], ON, method="ring")) == []
    assert _codes(herd, Castrate(herd.id["25/1"], ON, method="ring")) == ["castrated_already"]
    assert _codes(herd, Castrate(herd.id["25/1"], ON, method="rig")) == []
    assert _codes(herd, Castrate(herd.id["25/2"], ON, method="ring")) == ["female"]
    assert _codes(herd, Wean(herd.id["25/2"], ON)) == ["weaned_already"]


def test_a_round_asks_for_each_and_others_ask_nothing(herd: Herd) -> None:
    weighed = (Weigh(herd.id["25/1"], ON, kg=340.0), Weigh(herd.id["25/2"], ON, kg=3000.0))
    assert "unlikely_weight" in _codes(herd, RecordRound(ON, "weighing", weighed))
    assert _codes(herd, NewGroup("Top field")) == []
    assert _codes(herd, Arrive(herd.id["9"], ON)) == []
