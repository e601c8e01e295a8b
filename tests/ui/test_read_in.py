"""Reading sheets in at the window: what is unclear is asked, all is seen first, and it goes in as one act."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.facts import load_herd
from herdbook.services.queries.tags import animal_by_tag
from herdbook.ui import theme
from herdbook.ui.books.entire import EntireDialog
from herdbook.ui.books.read_in import MATCHES, ReadInDialog
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.jobs import Jobs
from tests.ui.conftest import ON, OpenDesk, show

ANIMALS = """Ear tag,Sex,DOB,Dam,Sire,Coat
12,cow,3/4/2019,Nith,Cheviot,red
14,heifer,5/6/2023,12,,black
301,M,7/5/2024,12,,
302,M,8/5/2024,,,
303,zebra,8/5/2024,,,
"""
WEIGHTS = "beastie,when,how heavy\n12,2025-05-04,600\n99,2025-05-04,600\n"


class Reader:
    """The dialog over a real book, and someone with a keyboard."""

    def __init__(self, qtbot: QtBot, qapp: QApplication, folder: Path) -> None:
        theme.apply(qapp, "light")
        self.qtbot, self.folder = qtbot, folder
        self.book = Book.create(folder / "herd.herdbook", who="keeper")
        self.jobs = Jobs(qapp)
        self.desk = OpenDesk(self.book, self.jobs, day=lambda: ON)
        self.told: list[tuple[str, bool]] = []
        self.desk.told.connect(lambda text, undo: self.told.append((text, undo)))
        self.dialog = self.open()

    def open(self) -> ReadInDialog:
        """Open the dialog."""
        dialog = ReadInDialog(self.desk)
        show(self.qtbot, dialog)
        return dialog

    def calm(self) -> None:
        """Wait until nothing runs beside the window."""
        self.qtbot.waitUntil(lambda: not self.jobs.busy, timeout=10_000)

    def take(self, **sheets: str) -> None:
        """Write sheets as files and give them to the dialog."""
        paths = []
        for name, text in sheets.items():
            paths.append(self.folder / f"{name}.csv")
            paths[-1].write_text(text, encoding="utf-8")
        self.dialog.take(paths)
        self.calm()

    def pick(self, name: str, code: str) -> None:
        """Choose in a list by keys: Home, Down as often as it takes, and on by Tab."""
        combo = self.dialog.findChild(QuietCombo, name)
        assert combo is not None, name
        combo.setFocus()
        place = [combo.itemData(n) for n in range(combo.count())].index(code)
        self.qtbot.keyClick(combo, Qt.Key.Key_Home)
        for _ in range(place):
            self.qtbot.keyClick(combo, Qt.Key.Key_Down)
        self.qtbot.keyClick(combo, Qt.Key.Key_Tab)
        self.calm()

    def remarks(self) -> list[tuple[bool, str, int | None, str]]:
        """Return what the table below says."""
        return [(r.skipped, r.sheet, r.row, r.column) for r in self.dialog.remarks.rows]

    def classes(self) -> dict[str, str]:
        """Return the class of every animal here."""
        with self.book.read() as conn:
            return {facts.tag: facts.class_on(ON).value for facts in load_herd(conn, ON).values()}


@pytest.fixture
def reader(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Reader]:
    """Return the dialog over an empty book."""
    reader = Reader(qtbot, qapp, tmp_path)
    yield reader
    for widget in QApplication.topLevelWidgets():
        if isinstance(widget, ReadInDialog | EntireDialog):
            widget.close()
    assert reader.desk.failed == []
    assert reader.jobs.close()
    reader.book.close()


def test_dates_that_could_be_either_are_asked(reader: Reader) -> None:
    """Nothing can be read in before the order of day and month is said; then it can."""
    reader.take(cows=ANIMALS)
    assert not reader.dialog.read_button.isEnabled()
    assert "“DOB”" in reader.dialog.summary.text()
    assert reader.dialog.focusWidget().objectName() == "cows.csv|DOB|order"
    reader.pick("cows.csv|DOB|order", "dmy")
    assert reader.dialog.read_button.isEnabled()
    assert reader.dialog.summary.text().startswith("Would go in: 4 animals, 2 known by name only")
    assert (True, "cows.csv", 6, "Sex") in reader.remarks()
    assert reader.book.history() == []


def test_a_strange_sheet_is_matched_once(reader: Reader) -> None:
    """What a sheet is and what its columns are is said by keys, and remembered for the next such sheet."""
    reader.take(cows=ANIMALS.replace("DOB", "Born (day first)"))
    reader.dialog._order("cows.csv", "Born (day first)", "dmy")
    reader.calm()
    reader.take(odd=WEIGHTS)
    assert "do not tell what it is" in reader.dialog.summary.text()
    reader.pick("odd.csv|", "weights")
    assert "tag, weight" in reader.dialog.summary.text()
    reader.pick("odd.csv|beastie", "tag")
    reader.pick("odd.csv|how heavy", "weight")
    assert reader.desk.memory[MATCHES]["beastie"] == "tag"
    assert "1 weights" in reader.dialog.summary.text()
    assert (True, "odd.csv", 3, "beastie") in reader.remarks()
    reader.dialog.reject()
    reader.dialog = reader.open()
    reader.take(again=WEIGHTS)
    assert reader.dialog.plan is not None
    assert reader.dialog.plan.asks == ()


def test_a_sheet_can_be_left_out(reader: Reader) -> None:
    """A sheet chosen by mistake is left out by its list."""
    reader.take(cows=ANIMALS.replace("DOB", "Coat 2"), odd="a,b\n1,2\n")
    assert reader.dialog.plan is not None
    assert reader.dialog.plan.asks
    reader.pick("odd.csv|", "-")
    assert reader.dialog.plan.asks == ()
    assert reader.dialog.read_button.isEnabled()


def test_read_in_is_one_act_and_males_are_asked_about(qtbot: QtBot, reader: Reader) -> None:
    """Ctrl+Enter reads in; the males that nobody spoke of are listed; those not ticked become steers."""
    reader.take(cows=ANIMALS)
    reader.pick("cows.csv|DOB|order", "dmy")
    qtbot.keyClick(reader.dialog, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: isinstance(QApplication.activeModalWidget(), EntireDialog), timeout=10_000)
    assert reader.told[-1][1], "undo stands beside it"
    assert [act.kind for act in reader.book.history()] == ["read_in"]
    entire: Any = QApplication.activeModalWidget()
    qtbot.waitUntil(lambda: entire.list.count() == 2, timeout=10_000)
    assert [entire.list.item(n).text() for n in range(2)] == ["301", "302"]
    qtbot.keyClick(entire.list, Qt.Key.Key_Space)
    qtbot.keyClick(entire.list, Qt.Key.Key_Return)
    qtbot.keyClick(entire.save_button, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: len(reader.book.history()) == 2, timeout=10_000)
    assert reader.classes() == {"12": "cow", "14": "heifer", "301": "bull", "302": "steer"}
    reader.calm()
    assert reader.dialog.summary.text().startswith("In the book now: 4 animals")
    reader.book.undo()
    reader.book.undo()
    assert reader.classes() == {}


def test_stopped_in_the_midst_nothing_is_read_in(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stop while the rows are being written leaves the book as it was, and the dialog ready."""
    reader.take(cows=ANIMALS.replace("DOB", "Coat 2"))
    from herdbook.ui.jobs import Progress

    plain = Progress.__call__

    def stop_when_writing(self: Progress, what: str = "", done: int = 0, of: int = 0) -> None:
        if what == "Saving":
            self.stop()
        plain(self, what, done, of)

    monkeypatch.setattr(Progress, "__call__", stop_when_writing)
    reader.dialog.read_in()
    reader.calm()
    assert reader.classes() == {}
    assert reader.book.history() == []
    assert reader.dialog.refusal.isVisible()
    assert reader.dialog.read_button.isEnabled()


def test_what_is_no_sheet_is_said(reader: Reader) -> None:
    """A file that cannot be read is named; what was there before is not lost for it."""
    (reader.folder / "empty.csv").write_bytes(b"")
    reader.dialog.take([reader.folder / "empty.csv"])
    reader.calm()
    assert "empty.csv is empty" in reader.dialog.refusal.text()
    reader.take(cows=ANIMALS)
    assert not reader.dialog.refusal.isVisible()
    assert len(reader.dialog.sheets) == 1


def test_sheets_can_be_dropped(reader: Reader) -> None:
    """Files dropped on the dialog are taken like chosen ones."""
    path = reader.folder / "weights.csv"
    path.write_text("tag,date,weight\n12,2025-05-04,600\n", encoding="utf-8")
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    none = Qt.KeyboardModifier.NoModifier
    drop = QDropEvent(QPointF(5, 5), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, none)
    reader.dialog.dropEvent(drop)
    reader.calm()
    assert [sheet.name for sheet in reader.dialog.sheets] == ["weights.csv"]
    assert not reader.dialog.read_button.isEnabled(), "the one row has no animal"


def test_parents_are_found_in_what_was_read(reader: Reader) -> None:
    """The dam by her tag, the sire by his name only."""
    reader.take(cows=ANIMALS)
    reader.dialog._order("cows.csv", "DOB", "dmy")
    reader.calm()
    reader.dialog.read_in()
    reader.calm()
    with reader.book.read() as conn:
        heifer = load_herd(conn, ON)[animal_by_tag(conn, "14", ON)]
        assert heifer.dam == animal_by_tag(conn, "12", ON)
