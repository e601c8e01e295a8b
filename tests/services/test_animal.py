"""The animal card, and an animal as plain values."""

from __future__ import annotations

import json
from datetime import date

import pytest

from herdbook.husbandry.partday import PartDay
from herdbook.services.commands.animals import GiveTag
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import KINDS, Arrive, Foster, Leave, Remark, Treat, Weigh
from herdbook.services.queries.animal import animal_json, card
from herdbook.services.queries.happened import label
from herdbook.services.registry import Refused
from tests.services.conftest import Herd


def _told(herd: Herd, tag: str) -> list[tuple[str, str]]:
    return [(h.kind, h.words) for h in herd.ask(card, herd.id[tag]).happenings]


def test_who_she_is(herd: Herd) -> None:
    eden = herd.ask(card, herd.id["12"])
    assert (eden.words, eden.sex, eden.class_, str(eden.born)) == ("12 Eden", "F", "cow", "2018")
    assert (eden.dam.tag, eden.present, eden.here_since) == ("Severn", True, date(2018, 1, 1))
    assert {(n.scheme, n.value) for n in eden.numbers} == {("farm", "12"), ("electronic", "999000000000012")}
    assert [(o.tag, o.sex, o.fate) for o in eden.offspring] == [("23/4", "F", None), ("25/1", "M", "alive")]


def test_what_happened_newest_first(herd: Herd) -> None:
    assert _told(herd, "7") == [
        ("treatment", "given Long-acting penicillin, 28 days for meat"),
        ("calving", "calved: bull calf 26/1, no help"),
        ("bull_run", "with B2 until 10 Jul 2025"),
        ("bull_run", "with B1 until 9 Jun 2025"),
        ("calving", "calved: heifer calf 25/2, no help"),
        ("birth", "born"),
    ]
    assert (
        _told(herd, "25/1")
        == [
            ("weighing", "weighed 310 kg"),
            ("move", "into group Finishing"),
            ("weighing", "weighed 230 kg"),
            ("weaning", "weaned"),
            ("castration", "castrated (rubber ring)"),
            ("weighing", "weighed 36 kg, birth"),
            ("birth", "born to 12, no help"),
        ]
        or _told(herd, "25/1")[1][0] == "move"
    )


def test_the_day_cuts_what_came_later(herd: Herd) -> None:
    then = herd.ask(card, herd.id["7"], on=date(2025, 5, 1))
    assert [h.kind for h in then.happenings if not h.planned] == ["calving", "birth"]
    assert [h.words for h in then.happenings if h.planned] == [
        "with B2 until 10 Jul 2025",
        "with B1 until 9 Jun 2025",
    ]
    assert [o.tag for o in then.offspring] == ["25/2"]


def test_weights_with_the_gain_between_those_of_one_method(herd: Herd) -> None:
    steer = herd.id["25/1"]
    herd.do(Weigh(steer, date(2026, 2, 2), kg=318.0))
    herd.do(Weigh(steer, date(2026, 3, 1), kg=350.0, method="girth", unit="lb"))
    rows = herd.ask(card, steer).weights
    assert [row.kg for row in rows] == [350.0, 318.0, 310.0, 230.0, 36.0]
    # 80 kg in the 100 days from 20 October to 28 January; five days are too few; the girth stands alone.
    assert [row.gain_kg for row in rows] == [None, None, pytest.approx(0.8), pytest.approx(194 / 214), None]
    assert _told(herd, "25/1")[0][1] == "weighed 772 lb (350 kg), girth tape"


def test_medicine_that_runs_or_is_not_known(herd: Herd) -> None:
    lune = herd.ask(card, herd.id["7"])
    assert (lune.clear_on, lune.medicine_known) == (
        date(2026, 3, 26),
        True,
    )  # 25 Feb + 28 days, the day after
    herd.do(Treat(herd.id["7"], date(2026, 3, 1), product="Drench"))
    lune = herd.ask(card, herd.id["7"])
    assert (lune.clear_on, lune.medicine_known) == (None, False)
    assert lune.happenings[0].words == "given Drench, days for meat not known, ask"


def test_a_bulls_calves_are_those_he_is_named_for_and_those_that_dates_allow(herd: Herd) -> None:
    # 12 calves 276 days after Cheviot went out and Pentland came in: either may be the sire.
    herd.calve("12", date(2026, 3, 12), "26/9")
    on = date(2026, 3, 13)
    calves = {o.tag: o for o in herd.ask(card, herd.id["B1"], on=on).offspring}
    others = {o.tag: o for o in herd.ask(card, herd.id["B2"], on=on).offspring}
    assert set(calves) == {"23/4", "26/1", "26/9"}
    assert set(others) == {"26/9"}
    assert calves["23/4"].chance == calves["26/1"].chance == 1.0
    assert 0.5 < calves["26/9"].chance < 0.99
    assert calves["26/9"].chance + others["26/9"].chance == pytest.approx(1.0)
    assert (calves["26/9"].dam, calves["26/1"].dam) == ("12", "7")
    assert calves["26/9"].sire_words.startswith("B1 Cheviot ")


def test_gone_and_known_by_name(herd: Herd) -> None:
    tamar, severn = herd.ask(card, herd.id["9"]), herd.ask(card, herd.id["Severn"])
    assert (tamar.present, tamar.left_on, tamar.known_by_name) == (False, date(2025, 11, 3), False)
    assert tamar.happenings[0].words == "left: sold, age"
    assert (severn.present, severn.left_on, severn.known_by_name) == (False, None, True)
    assert [o.tag for o in severn.offspring] == ["12"]


def test_a_calf_that_was_fostered_and_a_new_tag(herd: Herd) -> None:
    herd.do(Foster(herd.id["26/1"], date(2026, 2, 26), by=herd.id["12"]))
    herd.do(GiveTag(herd.id["26/1"], "126", day=date(2026, 3, 1)))
    herd.do(Remark(herd.id["26/1"], date(2026, 3, 2), note="strong"))
    bora = herd.ask(card, herd.id["26/1"])
    assert (bora.dam.tag, bora.reared_by.tag, bora.tag) == ("7", "12", "126")
    assert [(n.value, n.past) for n in bora.numbers] == [("126", False), ("26/1", True)]
    assert [h.words for h in bora.happenings[:3]] == ["strong", "got tag 126", "put to 12"]


def test_twins_born_dead_and_alive(herd: Herd) -> None:
    calves = (NewCalf(sex="F", tag="26/2", ease=2), NewCalf(sex="M", ease=5, fate="stillborn"))
    herd.do(RecordBirth(herd.id["12"], date(2026, 3, 1), calves))
    eden = herd.ask(card, herd.id["12"])
    assert eden.happenings[0].words == (
        "calved: heifer calf 26/2, some help; bull calf 12 calf 2026-03-01 2, lay wrong, born dead"
    )
    heifer = next(o for o in eden.offspring if o.tag == "26/2")
    assert herd.ask(card, heifer.id).freemartin == "probable"


def test_back_again(herd: Herd) -> None:
    herd.do(Leave(herd.id["B2"], date(2025, 8, 1), departure_kind="hired_out"))
    assert herd.ask(card, herd.id["B2"], on=date(2025, 9, 1)).present is False
    herd.do(Arrive(herd.id["B2"], date(2025, 10, 1), arrival_kind="returned"))
    back = herd.ask(card, herd.id["B2"])
    assert (back.present, back.here_since, back.left_on) == (True, date(2025, 10, 1), None)
    assert back.happenings[0].words == "came: came back"


def test_no_such_animal(herd: Herd) -> None:
    with pytest.raises(Refused, match="not in the book"):
        herd.ask(card, 999)


def test_every_kind_has_words(empty: Herd) -> None:
    """Each kind's form filled with its first choices gives a line that is no bare code."""
    import dataclasses

    animal = empty.add("1", "F", PartDay(date(2020, 1, 1)))
    fill = {
        "text": "words",
        "condition": "am",
        "number": 4.0,
        "weight": 300.0,
        "length": 120.0,
        "days": 10,
        "count": 7,
    }
    for kind in KINDS:
        if kind.kind in ("departure", "arrival"):
            continue
        answers = {}
        for field in dataclasses.fields(kind):
            if field.default is dataclasses.MISSING and field.name not in ("animal", "day"):
                asked = field.metadata
                answers[field.name] = asked["choices"][0][0] if asked["choices"] else fill[asked["kind"]]
        empty.do(kind(animal, date(2026, 1, 1), note="seen", **answers))
    told = {h.kind: h.words for h in empty.ask(card, animal).happenings}
    assert set(told) == {kind.kind for kind in KINDS} - {"departure", "arrival"} | {"birth"}
    assert all("_" not in words and "None" not in words for words in told.values())


def test_labels_of_choices() -> None:
    assert label(Leave, "departure_kind", "slaughtered") == "to the butcher"
    assert label(Leave, "departure_kind", "flown") == "flown"


def test_plain_values(herd: Herd) -> None:
    told = json.loads(json.dumps(herd.ask(animal_json, herd.id["23/4"])))
    assert (told["tag"], told["name"], told["sex"], told["class"]) == ("23/4", "Nith", "F", "in-calf heifer")
    assert (told["born"], told["dam"], told["present"]) == ("2023-04-10", "12", True)
    assert told["sires"] == [{"sire": "B1", "chance": 1.0, "basis": "word"}]
    assert told["inbreeding"] == 0.0
    check = told["happenings"][0]
    assert (check["date"], check["kind"], check["result"], check["days"]) == (
        "2025-09-01",
        "pregnancy_check",
        "pregnant",
        85,
    )
    run = told["happenings"][1]
    assert (run["kind"], run["bulls"], run["in"], run["out"]) == (
        "bull_run",
        ["B1"],
        "2025-05-10",
        "2025-06-09",
    )
    assert herd.ask(animal_json, herd.id["12"])["born"] == "2018"
