"""Tables: order, filter, copy, memory, and 100,000 rows."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from herdbook.ui.desk import Desk, Outlets
from herdbook.ui.tables.columns import Column, TableText, number
from herdbook.ui.tables.paged import PAGE, PagedTable
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tables.view import HerdTable
from tests.ui.conftest import show

Quiet = Callable[[], None]


@dataclass(frozen=True)
class Cow:
    """A row."""

    key: int
    tag: str
    name: str
    kg: float | None


def due(cow: Cow) -> tuple[str, str] | None:
    """Mark one cow."""
    return ("soon", "close up") if cow.name == "Eden" else None


COLUMNS = (
    Column("tag", "tag", width=6),
    Column("name", "name", mark=due),
    Column("kg", "kg", show=number(), figures=True),
)
COWS = (Cow(1, "412", "Eden", 512.0), Cow(2, "388", "Lowther", None), Cow(3, "401", "Caldew", 640.4))


@pytest.fixture
def simple(qtbot: QtBot, desk: Desk) -> TablePanel:
    """Return a panel over three cows."""
    model = SimpleTable(COLUMNS, key=lambda cow: cow.key)
    panel = TablePanel(desk, model, "cows", "Cows", empty="No cows yet.", act=("Add a cow", lambda: None))
    qtbot.addWidget(panel)
    panel.resize(700, 400)
    show(qtbot, panel)
    model.set_rows(COWS)
    return panel


def names(panel: TablePanel) -> list[str]:
    """Return the names in the order shown."""
    return [panel.model.row_at(place).name for place in range(panel.model.rowCount())]


def test_empty_values_stand_last_both_ways(simple: TablePanel) -> None:
    """A cow without a weight is never the lightest nor the heaviest."""
    simple.model.sort_by("kg")
    assert names(simple) == ["Eden", "Caldew", "Lowther"]
    simple.model.sort_by("kg", descending=True)
    assert names(simple) == ["Caldew", "Eden", "Lowther"]


def test_filter_as_you_type_from_the_table(qtbot: QtBot, simple: TablePanel) -> None:
    """Typing in the table begins the filter; the mark's word is found too; Escape clears."""
    simple.table.setFocus()
    qtbot.keyClicks(simple.table, "c")
    assert simple.filter.hasFocus()
    qtbot.keyClicks(simple.filter, "lose")
    qtbot.waitUntil(lambda: names(simple) == ["Eden"])
    assert simple.count.text() == "1 of 3"
    qtbot.keyClick(simple.filter, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: len(names(simple)) == 3)
    assert simple.table.hasFocus()
    simple.filter.setText("lose")
    qtbot.waitUntil(lambda: len(names(simple)) == 1)
    qtbot.keyClick(simple.table, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: len(names(simple)) == 3)


def test_escape_and_delete_begin_no_filter(qtbot: QtBot, simple: TablePanel) -> None:
    """Keys that write nothing are left to the dialog or page around the table."""
    simple.table.setFocus()
    for key in (Qt.Key.Key_Escape, Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
        qtbot.keyClick(simple.table, key)
    assert simple.table.hasFocus()
    assert simple.filter.text() == ""


def test_copy_is_tabbed_with_headings(qtbot: QtBot, simple: TablePanel) -> None:
    """Ctrl+C puts the chosen rows on the clipboard, marks in words."""
    simple.table.selectAll()
    qtbot.keyClick(simple.table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    text = QGuiApplication.clipboard().text()
    assert text == "tag\tname\tkg\n412\tEden close up\t512\n388\tLowther\t\n401\tCaldew\t640\n"


def test_chosen_row_stays_chosen_after_reload(simple: TablePanel) -> None:
    """A reload in another order keeps the cow, not the place."""
    simple.table.choose(3)
    simple.model.set_rows(COWS[::-1])
    assert simple.table.row().name == "Caldew"


def test_tab_leaves_the_table(qtbot: QtBot, desk: Desk) -> None:
    """Tab goes on to what comes after."""
    whole = QWidget()
    qtbot.addWidget(whole)
    model = SimpleTable(COLUMNS)
    table, after = HerdTable(desk, model, "cows", "Cows"), QLineEdit()
    column = QVBoxLayout(whole)
    column.addWidget(table)
    column.addWidget(after)
    show(qtbot, whole)
    model.set_rows(COWS)
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_Tab)
    assert after.hasFocus()


def test_columns_and_order_are_remembered(qtbot: QtBot, desk: Desk) -> None:
    """Width, place, hiding and sort come back under the same key; a column that is gone is passed over."""
    first = HerdTable(desk, SimpleTable(COLUMNS), "cows", "Cows")
    qtbot.addWidget(first)
    first.horizontalHeader().moveSection(2, 0)
    first.setColumnWidth(2, 60)
    first.setColumnWidth(0, 133)
    first._show_or_hide(1)
    first._sort_or_turn(2)
    first._sort_or_turn(2)
    qtbot.waitUntil(lambda: "table/cows" in desk.memory)
    desk.memory["table/cows"]["columns"].append(["gone", 50, False])
    model = SimpleTable(COLUMNS)
    second = HerdTable(desk, model, "cows", "Cows")
    qtbot.addWidget(second)
    assert second.columnWidth(2) == 60
    second._show_or_hide(1)
    assert second.columnWidth(0) == 133, "its own width, not the stretched one"
    second._show_or_hide(1)
    assert second.horizontalHeader().logicalIndex(0) == 2
    assert second.isColumnHidden(1)
    assert (model.sorted_by, model.descending) == ("kg", True)


def test_last_column_stays(qtbot: QtBot, desk: Desk) -> None:
    """The keeper cannot hide every column."""
    table = HerdTable(desk, SimpleTable(COLUMNS), "cows", "Cows")
    qtbot.addWidget(table)
    for place in range(3):
        table._show_or_hide(place)
    assert not table.isColumnHidden(2)


def test_empty_table_says_what_to_do(simple: TablePanel) -> None:
    """No rows: a sentence and one button; no rows by a filter: the table stays."""
    simple.model.set_rows(())
    assert simple.empty_text.isVisible()
    assert simple.empty_button is not None
    assert simple.empty_button.text() == "Add a cow"
    simple.model.set_rows(COWS)
    assert simple.table.isVisible()


def test_export_hands_over_the_whole_table(
    qtbot: QtBot, desk: Desk, simple: TablePanel, quiet: Quiet
) -> None:
    """Exports get headings, texts and values of every row shown, not only of the chosen ones."""
    got: list[tuple[TableText, str]] = []
    desk.outlets = Outlets(export=lambda table, path: got.append((table, path)))
    simple.table.send(desk.outlets.export, "cows.csv")
    qtbot.waitUntil(lambda: bool(got))
    quiet()
    table, path = got[0]
    assert path == "cows.csv"
    assert table.headings == ("tag", "name", "kg")
    assert table.values[0] == ("412", "Eden close up", 512.0)
    assert table.values[1][2] is None
    assert table.figures == (False, False, True)


# -- 100,000 rows ---


class Herd:
    """A hundred thousand cows behind two queries that count what they are asked."""

    def __init__(self) -> None:
        self.fetched = 0

    def keys(self, _conn: Any, *, sort: str, descending: bool, text: str, limit: int | None) -> Sequence[int]:
        """Return keys, as SQL would."""
        assert sort in ("", "tag", "name", "kg")
        keys = [key for key in range(100_000) if text in str(key)]
        if descending:
            keys.reverse()
        return keys[:limit]

    def rows(self, _conn: Any, keys: Sequence[int]) -> Sequence[Cow]:
        """Return rows in the order of the keys."""
        self.fetched += len(keys)
        return [Cow(key, str(key), f"name {key}", 1.0 * key) for key in keys]


@pytest.fixture
def large(qtbot: QtBot, desk: Desk, quiet: Quiet) -> tuple[Herd, TablePanel]:
    """Return a panel over the hundred thousand."""
    herd = Herd()
    model = PagedTable(desk, COLUMNS, herd.keys, herd.rows)
    panel = TablePanel(desk, model, "herd", "Herd")
    qtbot.addWidget(panel)
    panel.resize(700, 500)
    show(qtbot, panel)
    model.reload()
    quiet()
    return herd, panel


def test_first_page_then_count(large: tuple[Herd, TablePanel]) -> None:
    """All rows are counted, one page of them is read."""
    herd, panel = large
    assert panel.model.rowCount() == 100_000
    assert herd.fetched == PAGE
    assert panel.table.row().key == 0


def test_jump_to_the_end_reads_little(large: tuple[Herd, TablePanel], qtbot: QtBot, quiet: Quiet) -> None:
    """Ctrl+End shows the last rows without reading those between."""
    herd, panel = large
    panel.table.scrollToBottom()
    qtbot.waitUntil(lambda: panel.model.row_at(99_999) is not None)
    quiet()
    assert herd.fetched <= 4 * PAGE
    panel.table.choose(99_999)
    assert panel.table.row().key == 99_999


def test_scrolling_past_does_not_read_everything(large: tuple[Herd, TablePanel], quiet: Quiet) -> None:
    """Dragging the bar down the whole herd reads some pages, not a thousand, and forgets the old ones."""
    herd, panel = large
    bar = panel.table.verticalScrollBar()
    for part in range(400):
        bar.setValue(bar.maximum() * part // 400)
        panel.table.viewport().repaint()
    quiet()
    assert herd.fetched < 100 * PAGE


def test_filter_returns_at_once(large: tuple[Herd, TablePanel], qtbot: QtBot) -> None:
    """A keystroke never waits for the herd."""
    _, panel = large
    began = time.perf_counter()
    panel.filter.setText("999")
    took = time.perf_counter() - began
    qtbot.waitUntil(lambda: panel.model.rowCount() == 280)
    assert "999" in panel.model.row_at(0).tag
    assert took < 0.1


def test_choosing_all_uses_ranges(large: tuple[Herd, TablePanel]) -> None:
    """Every row chosen is one range."""
    _, panel = large
    panel.table.selectAll()
    assert panel.table.ranges() == [(0, 99_999)]


def test_copy_of_rows_not_read_yet(large: tuple[Herd, TablePanel], quiet: Quiet) -> None:
    """Copying reads what it needs first."""
    _, panel = large
    panel.table.selectAll()
    panel.table.copy()
    quiet()
    assert QGuiApplication.clipboard().text().count("\n") == 100_001


def test_refresh_keeps_the_place(large: tuple[Herd, TablePanel], qtbot: QtBot, quiet: Quiet) -> None:
    """After a change the chosen row and the scroll stay, and only the pages in view are read."""
    herd, panel = large
    panel.table.choose(50_000)
    qtbot.waitUntil(lambda: panel.model.row_at(50_000) is not None)
    quiet()
    seen, before = panel.table.verticalScrollBar().value(), herd.fetched
    told: list[Any] = []
    panel.table.chosen.connect(told.append)
    panel.model.refresh()
    quiet()
    assert panel.table.row().key == 50_000
    assert panel.table.verticalScrollBar().value() == seen
    assert herd.fetched - before <= 3 * PAGE
    assert [cow.key for cow in told] == [50_000]
