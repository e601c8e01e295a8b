"""The papers of a season: chosen, looked over and printed from the Papers page; printed from a sort."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.app import program
from herdbook.services.book import Book
from herdbook.services.queries.plans import accept_command, keep_command
from herdbook.ui.desk import Outlets
from herdbook.ui.papers.season import print_season_plan, print_sort_sheets, season_papers
from tests.papers.reading import pages
from tests.services.conftest import Herd
from tests.services.season_herd import ON, ask_of, result_of, sorted_herd
from tests.ui.real_book import Keeper

K = Qt.Key


@pytest.fixture
def herd(tmp_path: Path) -> Herd:
    return sorted_herd(Herd(Book.create(tmp_path / "herd.herdbook", who="keeper")))


@pytest.fixture
def saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Answer every question for a file with one in a folder, and keep what was opened."""
    kept = SimpleNamespace(folder=tmp_path / "out", opened=[], put_aside=False)
    kept.folder.mkdir()

    def ask(_parent: Any, _title: str, name: str, _kinds: str) -> tuple[str, str]:
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
    return [{column.key: column.full_text(row) for column in model.columns} for row in model.rows]


def printed(keeper: Keeper, saved: SimpleNamespace) -> str:
    """Press P and return what was written and opened."""
    saved.opened.clear()
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened != [])
    return " ".join(pages(saved.opened[0]))


def accept(herd: Herd) -> None:
    herd.do(accept_command(result_of(herd), ON, "Summer", ask=ask_of(herd)))


def test_the_sheets_of_the_accepted_season(keeper: Keeper, saved: SimpleNamespace) -> None:
    """The table has every female of the plan once; P prints the sheets."""
    accept(keeper.herd)
    keeper.calm()
    rows = choose(keeper, "sort_sheets")
    assert [row["tag"] for row in rows] == [
        "Eden take care: kicks",
        "Lune",
        "Kent",
        "Wharfe",
        "Nith",
        "Tamar",
    ]
    assert rows[0] == {
        "sheet": "With Cheviot + Fell",
        "tag": "Eden take care: kicks",
        "class_": "heifer",
        "electronic": "982000123456789",
        "came": "Top field",
        "note": "by hand: quiet with him",
    }
    assert keeper.page.preview.plan.currentText() == "Summer, version 1: accepted"
    text = printed(keeper, saved)
    assert saved.opened == [saved.folder / "Sort sheets 2026-05-01.pdf"]
    assert "accepted 2026-05-01" in text
    assert "1 of 2 Eden" in text
    assert "Not accepted" not in text


def test_the_plan_of_the_accepted_season(keeper: Keeper, saved: SimpleNamespace) -> None:
    """A line for each group with its days; P prints the plan, on the paper of the settings."""
    accept(keeper.herd)
    keeper.calm()
    two, ochil = choose(keeper, "season_plan")
    assert (two["bulls"], two["first"], two["last"], two["females"]) == (
        "Cheviot + Fell", "1 Jun 2026", "2 Aug 2026", "2",
    )  # fmt: skip
    assert (two["mean"], two["due"], two["due_to"]) == ("not known", "11 Mar 2027", "12 May 2027")
    assert ochil["check_from"] == "6 Sep 2026"
    keeper.desk.settings = SimpleNamespace(paper="Letter", herd_words="Hollowgale, GB")
    text = printed(keeper, saved)
    assert "Hollowgale, GB · Season plan: Summer, version 1 · accepted 2026-05-01" in text
    assert "of 3 females calve" in text


def test_a_draft_is_offered_after_the_accepted_plan(keeper: Keeper, saved: SimpleNamespace) -> None:
    """Chosen by keys, and printed as what it is."""
    herd = keeper.herd
    herd.do(keep_command(result_of(herd), "Other", ask=ask_of(herd)))
    accept(herd)
    keeper.calm()
    choose(keeper, "sort_sheets")
    preview = keeper.page.preview
    assert [preview.plan.itemText(n) for n in range(preview.plan.count())] == [
        "Summer, version 1: accepted", "Other, version 1: draft",
    ]  # fmt: skip
    preview.plan.setFocus()
    keeper.press(K.Key_Down)
    keeper.calm()
    assert preview.plan.currentText() == "Other, version 1: draft"
    keeper.page.setFocus()
    assert "not accepted" in printed(keeper, saved)


def test_in_the_order_of_where_they_come_from(keeper: Keeper, saved: SimpleNamespace) -> None:
    """The order that was chosen is read, shown and printed; a season's plan has none."""
    accept(keeper.herd)
    keeper.calm()
    choose(keeper, "sort_sheets")
    preview = keeper.page.preview
    assert preview.order.isVisible()
    preview.order.setFocus()
    keeper.press(K.Key_Down)
    keeper.calm()
    assert preview.order.currentData() == "from"
    assert len(preview.model.rows) == 6
    choose(keeper, "season_plan")
    assert not keeper.page.preview.order.isVisible()


def test_a_sheet_for_a_spreadsheet(keeper: Keeper, saved: SimpleNamespace) -> None:
    """E writes the table, with the electronic numbers."""
    accept(keeper.herd)
    keeper.calm()
    choose(keeper, "sort_sheets")
    keeper.press(K.Key_E)
    keeper.wait(lambda: any("Written" in told for told in keeper.told))
    assert (saved.folder / "Sort sheets 2026-05-01.xlsx").stat().st_size > 0


def test_without_a_plan_it_says_what_to_do_first(keeper: Keeper, saved: SimpleNamespace) -> None:
    """One button leads to the sort; printing says so too, and writes nothing."""
    for paper in season_papers():
        assert choose(keeper, paper.key) == []
        preview = keeper.page.preview
        assert preview.panel.empty_button.isVisible()
        assert not preview.line.isVisible()
        keeper.press(K.Key_P)
        keeper.calm()
        assert keeper.told[-1] == paper.empty
    assert list(saved.folder.iterdir()) == []


def test_what_is_undone_is_gone_from_the_papers(keeper: Keeper) -> None:
    """The page follows the book."""
    accept(keeper.herd)
    keeper.calm()
    assert len(choose(keeper, "sort_sheets")) == 6
    keeper.herd.book.undo()
    keeper.wait(lambda: keeper.page.preview.model.rowCount() == 0)


def test_printing_a_sort_as_it_stands(keeper: Keeper, saved: SimpleNamespace) -> None:
    """From the Sort page, before anything is kept."""
    result = result_of(keeper.herd)
    for write, name, words in (
        (print_sort_sheets, "Sort sheets", "1 of 2 Eden"),
        (print_season_plan, "Season plan", "of 3 females calve"),
    ):
        saved.opened.clear()
        write(keeper.desk, result)
        keeper.wait(lambda: saved.opened != [])
        assert saved.opened == [saved.folder / f"{name} 2026-05-01.pdf"]
        text = " ".join(pages(saved.opened[0]))
        assert "Season 2026 · not accepted" in text
        assert words in text
        assert f"Written to {saved.opened[0]}" in keeper.told


def test_putting_the_question_aside_writes_nothing(keeper: Keeper, saved: SimpleNamespace) -> None:
    saved.put_aside = True
    print_sort_sheets(keeper.desk, result_of(keeper.herd), keeper.page)
    keeper.calm()
    assert list(saved.folder.iterdir()) == []
