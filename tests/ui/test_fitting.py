"""Room: columns that share it or wait, lines of entries that go on below, words beside a title that fit."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.cells import Cells
from herdbook.ui.page import NARROW, Page
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.fitting import MOST_GROWTH, Wish, fit
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from tests.ui.clipped import clipped
from tests.ui.conftest import show

WISHES = st.builds(
    lambda least, more, gives: Wish(least + more, least, gives),
    st.integers(20, 200),
    st.integers(0, 200),
    st.integers(0, 3),
)

# ---------------------------------------------------------------- the rule


def test_columns_keep_their_widths_where_there_is_room() -> None:
    assert fit([Wish(100, 100), Wish(50, 50, given=True)], 150) == [100, 50]


def test_columns_grow_a_little_and_the_last_takes_the_rest() -> None:
    assert fit([Wish(100, 100), Wish(100, 100)], 1000) == [int(100 * MOST_GROWTH)] * 2


def test_figures_at_the_end_are_not_left_far_off() -> None:
    """All columns share the room then, but for one that the keeper gave a width of its own."""
    assert fit([Wish(100, 100), Wish(50, 50, given=True), Wish(100, 100)], 450, spread=True) == [200, 50, 200]


def test_columns_narrow_before_one_gives_way() -> None:
    assert fit([Wish(100, 60), Wish(100, 60)], 160) == [80, 80]


def test_the_column_that_matters_least_gives_way_first() -> None:
    wishes = [Wish(100, 100), Wish(100, 100, 1), Wish(100, 100, 2), Wish(100, 100, 1), Wish(100, 100, 0)]
    assert fit(wishes, 420) == [105, 105, 0, 105, 105]
    assert fit(wishes, 320)[1:4] == [106, 0, 0]
    assert fit(wishes, 220)[1:4] == [0, 0, 0]


@given(st.lists(WISHES, min_size=1, max_size=12), st.integers(120, 2000))
def test_no_table_is_wider_than_its_room(wishes: list[Wish], room: int) -> None:
    """The first column and those that never give way are always there, and nothing is scrolled to."""
    widths = fit(wishes, room)
    assert sum(widths) <= room
    assert widths[0] > 0
    assert all(width > 0 for width, wish in zip(widths, wishes, strict=True) if wish.gives == 0)


# ---------------------------------------------------------------- a table


@dataclass(frozen=True)
class Line:
    """A row."""

    tag: str
    what: str
    note: str = "a note"


COLUMNS = (
    Column("tag", "tag", width=8),
    Column("what", "what", width=50, least=20, gives=0, wraps=True),
    Column("note", "note", width=12),
)
LINES = (Line("412", "calved"), Line("388", "looked at, since she has been restless from the morning on"))


@pytest.fixture
def panel(qtbot: QtBot, desk: Desk) -> TablePanel:
    """Return a table of which one column can have two lines."""
    made = TablePanel(desk, SimpleTable(COLUMNS, key=lambda line: line.tag), "lines", "Lines")
    qtbot.addWidget(made)
    made.resize(theme.characters(110), 300)
    show(qtbot, made)
    made.model.set_rows(LINES)
    return made


def _narrow(qtbot: QtBot, panel: TablePanel, figures: float) -> None:
    panel.resize(theme.characters(figures), 300)
    qtbot.waitUntil(lambda: panel.table.viewport().width() < theme.characters(figures))


def test_a_column_without_room_waits_and_comes_back(qtbot: QtBot, panel: TablePanel) -> None:
    assert panel.table.waiting() == []
    _narrow(qtbot, panel, 42)
    assert panel.table.waiting() == ["note"]
    qtbot.waitUntil(lambda: panel.table.horizontalScrollBar().maximum() == 0)
    assert "1 column hidden" in panel.count.text()
    assert "note" in panel.count.toolTip()
    panel.resize(theme.characters(110), 300)
    qtbot.waitUntil(lambda: panel.table.waiting() == [])
    assert panel.count.text() == "2 rows"


def test_what_waits_still_goes_out_with_the_table(qtbot: QtBot, panel: TablePanel) -> None:
    """A copy or a paper has every column that is wanted; only one put away is left out."""
    _narrow(qtbot, panel, 42)
    assert panel.table.as_text(LINES).headings == ("tag", "what", "note")
    panel.table.want("note", False)
    assert panel.table.as_text(LINES).headings == ("tag", "what")
    assert panel.table.waiting() == []


def test_the_menu_tells_what_waits(qtbot: QtBot, panel: TablePanel) -> None:
    """It stays ticked, with the reason why it is not seen."""
    _narrow(qtbot, panel, 42)
    menu = panel.table.menu()
    columns = menu.actions()[-1].menu()
    words = {action.text(): action.isChecked() for action in columns.actions()}
    assert words == {"tag": True, "what": True, "note (no room in this window)": True}


def test_room_that_was_short_is_not_remembered(qtbot: QtBot, desk: Desk, panel: TablePanel) -> None:
    """A narrow window leaves the keeper's columns and widths as they were."""
    panel.table.setColumnWidth(0, 90)
    _narrow(qtbot, panel, 42)
    qtbot.waitUntil(lambda: "table/lines" in desk.memory)
    kept = {key: (width, hidden) for key, width, hidden in desk.memory["table/lines"]["columns"]}
    assert kept == {"tag": (90, False), "what": (0, False), "note": (0, False)}


def test_words_that_are_too_long_get_a_second_line(qtbot: QtBot, panel: TablePanel) -> None:
    rows = panel.table.verticalHeader()
    assert rows.sectionSize(0) == theme.row_height()
    _narrow(qtbot, panel, 42)
    assert rows.sectionSize(0) > theme.row_height()
    panel.model.set_rows(LINES[:1])
    assert rows.sectionSize(0) == theme.row_height()


# ---------------------------------------------------------------- lines of entries


def _cells(qtbot: QtBot) -> tuple[QWidget, Cells, list[QLineEdit]]:
    whole = QWidget()
    column = QVBoxLayout(whole)
    column.setContentsMargins(0, 0, 0, 0)
    cells = Cells()
    column.addLayout(cells)
    column.addStretch(1)
    entries = []
    for place in range(4):
        cells.put(QLabel(f"Heading {place}"), place)
        for row in range(2):
            entry = QLineEdit()
            entry.setFixedWidth(120)
            cells.put(entry, place, row)
            entries.append(entry)
    qtbot.addWidget(whole)
    whole.resize(700, 300)
    show(qtbot, whole)
    return whole, cells, entries


def test_cells_stand_in_columns_that_go_on_below(qtbot: QtBot) -> None:
    whole, cells, entries = _cells(qtbot)
    assert len({entry.x() for entry in entries}) == 4
    assert len({entry.y() for entry in entries}) == 2
    assert cells.heightForWidth(300) > cells.heightForWidth(700)
    whole.resize(300, 300)
    qtbot.waitUntil(lambda: len({entry.y() for entry in entries}) == 4)
    assert clipped(whole) == []
    first, second = entries[0], entries[1]
    assert first.x() == second.x(), "a column keeps together"
    assert first.y() < second.y()


def test_a_cell_that_is_taken_out_takes_no_room(qtbot: QtBot) -> None:
    whole, cells, entries = _cells(qtbot)
    wide = cells.sizeHint().width()
    for gone in entries[6:8]:
        cells.removeWidget(gone)
        gone.deleteLater()
    assert cells.sizeHint().width() < wide
    assert whole.isVisible()


# ---------------------------------------------------------------- a page


class WhyPage(Page):
    """A page with a side card that gives way."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.card = QLabel("why")
        self.main.addWidget(QLineEdit())
        self.set_side(self.card, gives_way=True, words="Why (W)", key="W")


@pytest.fixture
def page(qtbot: QtBot, desk: Desk) -> WhyPage:
    """Return the page, wide."""
    made = WhyPage(desk)
    qtbot.addWidget(made)
    made.resize(theme.characters(NARROW + 5), 400)
    show(qtbot, made)
    return made


def test_the_side_card_gives_way_and_comes_when_asked(qtbot: QtBot, page: WhyPage) -> None:
    assert page.card.isVisible()
    assert not page.side_button.isVisible()
    page.resize(theme.characters(NARROW - 5), 400)
    qtbot.waitUntil(lambda: not page.card.isVisible())
    qtbot.keyClicks(page, "w")
    assert page.card.isVisible()
    page.side_button.click()
    assert not page.card.isVisible()
    page.want_side(False)
    assert not page.side_button.isVisible(), "where there is nothing to say, nothing offers to"


def test_words_beside_the_title_that_have_no_room_stand_in_the_tip(qtbot: QtBot, page: WhyPage) -> None:
    whole = "as of Tue 3 Mar · 14 to come · 2 close up · gestation 283 days"
    page.set_detail(whole)
    qtbot.waitUntil(lambda: page.detail.text() == whole)
    page.resize(theme.characters(40), 400)
    qtbot.waitUntil(lambda: page.detail.text() != whole)
    assert whole.startswith(page.detail.text())
    assert not page.detail.text().endswith("·")
    assert page.detail.toolTip() == page.detail.accessibleName() == whole
