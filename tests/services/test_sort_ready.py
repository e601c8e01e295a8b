"""Who may be bred, over a whole book: what bars her, what cautions, and what it rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.diary import ChangeSetting
from herdbook.services.commands.happenings import (
    CheckPregnancy,
    ExamineBull,
    GiveScore,
    KeepApart,
    Lose,
    Serve,
    Treat,
    Weigh,
)
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.sort import AskedBull, AskedGroup, SortAsk, SortFemale, SortResult, solve
from tests.services.conftest import Herd

ON = date(2026, 5, 1)
IN, OUT = date(2026, 6, 1), date(2026, 8, 2)
SEASON = SortAsk(bull_in=IN, bull_out=OUT)


@pytest.fixture
def cow(empty: Herd) -> Herd:
    """Cheviot is grown and has passed his examination; Eden calved on 20 March."""
    h = empty
    h.add("Cheviot", "M", date(2021, 3, 1))
    h.do(ExamineBull(h.id["Cheviot"], date(2026, 4, 20), result="satisfactory"))
    h.add("Eden", "F", date(2019, 3, 1))
    h.calve("Eden", date(2026, 3, 20), "Kent")
    return h


def _female(h: Herd, tag: str, ask: SortAsk = SEASON, on: date = ON) -> SortFemale:
    result: SortResult = h.ask(solve, ask, on=on)
    return next(f for f in result.females if f.tag == tag)


def _codes(h: Herd, tag: str, **more: date) -> list[str]:
    return [reason.code for reason in _female(h, tag, **more).readiness.reasons]  # type: ignore[arg-type]


def _told(h: Herd, tag: str) -> list[str]:
    return [str(fact) for fact in _female(h, tag).readiness.facts]


def test_a_cow_in_time_is_told_her_day_for_a_calf_a_year(cow: Herd) -> None:
    # 365 - 283 = 82 days from 20 March (University of Nebraska Extension). A Limousin
    # carries 289 days (Nevada Extension), half counted where the sire's breed is open: 286.
    assert _codes(cow, "Eden") == []
    assert any("by 2026-06-10" in fact for fact in _told(cow, "Eden"))
    cow.do(ChangeAnimal(cow.id["Eden"], sex="F", born=PartDay(date(2019, 3, 1)), breed="Limousin"))
    assert any("by 2026-06-07" in fact for fact in _told(cow, "Eden"))
    cow.do(ChangeSetting("calving_interval_days", 350))
    assert _codes(cow, "Eden") == ["late_for_a_year"]


def test_the_days_for_a_low_chance_are_a_setting(cow: Herd) -> None:
    # Calved 135 days before the bull's last day.
    cow.do(ChangeSetting("low_chance_days", 136))
    assert _codes(cow, "Eden") == ["low_chance"]


def test_a_heifer_is_told_what_her_weight_rests_on(cow: Herd) -> None:
    h = cow
    h.add("Tyne", "F", date(2025, 3, 1))
    assert _codes(h, "Tyne") == ["no_weight"]
    h.do(Weigh(h.id["Tyne"], date(2026, 2, 1), kg=330.0))
    h.do(Weigh(h.id["Tyne"], date(2026, 4, 12), kg=365.0))
    assert _codes(h, "Tyne") == ["no_mature_weight"]
    h.do(Weigh(h.id["Eden"], date(2026, 4, 12), kg=600.0))
    assert _codes(h, "Tyne") == []
    # 365 kg and half a kilo a day for the fifty days to 1 June: 390 of 600 kg.
    assert _told(h, "Tyne")[1].startswith("390 kg at bull-in, 65 % of a grown cow's 600 kg. 365 kg on")


def test_open_last_season_is_told_with_its_days(cow: Herd) -> None:
    h = cow
    h.add("Lune", "F", date(2018, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["Cheviot"],), (h.id["Lune"],), date(2025, 6, 1), date(2025, 8, 2)))
    assert _codes(h, "Lune") == [], "she may be late"
    # Nothing is written of her: past the last day for a calf of that season.
    (opened, *_) = _female(h, "Lune", replace(SEASON, bull_in=date(2026, 8, 1), bull_out=date(2026, 9, 1)),
                           date(2026, 7, 20)).readiness.reasons  # fmt: skip
    assert str(opened) == (
        "With a bull or served from 2025-06-01 to 2025-08-02, and no calf is written since."
    )
    h.do(CheckPregnancy(h.id["Lune"], date(2025, 10, 1), result="open", method="scan"))
    (opened, *_) = _female(h, "Lune").readiness.reasons
    assert str(opened) == (
        "With a bull or served from 2025-06-01 to 2025-08-02, and found open on 2025-10-01."
    )


def test_reasons_to_cull_are_cautions(cow: Herd) -> None:
    cow.do(GiveScore(cow.id["Eden"], date(2026, 3, 21), score_kind="udder", value=2, scale="1-9"))
    (culls,) = _female(cow, "Eden").readiness.reasons
    assert str(culls).startswith("She has reasons to be culled: Udder ")
    cow.do(Lose(cow.id["Eden"], date(2026, 4, 1), loss_kind="aborted"))
    (culls,) = _female(cow, "Eden").readiness.reasons
    assert "Lost her pregnancy on 2026-04-01" in str(culls)


def test_twin_to_a_male_is_kept_out_until_tested(cow: Herd) -> None:
    """Over 90 % are sterile; a test failed is conclusive, one passed is not: extension page on twins."""
    h = cow
    h.add("Lune", "F", date(2018, 3, 1))
    twins = (NewCalf(sex="F", tag="Nith", ease=1), NewCalf(sex="M", tag="Esk", ease=1, fate="stillborn"))
    (h.id["Nith"], _) = h.do(RecordBirth(h.id["Lune"], date(2025, 3, 1), twins))
    nith = _female(h, "Nith").readiness
    assert (nith.ok, nith.code, nith.reasons[0].code) == (False, "other", "freemartin")
    h.do(ChangeAnimal(h.id["Nith"], sex="F", born=PartDay(date(2025, 3, 1)), freemartin="tested_free"))
    assert "twin_tested" in _codes(h, "Nith")
    assert _female(h, "Nith").readiness.ok


def test_medicine(cow: Herd) -> None:
    h = cow
    h.do(Treat(h.id["Eden"], date(2026, 5, 1), product="drench", meat_days=30))  # through 31 May
    assert _codes(h, "Eden") == []
    h.do(Treat(h.id["Eden"], date(2026, 5, 1), product="drench", meat_days=31))
    assert _codes(h, "Eden") == ["medicine"]
    assert _female(h, "Eden").readiness.ok
    h.do(Treat(h.id["Eden"], ON, product="vaccine", meat_days=0, no_breeding_days=30))
    assert _codes(h, "Eden") == ["medicine"]
    h.do(Treat(h.id["Eden"], ON, product="vaccine", meat_days=0, no_breeding_days=30.5))
    readiness = _female(h, "Eden").readiness
    assert (readiness.ok, readiness.code) == (False, "medicine")
    assert str(readiness.reasons[0]) == (
        "Not to be bred through 2026-06-01 after vaccine, by its label or the vet."
    )


def test_quarantine(cow: Herd) -> None:
    cow.do(KeepApart(cow.id["Eden"], date(2026, 4, 28), until=date(2026, 6, 10)))
    assert _codes(cow, "Eden") == ["quarantine"]
    cow.do(KeepApart(cow.id["Eden"], date(2026, 4, 30), until=date(2026, 5, 20)))
    assert _codes(cow, "Eden") == []


def test_a_few_days_with_a_bull_do_not_keep_her_out(cow: Herd) -> None:
    """In a heat cycle of 21 days (Merck/MSD Veterinary Manual) few conceive in three."""
    cow.do(TurnIn((cow.id["Cheviot"],), (cow.id["Eden"],), date(2026, 4, 10), date(2026, 4, 12)))
    female = _female(cow, "Eden")
    assert female.readiness.ok
    assert "brief" in [reason.code for reason in female.readiness.reasons]
    assert any("Calved 2026-03-20" in str(fact) for fact in female.readiness.facts)


# -- the bulls --


def _bull(h: Herd, *asked: AskedBull) -> SortResult:
    result: SortResult = h.ask(solve, replace(SEASON, groups=(AskedGroup(asked),)), on=ON)
    return result


def test_a_bull_s_number_rests_on_his_examination(cow: Herd) -> None:
    h = cow
    cheviot = AskedBull(h.id["Cheviot"])
    (bull,) = _bull(h, cheviot).bulls
    assert (bull.capacity, bull.guide and bull.guide.code, bull.notes) == (30, "grown", ())
    h.do(ExamineBull(h.id["Cheviot"], date(2026, 4, 28), result="deferred"))
    (bull,) = _bull(h, cheviot).bulls
    assert (bull.capacity, [note.code for note in bull.notes]) == (30, ["exam_deferred"])
    h.do(ExamineBull(h.id["Cheviot"], date(2026, 4, 30), result="unsatisfactory"))
    result = _bull(h, cheviot)
    assert (result.bulls[0].capacity, result.groups[0].females) == (0, ())
    by_hand = _bull(h, replace(cheviot, capacity=3))
    assert [note.code for note in by_hand.bulls[0].notes] == ["exam_unsatisfactory"]
    assert [female.tag for female in by_hand.groups[0].females] == ["Eden"]


def test_how_long_an_examination_holds_is_a_setting(cow: Herd) -> None:
    cow.do(ChangeSetting("bull_exam_days", 30))
    (bull,) = _bull(cow, AskedBull(cow.id["Cheviot"])).bulls
    assert [note.code for note in bull.notes] == ["exam_old"]


def test_a_young_bull_with_an_old_one_is_a_caution_only(cow: Herd) -> None:
    h = cow
    h.add("Fell", "M", date(2025, 4, 1))
    h.do(ExamineBull(h.id["Fell"], date(2026, 4, 20), result="satisfactory"))
    together = _bull(h, AskedBull(h.id["Cheviot"]), AskedBull(h.id["Fell"]))
    (group,) = together.bull_groups
    assert (group.capacity, [note.code for note in group.notes]) == (44, ["young_with_old"])
    assert [female.tag for female in together.groups[0].females] == ["Eden"]
    old = AskedBull(h.id["Cheviot"], bull_out=IN + timedelta(days=40))
    after = _bull(h, old, AskedBull(h.id["Fell"], bull_in=IN + timedelta(days=41)))
    assert [note.code for note in after.bull_groups[0].notes] == ["exam_old"]


# -- what cannot wait --


def test_a_heifer_with_a_bull_before_her_time_is_marked_in_the_sort(cow: Herd) -> None:
    h = cow
    h.add("Rye", "F", date(2025, 7, 1))
    assert _female(h, "Rye").alerts == ()
    h.do(TurnIn((h.id["Cheviot"],), (h.id["Rye"],), date(2026, 4, 1)))
    beside, mated = _female(h, "Rye").alerts
    assert "(Cheviot)" in str(beside)
    assert str(mated).startswith("Served or with a bull on 2026-04-01, 9 months old")
    assert not _female(h, "Rye").readiness.ok


def test_a_heifer_served_too_young_is_for_the_vet_until_it_is_settled(cow: Herd) -> None:
    h = cow
    h.add("Rye", "F", date(2025, 7, 1))
    h.do(Serve(h.id["Rye"], date(2026, 3, 1), sire=h.id["Cheviot"]))
    (mated,) = _female(h, "Rye").alerts
    assert "Urgent: ask your vet now." in str(mated)
    h.do(CheckPregnancy(h.id["Rye"], date(2026, 4, 15), result="open", method="scan"))
    assert _female(h, "Rye").alerts == ()
