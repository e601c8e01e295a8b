"""Acts in plain words."""

from __future__ import annotations

import string
from datetime import date

import pytest

import herdbook.services.commands  # noqa: F401 - registers the handlers
from herdbook.services import registry
from herdbook.services.book import act_of
from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal, GiveTag, Move, NameParent
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.correcting import Correct, TakeBack
from herdbook.services.commands.diary import BookAnimal, BookDay, ChangeSetting, FinishTask, Unbook
from herdbook.services.commands.happenings import KINDS, RecordRound, Treat, Weigh
from herdbook.services.commands.running import EndRun, TurnIn
from herdbook.services.commands.season import Season
from herdbook.services.history import ACTS, act_words, entry_words
from tests.services.conftest import ON, Herd


def _last(herd: Herd) -> str:
    return entry_words(herd.book.history(1)[0])


def test_every_command_has_its_sentence() -> None:
    kinds = {
        act_of(object.__new__(command))[0]
        for command in registry._handlers
        if "commands" in command.__module__
    }
    assert {act_of(object.__new__(kind))[0] for kind in KINDS} <= kinds
    assert kinds - ACTS.keys() == set()


@pytest.mark.parametrize("kind", ACTS)
def test_every_sentence_reads_with_and_without_its_words(kind: str) -> None:
    names = [name for _, name, _, _ in string.Formatter().parse(ACTS[kind].template) if name]
    words = {name: "2026-03-03" if name in ("day", "bull_in") else f"<{name}>" for name in names}
    assert all(f"<{name}>" in act_words(kind, words) for name in names if name not in ("day", "bull_in"))
    assert "{" not in act_words(kind, words) + act_words(kind, {})
    assert act_words(kind, {})


def test_acts_are_told_with_tags(herd: Herd) -> None:
    h = herd.id
    told = []
    day = herd.do(BookDay(date(2026, 3, 20)))
    for command in (
        AddAnimal(tag="31", sex="F", born=None, entered=ON),
        ChangeAnimal(h["7"], name="Lune", sex="F"),
        GiveTag(h["26/1"], "126"),
        NameParent(h["26/1"], h["B1"]),
        Weigh(h["7"], ON, kg=600.0),
        Treat(h["7"], ON, product="Drench", meat_days=14),
        RecordBirth(h["12"], ON, (NewCalf("F", "26/2"), NewCalf("M"))),
        RecordRound(ON, "weighing", (Weigh(h["25/1"], ON, kg=330.0), Weigh(h["25/2"], ON, kg=310.0))),
        TurnIn((h["B1"],), (h["7"], h["12"], h["23/4"], h["25/2"], h["B2"]), ON),
        EndRun(3, date(2026, 5, 1)),
        AcceptPlan(Season("2026", date(2026, 6, 1), date(2026, 8, 2), 0.0625, (), ()), ON),
        BookAnimal(h["25/1"], day),
        Unbook(h["25/1"]),
        ChangeSetting("finish_kg", 500.0),
        FinishTask(("wean:1",), ON),
        Correct(1, Weigh(h["25/1"], ON, kg=231.0)),
        TakeBack("weighing", 1),
        Move((h["7"],), ON, 1),
    ):
        herd.do(command)
        told.append(_last(herd))
    assert told == [
        "animal 31 entered",
        "what is written of 7",
        "tag 126 for 26/1",
        "B1 as sire of 126",
        "weight of 7",
        "Drench given to 7",
        "calf 26/2 of 12",
        "weighing of 25/1, 25/2",
        "B1 in with 7, 12, 23/4 and 2 more",
        "bull out on 1 May 2026",
        "plan 2026 accepted, bull in 1 Jun 2026",
        "25/1 booked",
        "booking of 25/1 taken off",
        "setting “Finish weight of steers”",
        "a task done or put off",
        "correction for 25/1",
        "a record taken back",
        "7 into Finishing",
    ]


def test_undo_and_redo(herd: Herd) -> None:
    book = herd.book
    herd.do(Weigh(herd.id["7"], ON, kg=600.0))
    book.undo()
    assert _last(herd) == "taken back: weight of 7"
    book.redo()
    assert _last(herd) == "done again: weight of 7"


def test_acts_of_other_versions_still_read() -> None:
    assert act_words("shear_sheep", {"n": 3}) == "shear sheep"
    assert act_words("weigh", {"animal": None}) == "a weight"
    assert act_words("undo", {"kind": "weigh", "words": {"animal": "7"}}) == "taken back: weight of 7"
