"""Bloodlines of real books: founders' shares, what hangs on one animal, lines, measures with counts."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy import update

from herdbook.husbandry.partday import PartDay
from herdbook.services.bloodlinewords import hanging_words, living_words, measure_words
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.happenings import Castrate, Leave
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.bloodlines import MEASURES, Bloodlines, Measure, bloodlines, founders_of
from herdbook.store import tables as t
from tests.services.conftest import ON, Herd


def sixteen(h: Herd) -> Herd:
    """Enter the published pedigree of sixteen; only 13 to 16 are here. See tests/published."""
    parents = {
        "05": ("01", "03"), "06": ("01", "04"), "07": ("01", "03"), "08": ("02", "04"),
        "09": ("05", "07"), "10": ("06", "07"), "11": ("06", "08"), "12": ("06", "08"),
        "13": ("09", "11"), "14": ("09", "11"), "15": ("09", "11"), "16": ("10", "11"),
    }  # fmt: skip
    sires = {sire for sire, _ in parents.values()}
    for n in range(1, 17):
        tag = f"{n:02}"
        sire, dam = parents.get(tag, (None, None))
        sex = "M" if tag in sires else "F"
        more = {"sire": h.id[sire], "dam": h.id[dam]} if sire and dam else {}
        h.add(tag, sex, PartDay(date(2000 + n, 1, 1), "year"), here=n >= 13, **more)
    return h


def shares(told: Bloodlines) -> dict[str, float]:
    return {f.who.tag: f.share for f in told.founders}


def value(told: Bloodlines, name: str) -> float | None:
    return told.measures[name].value


def line(told: Bloodlines, kind: str, tag: str) -> Any:
    return next(each for each in told.lines if each.kind == kind and each.first.tag == tag)


def test_the_published_sixteen(empty: Herd) -> None:
    """Founders 01-04 of 13-16: f_e 3.531, f_a 2.4615, 1 / (2 mean kinship) 1.3913; see tests/published."""
    told = sixteen(empty).ask(bloodlines)
    assert told.animals == 4
    assert shares(told) == {"01": 0.375, "04": 0.28125, "03": 0.21875, "02": 0.125}
    assert [(a.who.tag, a.share) for a in told.ancestors] == [("11", 0.5), ("09", 0.375), ("10", 0.125)]
    assert value(told, "effective_founders") == pytest.approx(3.5310344827586206)
    assert value(told, "with_unknown") == pytest.approx(3.5310344827586206)
    assert value(told, "effective_ancestors") == pytest.approx(2.4615384615384617)
    assert value(told, "founder_genomes") == pytest.approx(1.391304347826087)
    assert value(told, "mean_inbreeding") == pytest.approx((3 / 16 + 3 / 16) / 4)
    assert told.unknown == 0
    assert told.measures["mean_inbreeding"].counts == {"animals": 4, "both_known": 4}
    assert list(told.measures) == list(MEASURES)


def test_what_hangs_on_one_animal(herd: Herd) -> None:
    """Severn's genes are in Eden, Nith and the steer Wharfe; a steer hands nothing on."""
    told = herd.ask(bloodlines)
    severn = next(f for f in told.founders if f.who.name == "Severn" or f.who.tag == "Severn")
    assert (severn.carriers, severn.alone) == (2, None)
    female = line(told, "female", "Severn")
    assert (female.living, female.animals, female.through) == (2, 3, None)
    herd.do(Leave(herd.id["23/4"], date(2026, 3, 1), departure_kind="sold"))
    told = herd.ask(bloodlines)
    alone = line(told, "alone", "Severn")
    assert alone.through.tag == "12"
    assert hanging_words(alone) == "The Severn line hangs on 12 Eden (7 years old) alone."
    assert not alone.presses
    assert line(herd.ask(bloodlines, on=date(2029, 1, 2)), "alone", "Severn").presses


def test_an_animal_that_stands_alone_and_the_oldest_first(empty: Herd) -> None:
    h = empty
    h.add("1", "F", date(2024, 3, 1), name="Esk")
    h.add("2", "F", date(2012, 3, 1), name="Nith")
    h.add("3", "M", date(2020, 3, 1), name="Cheviot")
    told = h.ask(bloodlines)
    alone = [each for each in told.lines if each.kind == "alone"]
    assert [each.through.tag for each in alone] == ["2", "3", "1"]
    assert [each.presses for each in alone] == [True, False, False]
    assert (
        hanging_words(alone[0]) == "2 Nith (14 years old) stands alone: no offspring here can be bred from."
    )
    bull = line(told, "male", "3")
    assert living_words(bull) == "1 bull"
    assert living_words(line(told, "female", "1")) == "1 female"


def test_only_those_that_can_be_bred_from(herd: Herd) -> None:
    """Here are two bulls, Eden, Lune, Nith, Kent, the steer Wharfe and the bull calf Bora."""
    assert herd.ask(bloodlines).animals == 8
    assert herd.ask(bloodlines, breeding=True).animals == 6
    herd.do(Castrate(herd.id["B2"], date(2026, 3, 2), method="ring"))
    born = PartDay(date(2025, 4, 2))
    herd.do(ChangeAnimal(herd.id["25/2"], name="Kent", sex="F", born=born, do_not_breed="small"))
    told = herd.ask(bloodlines, breeding=True)
    assert told.animals == 4
    assert told.breeding


def test_an_unknown_parent_is_told_and_not_given_to_anyone(empty: Herd) -> None:
    """Two calves of Eden, one by Cheviot, one by nobody known; she herself is gone."""
    h = empty
    h.add("B", "M", date(2018, 3, 1), name="Cheviot", here=False)
    h.add("1", "F", date(2018, 3, 1), name="Eden", here=False)
    h.add("2", "F", date(2021, 3, 1), dam=h.id["1"], sire=h.id["B"])
    h.add("3", "F", date(2022, 3, 1), dam=h.id["1"])
    told = h.ask(bloodlines)
    assert told.unknown == 0.25
    assert {f.who.tag: (f.of_herd, f.share) for f in told.founders} == {
        "1": (0.5, pytest.approx(2 / 3)),
        "B": (0.25, pytest.approx(1 / 3)),
    }
    assert value(told, "effective_founders") == pytest.approx(9 / 5)
    assert value(told, "with_unknown") == pytest.approx(1 / (1 / 4 + 1 / 16 + 1 / 16))
    words = measure_words("effective_founders", told.measures["effective_founders"])
    assert (words.value, words.counted) == ("1.8", "2 founders; 25.0 % unknown")


def test_parents_and_years_that_count(empty: Herd) -> None:
    """One bull and two cows of three calves in the last years; the calf of the third cow is too long ago."""
    h = empty
    h.add("B", "M", date(2018, 3, 1))
    for tag in "123":
        h.add(tag, "F", date(2015, 3, 1))
    h.add("old", "F", date(2018, 4, 1), dam=h.id["3"], sire=h.id["B"])
    for n, dam in enumerate("121"):
        h.add(f"c{n}", "F", date(2023 + n, 3, 1), dam=h.id[dam], sire=h.id["B"])
    told = h.ask(bloodlines)
    parents = told.measures["from_parents"]
    assert parents.counts == {"sires": 1, "dams": 2, "years": 5, "born": 3}
    assert parents.value == pytest.approx(8 / 3)
    assert told.measures["interval"].reason == "no_interval", "none of the calves was bred from"
    assert told.measures["from_rate"].reason == "no_interval"
    assert told.measures["from_increase"].reason == "not_rising"


def test_generation_interval_and_rate(empty: Herd) -> None:
    """A cow by B of 3 years out of 1 of 4; her calf by her own sire is 1/4 inbred."""
    h = empty
    h.add("B", "M", date(2015, 3, 1))
    h.add("1", "F", date(2014, 3, 1))
    h.add("2", "F", date(2018, 3, 1), dam=h.id["1"], sire=h.id["B"])
    h.add("3", "F", date(2022, 3, 1), dam=h.id["2"], sire=h.id["B"])
    told = h.ask(bloodlines)
    ages = {(each.parent, each.offspring): (each.years, each.count) for each in told.intervals}
    assert ages["sire", "daughter"] == (pytest.approx(3, abs=0.01), 1)
    assert ages["dam", "daughter"] == (pytest.approx(4, abs=0.01), 1)
    assert ages["sire", "son"] == (None, 0)
    assert value(told, "interval") == pytest.approx(3.5, abs=0.01)
    rate = told.measures["from_rate"]
    assert rate.counts["animals"] == rate.counts["years"] == 2
    assert rate.counts["per_generation"] == pytest.approx(1 - 0.75 ** (3.5 / 4), rel=0.01)
    assert rate.value == pytest.approx(1 / (2 * rate.counts["per_generation"]))
    assert [(y.year, y.born, y.both_known, y.inbreeding) for y in told.by_year] == [
        (2014, 1, 0, 0.0),
        (2015, 1, 0, 0.0),
        (2018, 1, 1, 0.0),
        (2022, 1, 1, 0.25),
    ]


def test_later_days_are_left_out(empty: Herd) -> None:
    h = empty
    h.add("1", "F", date(2020, 3, 1))
    h.calve("1", date(2026, 2, 1), "26/1")
    before = h.ask(bloodlines, on=date(2026, 1, 1))
    assert before.animals == 1
    assert [each.year for each in before.by_year] == [2020]
    assert h.ask(bloodlines).animals == 2


def test_bulls_of_a_doubtful_sire_count_by_their_chances(empty: Herd) -> None:
    """Two bulls ran with her together all season: a quarter of the calf is either's."""
    h = empty
    for tag in ("A", "L"):
        h.add(tag, "M", date(2020, 3, 1))
    h.add("1", "F", date(2018, 3, 1), calved_before=True)
    h.do(TurnIn((h.id["A"], h.id["L"]), (h.id["1"],), date(2025, 5, 1), date(2025, 7, 1)))
    h.calve("1", date(2026, 2, 26), "26/1")
    for tag in ("A", "L", "1"):
        h.do(Leave(h.id[tag], date(2026, 3, 1), departure_kind="sold"))
    told = h.ask(bloodlines)
    assert told.doubtful == 1
    assert shares(told) == {"1": 0.5, "A": pytest.approx(0.25), "L": pytest.approx(0.25)}
    assert [f.carriers for f in told.founders] == [1, 1, 1]
    assert value(told, "mean_kinship") == pytest.approx(0.5)
    assert value(told, "founder_genomes") == pytest.approx(1)


def test_nil_from_no_known_parents_is_not_told_as_nil() -> None:
    words = measure_words("mean_inbreeding", Measure(0.0, {"animals": 4, "both_known": 0}))
    assert (words.value, words.counted) == ("not known", "4 animals; both parents of 0")
    assert measure_words("mean_inbreeding", Measure(0.0, {"animals": 4, "both_known": 1})).value == "0.0 %"


def test_one_is_spoken_of_as_one() -> None:
    """Not "1 pairs" nor "1 animals"."""
    counted = {
        "interval": ({"pairs": 1}, "1 pair of parent and offspring"),
        "mean_kinship": ({"animals": 1}, "1 animal"),
        "effective_ancestors": ({"ancestors": 1}, "1 ancestor"),
        "with_unknown": ({"founders": 1, "parents": 1}, "1 founder, 1 unknown parent"),
    }
    for name, (counts, words) in counted.items():
        assert measure_words(name, Measure(1.0, counts)).counted == words


def test_a_loop_is_taken_apart_and_counted(empty: Herd) -> None:
    """Two that are each other's dam are left without parents, and told of; the rest stands."""
    h = empty
    h.add("1", "F", date(2018, 3, 1))
    h.add("2", "F", date(2020, 3, 1), dam=h.id["1"])
    h.add("3", "F", date(2022, 3, 1), dam=h.id["2"])
    with h.book.act("damage") as work:
        work.conn.execute(update(t.Animal).where(t.Animal.id == h.id["1"]).values(dam_id=h.id["2"]))
    told = h.ask(bloodlines)
    assert told.loops == 2
    assert {f.who.tag: f.of_herd for f in told.founders} == {
        "2": pytest.approx(1 / 2),
        "1": pytest.approx(1 / 3),
    }
    assert told.unknown == pytest.approx(1 / 6)


def test_an_empty_book(empty: Herd) -> None:
    """No number is made up: each has a reason, and the reason words."""
    told = empty.ask(bloodlines)
    assert (told.animals, told.founders, told.ancestors, told.lines, told.by_year) == (0, (), (), (), ())
    assert all(each.value is None and each.reason for each in told.measures.values())
    for name, measure in told.measures.items():
        words = measure_words(name, measure)
        assert words.value == "not known"
        assert words.why_not
        assert words.means
        assert words.source
    assert empty.ask(founders_of) == ()


def test_the_paper_s_rows_are_the_page_s_founders(herd: Herd) -> None:
    assert herd.ask(founders_of) == herd.ask(bloodlines, on=ON).founders
