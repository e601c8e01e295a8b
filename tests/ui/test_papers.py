"""The Papers page: every list looked over, filtered, and printed to a PDF that is read back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.app import program
from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.happenings import CheckPregnancy, Leave, SeeSign, Treat
from herdbook.services.commands.running import TurnIn
from herdbook.ui.desk import Outlets
from herdbook.ui.papers.kinds import all_papers
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper, small_herd

K = Qt.Key


@pytest.fixture
def herd(tmp_path: Path) -> Herd:
    """Eden is in calf by Cheviot; Lune, to be careful with, is with him from April, and has medicine."""
    herd = small_herd(tmp_path / "herd.herdbook")
    bull, eden, lune = (herd.id[tag] for tag in ("B1", "12", "7"))
    herd.do(TurnIn(bulls=(bull,), females=(eden,), day=date(2025, 6, 1), out=date(2025, 7, 1)))
    herd.do(CheckPregnancy(eden, date(2025, 10, 1), result="pregnant", method="scan"))
    herd.do(TurnIn(bulls=(bull,), females=(lune,), day=date(2026, 2, 28), out=date(2026, 7, 1)))
    herd.do(Treat(lune, date(2026, 2, 25), product="penicillin", meat_days=28.0, batch="B7"))
    herd.do(Treat(eden, date(2025, 2, 1), product="old drench", meat_days=14.0))
    herd.do(ChangeAnimal(eden, name="Eden", sex="F", care="quick with a calf"))
    return herd


@pytest.fixture
def saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Answer every question for a file with one in a folder, and keep what was asked and opened."""
    kept = SimpleNamespace(folder=tmp_path / "out", asked=[], opened=[], put_aside=False)
    kept.folder.mkdir()

    def ask(_parent: Any, _title: str, name: str, _kinds: str) -> tuple[str, str]:
        kept.asked.append(Path(name))
        return ("" if kept.put_aside else str(kept.folder / Path(name).name)), ""

    def look(url: QUrl) -> bool:
        kept.opened.append(Path(url.toLocalFile()))
        return True

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    monkeypatch.setattr(QDesktopServices, "openUrl", look)
    return kept


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, herd: Herd, saved: SimpleNamespace) -> Iterator[Keeper]:
    """Return a keeper before the list of papers."""
    keeper = Keeper(qtbot, qapp, herd, first="today")
    keeper.desk.outlets = Outlets(program._export, program._paper)
    keeper.window.go("papers")
    keeper.page.setFocus()
    keeper.calm()
    yield keeper
    keeper.close()


def choose(keeper: Keeper, key: str) -> list[dict[str, str]]:
    """Choose a paper; return its rows as they are written, by columns."""
    keeper.page.open(key)
    keeper.calm()
    model = keeper.page.preview.model
    found: list[Any] = []
    model.collect([(0, model.rowCount() - 1)], found.extend)
    keeper.wait(lambda: len(found) == model.rowCount())
    return [{column.key: column.full_text(row) for column in model.columns} for row in found]


def text_of(path: Path) -> str:
    """Return the text of a PDF."""
    document = pypdfium2.PdfDocument(path)
    try:
        return "\n".join(document[n].get_textpage().get_text_range() for n in range(len(document)))
    finally:
        document.close()


def test_the_due_list(keeper: Keeper) -> None:
    """The first paper: bull in 1 June, 283 days, first due 11 March; one bull stands without a chance."""
    rows = choose(keeper, "due")
    eden = next(row for row in rows if row["tag"].startswith("12 Eden"))
    assert eden["first_due"] == "Wed 11 Mar"
    assert eden["sires"] == "B1 Cheviot"
    assert eden["tag"] == "12 Eden take care: quick with a calf"
    assert eden["room"] == ""


def test_the_herd_list(keeper: Keeper) -> None:
    """Everybody who is here, by tag."""
    assert [row["tag"].split()[0] for row in choose(keeper, "herd")] == ["7", "12", "25/1", "26/1", "B1"]


def test_the_bull_groups(keeper: Keeper) -> None:
    """Only what is under way or ahead, a line a female; runs that are over are history."""
    (row,) = choose(keeper, "groups")
    assert row["bulls"] == "B1 Cheviot in"
    assert row["tag"] == "7 Lune"
    assert row["last"] == "1 Jul 2026"


def test_a_bull_alone_stands_in_the_groups(keeper: Keeper) -> None:
    """A bull that goes in before his females has a line."""
    keeper.herd.add("B2", "M", date(2022, 3, 1))
    keeper.herd.do(TurnIn(bulls=(keeper.herd.id["B2"],), females=(), day=date(2026, 6, 1)))
    keeper.calm()
    rows = choose(keeper, "groups")
    assert [(row["bulls"], row["tag"]) for row in rows] == [("B1 Cheviot in", "7 Lune"), ("B2 ahead", "")]


def test_the_medicine_book_and_what_runs(keeper: Keeper) -> None:
    """28 days from 25 February: clear on 26 March; what is over stands in the book only."""
    assert [row["product"] for row in choose(keeper, "medicine")] == ["penicillin", "old drench"]
    (row,) = choose(keeper, "running")
    assert row["clear_on"] == "26 Mar 2026"
    assert row["tag"] == "7 Lune take care: goes for dogs"
    keeper.herd.do(Leave(keeper.herd.id["7"], ON, departure_kind="sold"))
    keeper.wait(lambda: keeper.page.preview.model.rowCount() == 0)
    assert next(row for row in choose(keeper, "medicine") if row["batch"] == "B7")["tag"] == "7 Lune left"


def test_the_butcher_list_and_the_culls(keeper: Keeper) -> None:
    """The tables of the Butcher page, without what cannot be printed."""
    keeper.page.open("butcher")
    assert "months" not in [column.key for column in keeper.page.preview.model.columns]
    assert not keeper.page.preview.panel.table.isColumnHidden(5)
    assert isinstance(choose(keeper, "culls"), list)


def test_the_bloodlines(keeper: Keeper) -> None:
    """Lune and Cheviot each with half of a calf; Eden's calf is a bull calf, so she stands alone."""
    rows = {row["who"]: row for row in choose(keeper, "bloodlines")}
    assert set(rows) == {"B1 Cheviot", "7 Lune", "12 Eden"}
    assert rows["7 Lune"]["of_herd"] == rows["B1 Cheviot"]["of_herd"] == "30.0 %"
    assert rows["12 Eden"]["alone"] == "itself"


def test_enter_prints_and_opens(keeper: Keeper, saved: SimpleNamespace) -> None:
    """Choose, Enter: asked for a file, written, said where, opened."""
    keeper.press(K.Key_Down)
    keeper.press(K.Key_Up)
    keeper.press(K.Key_Return)
    keeper.wait(lambda: saved.opened != [])
    path = saved.folder / "Due list 2026-03-03.pdf"
    assert saved.opened == [path]
    text = text_of(path)
    assert "Due list" in text
    assert "12 Eden" in text
    assert "quick with a calf" in text
    assert "with room to write" in text
    assert "as of 2026-03-03" in text
    assert f"Written to {path}" in keeper.told
    assert keeper.desk.memory["papers/folder"] == str(saved.folder)


def test_what_is_filtered_and_ordered_is_what_is_printed(keeper: Keeper, saved: SimpleNamespace) -> None:
    """Right goes into the paper; what is typed there filters it; P prints what is left."""
    keeper.page.open("herd")
    keeper.calm()
    keeper.press(K.Key_Right)
    keeper.wait(keeper.page.preview.panel.table.hasFocus)
    keeper.type("b1")
    keeper.wait(lambda: keeper.page.preview.model.rowCount() == 1)
    keeper.press(K.Key_Down)
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened != [])
    text = text_of(saved.opened[0])
    assert "Cheviot" in text
    assert "Lune" not in text


def test_a_sheet(keeper: Keeper, saved: SimpleNamespace) -> None:
    """E writes the same rows for a spreadsheet."""
    keeper.press(K.Key_E)
    keeper.wait(lambda: any("Written" in told for told in keeper.told))
    assert (saved.folder / "Due list 2026-03-03.xlsx").stat().st_size > 0
    assert saved.opened == []


def test_putting_the_question_aside_writes_nothing(keeper: Keeper, saved: SimpleNamespace) -> None:
    """No file chosen, no file written."""
    saved.put_aside = True
    keeper.press(K.Key_P)
    keeper.calm()
    assert saved.asked[0].name == "Due list 2026-03-03.pdf"
    assert list(saved.folder.iterdir()) == []


def test_what_changes_is_read_anew(keeper: Keeper) -> None:
    """A paper in view follows the book; one out of view is read when it is chosen."""
    before = len(choose(keeper, "herd"))
    choose(keeper, "due")
    keeper.herd.add("99", "F", date(2024, 3, 1))
    keeper.wait(lambda: keeper.page._previews["herd"].stale)
    assert len(choose(keeper, "herd")) == before + 1


def test_letter_by_the_settings(keeper: Keeper) -> None:
    """The page says which paper it prints on."""
    keeper.desk.settings = SimpleNamespace(paper="Letter")
    keeper.page.refresh()
    assert "Letter" in keeper.page.detail.text()


def test_an_empty_book(qtbot: QtBot, qapp: QApplication, tmp_path: Path, saved: SimpleNamespace) -> None:
    """Each paper says what is missing and where to go, with one button; an empty paper can be printed."""
    keeper = Keeper(qtbot, qapp, Herd(Book.create(tmp_path / "e.herdbook", who="keeper"), ON), first="papers")
    keeper.desk.outlets = Outlets(program._export, program._paper)
    for paper in all_papers():
        assert choose(keeper, paper.key) == []
        assert keeper.page.preview.panel.empty_button.isVisible()
    keeper.page.setFocus()
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened != [])
    assert "Nothing to list." in text_of(saved.opened[0])
    keeper.close()


def test_enter_in_a_paper_opens_the_animal(keeper: Keeper) -> None:
    """A row leads to the card."""
    went: list[Any] = []
    keeper.desk.went.connect(lambda page, what: went.append((page, what)))
    keeper.press(K.Key_Right)
    keeper.press(K.Key_Return)
    assert went == [("register", {"animal": keeper.herd.id["12"]})]
    keeper.calm()


def test_the_barn_sheet_is_printed_as_it_stands(keeper: Keeper, saved: SimpleNamespace) -> None:
    """The watch list of the night in its own order, with room to write."""
    keeper.herd.do(SeeSign(keeper.herd.id["12"], ON, code="water", at="22:40"))
    rows = choose(keeper, "barn")
    assert rows[0]["tag"].startswith("12")
    keeper.page.setFocus()
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened != [])
    text = text_of(saved.opened[0])
    assert "Barn sheet, night of" in text
    assert "never pulled" in text
