"""Half-typed lines outlive the window; nothing wrong with their file stands in the way."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from herdbook.services.asking import Question
from herdbook.ui.forms.animals import AnimalEntry, AnimalsEntry
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.drafts import Drafts, drafts_of, put_back, typed
from herdbook.ui.forms.entry import ChoiceEntry, Entry, FlagEntry, MeasureEntry, NoteEntry, TextEntry
from tests.ui.conftest import OpenDesk


def test_kept_and_forgotten(qtbot: QtBot, tmp_path: Path) -> None:
    """Written a moment after the change; the file goes with the last line."""
    path = tmp_path / "deep" / "lines.json"
    drafts = Drafts(path)
    drafts.put("births", {"dam": "412"})
    qtbot.waitUntil(path.exists)
    assert Drafts(path).get("births") == {"dam": "412"}
    drafts.put("births", {"dam": "412 Eden", "kg": "3"})
    drafts.write()
    assert Drafts(path).get("births") == {"dam": "412 Eden", "kg": "3"}
    assert Drafts(path).get("weights") is None
    drafts.put("births", None)
    drafts.write()
    assert list(path.parent.iterdir()) == []


@pytest.mark.parametrize("text", ["", "{", "[]", '{"lines": 3}', '{"lines": {"births": 7}}', "\x00\xff"])
def test_a_damaged_file_is_as_if_it_were_not_there(qtbot: QtBot, tmp_path: Path, text: str) -> None:
    path = tmp_path / "lines.json"
    path.write_text(text, encoding="utf-8")
    drafts = Drafts(path)
    assert drafts.get("births") is None
    drafts.put("births", {"dam": "7"})
    drafts.write()
    assert json.loads(path.read_text(encoding="utf-8"))["lines"]["births"] == {"dam": "7"}


def test_a_folder_that_cannot_be_written_to_does_not_stop_the_typing(qtbot: QtBot, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    drafts = Drafts(tmp_path / "file" / "lines.json")
    drafts.put("births", {"dam": "7"})
    drafts.write()
    assert drafts.get("births") == {"dam": "7"}


def test_a_book_without_a_file_keeps_them_in_the_window(desk: OpenDesk) -> None:
    assert drafts_of(desk).path is None


def question(kind: str) -> Question:
    """Return a question of a kind."""
    return Question("it", "It", kind, (("a", "first"), ("b", "second")), "", True, None)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("make", "kind", "text"),
    [(TextEntry, "text", "half"), (MeasureEntry, "weight", "520 l"), (AnimalEntry, "female", "41"),
     (DateEntry, "date", "31/2")],
)  # fmt: skip
def test_half_words_come_back_as_they_were(
    qtbot: QtBot, desk: OpenDesk, make: type[Entry], kind: str, text: str
) -> None:
    first, second = make(question(kind), desk), make(question(kind), desk)
    for entry in (first, second):
        qtbot.addWidget(entry)
    assert typed(first) is None
    first.edit.setText(text)  # type: ignore[attr-defined]
    put_back(second, json.loads(json.dumps(typed(first))))
    assert second.edit.text() == text  # type: ignore[attr-defined]


def test_yesterday_stays_that_day(qtbot: QtBot, desk: OpenDesk) -> None:
    """A day typed in words is kept as the day that was meant."""
    entry = DateEntry(question("date"), desk)
    qtbot.addWidget(entry)
    entry.edit.setText("yesterday")
    kept = typed(entry)
    desk._day = lambda: date(2026, 3, 9)
    put_back(entry, kept)
    assert entry.value() == date(2026, 3, 2)


def test_choices_notes_and_animals(qtbot: QtBot, desk: OpenDesk, quiet: Callable[[], None]) -> None:
    choice, flag = ChoiceEntry(question("choice"), desk), FlagEntry(question("flag"), desk)
    note, animals = NoteEntry(question("note"), desk), AnimalsEntry(question("animals"), desk)
    for entry, value in ((choice, "b"), (flag, True), (note, "two\nlines"), (animals, [1, 2])):
        qtbot.addWidget(entry)
        entry.fill(value)
    quiet()
    animals.edit.setText("40")
    for entry in (choice, flag, note, animals):
        kept = json.loads(json.dumps(typed(entry)))
        entry.fill(None)
        put_back(entry, kept)
    quiet()
    assert (choice.value(), flag.value(), note.value()) == ("b", True, "two\nlines")
    assert animals.edit.text() == "40"
    assert [animals.list.item(n).text().split()[0] for n in range(2)] == ["412", "388"]
