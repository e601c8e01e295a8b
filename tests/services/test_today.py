"""Today asks for what wants doing, in order, and leaves out what is done or put off."""

from __future__ import annotations

from datetime import date, timedelta

from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.animals import AddAnimal, Move, NewGroup
from herdbook.services.commands.diary import BookAnimal, BookDay, ChangeSetting, FinishTask
from herdbook.services.commands.happenings import Castrate, CheckPregnancy, Serve, Treat, Wean, Weigh
from herdbook.services.commands.running import TurnIn
from herdbook.services.commands.season import Season
from herdbook.services.facts import load_herd
from herdbook.services.queries.company import too_young_heifers
from herdbook.services.queries.diary import booked_days
from herdbook.services.queries.runs import runs, runs_now
from herdbook.services.queries.today import Errand, next_day_of_year, today
from tests.services.conftest import ON, Herd


def _errands(herd: Herd, code: str, on: date = ON) -> list[Errand]:
    return [errand for errand in herd.ask(today, on=on) if errand.code == code]


def test_an_empty_herd_has_nothing_to_do(empty: Herd) -> None:
    assert empty.ask(today) == []


def test_first_calvers_stand_before_cows(empty: Herd) -> None:
    bull = empty.add("B", "M", date(2020, 1, 1))
    for tag, served in (("1", date(2025, 5, 25)), ("2", date(2025, 5, 30)), ("3", date(2025, 6, 4))):
        empty.add(tag, "F", date(2020, 1, 1))
        if tag != "3":
            empty.calve(tag, date(2024, 5, 1), f"{tag}c")
        empty.do(Serve(empty.id[tag], served, sire=bull, how="ai"))
    # 283 days on: 4, 9 and 14 March; the last is the heifer.
    due = _errands(empty, "due")
    assert [errand.what[0] for errand in due if errand.urgency == "soon"] == [empty.id["3"], empty.id["2"]]
    assert [errand.what[0] for errand in due if errand.urgency == "act"] == [empty.id["1"]]
    assert {errand.when for errand in due} == {date(2026, 3, 4), date(2026, 3, 9), date(2026, 3, 14)}
    heifer = next(errand for errand in due if errand.what == (empty.id["3"],))
    assert "3 (first calf) is due about" in heifer.text
    assert "Sat 14 Mar" in heifer.text
    # Every due line is a link to the page where it is done.
    assert {errand.page for errand in due} == {"calving"}


def test_past_due_by_stage(empty: Herd) -> None:
    bull = empty.add("B", "M", date(2020, 1, 1))
    cow = empty.add("1", "F", date(2018, 1, 1))
    empty.calve("1", date(2024, 5, 1), "1c")
    served = date(2025, 5, 20)
    empty.do(Serve(cow, served, sire=bull, how="ai"))
    due = served + timedelta(days=283)
    (usual,) = _errands(empty, "past_due", due + timedelta(days=3))
    (late,) = _errands(empty, "past_due", due + timedelta(days=11))
    (long,) = _errands(empty, "past_due", due + timedelta(days=17))
    assert usual.text == "1 was due Fri 27 Feb; usual until Mon 9 Mar"
    assert "11 days past her day" in late.text
    assert "served again" in long.text
    assert late.urgency == long.urgency == "act"


def test_bulls_in_and_out_and_a_run_left_open(herd: Herd) -> None:
    run = TurnIn(bulls=(herd.id["B1"],), females=(herd.id["7"], herd.id["12"]), day=date(2026, 3, 10))
    herd.do(run)
    (in_,) = _errands(herd, "bull_in")
    assert (in_.text, in_.urgency) == ("Bull in Tue 10 Mar: B1 Cheviot with 2", "soon")
    assert [r.state(ON) for r in herd.ask(lambda conn, on: runs_now(conn, on))] == ["ahead"]
    assert _errands(herd, "run_open", date(2026, 5, 11)) == []  # day 63 of 63
    (open_,) = _errands(herd, "run_open", date(2026, 5, 12))
    assert open_.urgency == "act"
    assert _errands(herd, "bull_out", date(2025, 6, 25)) == []
    (out,) = _errands(herd, "bull_out", date(2025, 6, 27))
    assert (out.when, out.what) == (date(2025, 7, 10), (herd.id["B2"],))
    assert len(herd.ask(lambda conn, _on: runs(conn))) == 3


def test_checks_are_due_five_weeks_after_the_bull(herd: Herd) -> None:
    assert _errands(herd, "check", date(2025, 7, 13)) == []  # the heifer's bull came out on 9 June: 34 days
    (first,) = _errands(herd, "check", date(2025, 7, 14))
    assert first.what == (herd.id["23/4"],)
    (both,) = _errands(herd, "check", date(2025, 8, 14))
    assert set(both.what) == {herd.id["23/4"], herd.id["7"], herd.id["12"]}
    (left,) = _errands(herd, "check", date(2025, 9, 2))
    assert left.what == (herd.id["7"],)
    herd.do(CheckPregnancy(herd.id["7"], date(2025, 9, 2), result="open"))
    assert _errands(herd, "check", date(2025, 9, 2)) == []


def test_medicine_periods(herd: Herd) -> None:
    (runs_,) = _errands(herd, "medicine")
    assert runs_.text == "7 Lune: Long-acting penicillin, medicine period through 25 Mar"
    assert _errands(herd, "medicine", date(2026, 3, 25))
    assert _errands(herd, "medicine", date(2026, 3, 26)) == []
    herd.do(Treat(herd.id["25/2"], ON, product="Drench"))
    (asked,) = _errands(herd, "medicine_days")
    assert "not known" in asked.text


def test_animals_dosed_alike_stand_in_one_line(herd: Herd) -> None:
    """A round of one product on one day is one errand; a dose on another day is its own."""
    for tag in ("12", "25/1"):
        herd.do(Treat(herd.id[tag], ON, product="Drench", meat_days=14))
    herd.do(Treat(herd.id["25/2"], date(2026, 3, 2), product="Drench", meat_days=14))
    texts = {errand.text for errand in _errands(herd, "medicine")}
    assert texts == {
        "7 Lune: Long-acting penicillin, medicine period through 25 Mar",
        "2 animals (12, 25/1): Drench, medicine period through 17 Mar",
        "25/2 Kent: Drench, medicine period through Mon 16 Mar",
    }


def test_what_is_done_once_comes_again_the_next_time(herd: Herd) -> None:
    """A check or a medicine period taken off the list does not silence the next one of that animal."""
    (check,) = _errands(herd, "check", date(2025, 9, 2))
    herd.do(FinishTask(check.tasks, date(2025, 9, 2)))
    assert _errands(herd, "check", date(2025, 9, 3)) == []
    herd.do(TurnIn((herd.id["B1"],), (herd.id["7"],), date(2026, 5, 1), out=date(2026, 6, 1)))
    (again,) = _errands(herd, "check", date(2026, 7, 10))
    assert herd.id["7"] in again.what
    (medicine,) = _errands(herd, "medicine")
    herd.do(FinishTask(medicine.tasks, ON))
    herd.do(Treat(herd.id["7"], date(2026, 4, 1), product="Long-acting penicillin", meat_days=28))
    assert len(_errands(herd, "medicine", date(2026, 4, 2))) == 1


def test_booked_days_and_an_animal_that_will_not_be_clear(herd: Herd) -> None:
    day = herd.do(BookDay(date(2026, 3, 20), places=2))
    herd.do(BookAnimal(herd.id["25/1"], day))
    (booked,) = _errands(herd, "booked")
    assert booked.text == "20 Mar butcher: 25/1 · 1 of 2 places free"
    assert _errands(herd, "not_clear") == []
    herd.do(Treat(herd.id["25/1"], date(2026, 3, 1), product="Pour-on", meat_days=19))
    (held,) = _errands(herd, "not_clear")
    assert "through 2026-03-20" in held.text
    assert held.urgency == "act"
    herd.do(BookAnimal(herd.id["25/1"], day, override="vet's word"))
    assert _errands(herd, "not_clear") == []
    (row,) = herd.ask(lambda conn, on: booked_days(conn, on))
    assert (row.free, row.booked[0].override) == (1, "vet's word")


def test_calves_to_castrate(herd: Herd) -> None:
    (young,) = _errands(herd, "castrate")
    assert (young.what, young.when, young.urgency) == ((herd.id["26/1"],), date(2026, 4, 25), "look")
    (late,) = _errands(herd, "castrate", date(2026, 4, 26))
    assert late.urgency == "act"
    assert "Ask your vet" in late.text
    herd.do(Castrate(herd.id["26/1"], date(2026, 4, 26), method="ring"))
    assert _errands(herd, "castrate", date(2026, 4, 26)) == []


def test_calves_to_wean(herd: Herd) -> None:
    born = date(2026, 2, 24)
    assert _errands(herd, "wean", born + timedelta(days=204)) == []
    (wean,) = _errands(herd, "wean", born + timedelta(days=205))
    assert wean.what == (herd.id["26/1"],)
    herd.do(Wean(herd.id["26/1"], born + timedelta(days=205)))
    assert _errands(herd, "wean", born + timedelta(days=206)) == []


def test_a_heifer_too_young_beside_an_entire_calf(empty: Herd) -> None:
    # A heifer born 2026-03-10 beside a bull calf born 2026-03-15: from 2026-09-09, when she is 183 days old.
    for tag, born in (("1", date(2018, 1, 1)), ("2", date(2018, 1, 1))):
        empty.add(tag, "F", born)
    empty.calve("1", date(2026, 3, 10), "h", sex="F")
    empty.calve("2", date(2026, 3, 15), "m", sex="M")
    assert _errands(empty, "too_young", date(2026, 9, 8)) == []
    (alert,) = _errands(empty, "too_young", date(2026, 9, 9))
    assert alert.what == (empty.id["h"],)
    assert alert.urgency == "act"
    assert "vet" in alert.text
    # Parted by groups: the calf at foot is where its dam is.
    away = empty.do(NewGroup(name="Top field"))
    empty.do(Move((empty.id["2"],), date(2026, 9, 1), away))
    assert _errands(empty, "too_young", date(2026, 9, 9)) == []
    empty.do(Move((empty.id["1"],), date(2026, 9, 2), away))
    with empty.book.read() as conn:
        on = date(2026, 9, 9)
        assert too_young_heifers(load_herd(conn, on), on) == {empty.id["h"]: [empty.id["m"]]}
    empty.do(Castrate(empty.id["m"], date(2026, 9, 3), method="ring"))
    assert _errands(empty, "too_young", date(2026, 9, 9)) == []


def test_a_heifer_too_young_in_a_bull_run(empty: Herd) -> None:
    bull, heifer = empty.add("B", "M", date(2020, 1, 1)), empty.add("1", "F", date(2025, 6, 1))
    assert _errands(empty, "too_young") == []  # a grown bull in no group is by himself
    empty.do(TurnIn(bulls=(bull,), females=(heifer,), day=date(2026, 3, 1)))
    (alert,) = _errands(empty, "too_young")
    assert alert.what == (heifer,)


def test_the_sort_is_asked_for_within_the_month_until_a_plan_is_accepted(herd: Herd) -> None:
    herd.do(ChangeSetting("usual_bull_in", "04-02"))
    (sort,) = _errands(herd, "sort")
    assert (sort.page, sort.when) == ("sort", date(2026, 4, 2))
    assert _errands(herd, "sort", date(2026, 3, 2)) == []
    herd.do(AcceptPlan(Season("2026", date(2026, 4, 2), date(2026, 6, 3), 0.0625, (), ()), ON))
    assert _errands(herd, "sort") == []


def test_the_next_day_of_the_year() -> None:
    assert next_day_of_year("06-01", date(2026, 6, 1)) == date(2026, 6, 1)
    assert next_day_of_year("06-01", date(2026, 6, 2)) == date(2027, 6, 1)
    assert next_day_of_year("02-29", date(2026, 1, 1)) == date(2028, 2, 29)
    assert next_day_of_year("spring", date(2026, 1, 1)) is None


def test_what_is_put_off_stays_away_until_its_day(herd: Herd) -> None:
    (errand,) = _errands(herd, "castrate")
    for task in errand.tasks:
        herd.do(FinishTask((task,), ON, ask_again=date(2026, 3, 20)))
    assert _errands(herd, "castrate") == []
    assert _errands(herd, "castrate", date(2026, 3, 19)) == []
    assert _errands(herd, "castrate", date(2026, 3, 20))
    (medicine,) = _errands(herd, "medicine")
    herd.do(FinishTask(medicine.tasks, ON))
    assert _errands(herd, "medicine", date(2026, 3, 20)) == []


def test_what_cannot_wait_comes_first(herd: Herd) -> None:
    herd.do(AddAnimal(tag="H", sex="F", born=None, entered=date(2026, 1, 1)))
    levels = [errand.urgency for errand in herd.ask(today, on=date(2026, 4, 26))]
    assert levels == sorted(levels, key=["act", "soon", "look"].index)
    assert set(levels) >= {"act"}


def test_facts_without_weights_are_otherwise_the_same(empty: Herd) -> None:
    cow = empty.add("1", "F", date(2020, 1, 1))
    empty.calve("1", date(2025, 5, 1), "1c")
    empty.do(Weigh(cow, ON, kg=610.0))
    whole, less = (empty.ask(lambda conn, on, m=m: load_herd(conn, on, measured=m)) for m in (True, False))
    assert [w.kg for w in whole[cow].weighings] == [610.0]
    assert less[cow].weighings == []
    for facts in whole.values():
        facts.weighings.clear()
    assert less == whole
