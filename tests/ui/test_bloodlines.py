"""The Bloodlines page by keys on a real book: founders, lines, measures, the group, an empty book."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import Leave
from herdbook.ui import theme
from herdbook.ui.bloodlines.plot import YearsPlot
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 3, 3)
K = Qt.Key


def lines(path: Path) -> Herd:
    """Write Cheviot with three calves: by Nith, who is gone, Esk of 2012; of Lune Tees and the steer Tamar.

    Kent is by nobody known out of Lune.
    """
    herd = Herd(Book.create(path, who="keeper"), ON)
    herd.add("B1", "M", date(2009, 3, 1), name="Cheviot")
    herd.add("1", "F", date(2008, 3, 1), name="Nith", here=False)
    herd.add("2", "F", date(2019, 3, 1), name="Lune")
    out_of = {"sire": herd.id["B1"], "dam": herd.id["2"]}
    herd.add("3", "F", date(2012, 4, 1), name="Esk", sire=herd.id["B1"], dam=herd.id["1"])
    herd.add("4", "F", date(2022, 4, 1), name="Tees", **out_of)
    herd.add("5", "M", date(2024, 4, 1), name="Tamar", castrated=True, **out_of)
    herd.add("6", "F", date(2023, 4, 1), name="Kent", dam=herd.id["2"])
    return herd


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the Bloodlines page, with the keys in its table."""
    keeper = Keeper(qtbot, qapp, lines(tmp_path / "herd.herdbook"), first="today")
    keeper.press(K.Key_7, Qt.KeyboardModifier.ControlModifier)
    keeper.page.setFocus()
    keeper.calm()
    yield keeper
    keeper.close()


def rows(keeper: Keeper) -> list[dict[str, str]]:
    """Return the rows of the table in view as they are written, by columns."""
    model = keeper.page.stack.currentWidget().model
    return [{column.key: column.full_text(row) for column in model.columns} for row in model.rows]


def said(keeper: Keeper) -> str:
    """Return all that the side card says."""
    return " ".join(label.text() for label in keeper.page.card.widget().findChildren(QLabel))


def test_founders_with_shares_and_what_hangs(keeper: Keeper) -> None:
    """Of six here: Cheviot 1 + 3/2 of 6, Lune 1 + 3/2 of 6, Nith 1/2 of 6, and 1/2 of 6 from nobody known."""
    assert keeper.page.key == "bloodlines"
    found = {row["who"]: row for row in rows(keeper)}
    assert list(found) == ["B1 Cheviot", "2 Lune", "1 Nith not here"]
    assert [row["of_herd"] for row in found.values()] == ["41.7 %", "41.7 %", "8.3 %"]
    assert [row["carriers"] for row in found.values()] == ["3 of 5", "3 of 5", "1 of 5"]
    assert found["1 Nith not here"]["alone"] == "3 Esk, 13 years"
    assert keeper.page.note.text() == "8.3 % from parents that nobody knows"
    assert "6 animals · mean kinship" in keeper.page.detail.text()
    assert "3 founders, effective 2.4" in keeper.page.detail.text()


def test_the_card_tells_of_the_founder_chosen(keeper: Keeper) -> None:
    """Down to the last: whose genes hang on one old cow, in a sentence, and the source; Enter opens."""
    assert "B1 Cheviot (17 years old)" in said(keeper)
    keeper.press(K.Key_End, Qt.KeyboardModifier.ControlModifier)
    assert "The Nith line hangs on 3 Esk (13 years old) alone." in said(keeper)
    assert "Source: James and McBride 1958" in said(keeper)
    names = [button.text() for button in keeper.page.card.findChildren(QPushButton)]
    assert names == ["Card of 1 Nith", "Card of 3 Esk"]
    keeper.press(K.Key_Return)
    keeper.calm()
    assert keeper.page.key == "register"


def test_lines_by_key(keeper: Keeper) -> None:
    """T: first what hangs on one, then the female lines, then the bull's."""
    keeper.press(K.Key_T)
    told = [
        (row["first"], row["kind"], row["living"], row["animals"], row["through"]) for row in rows(keeper)
    ]
    assert told == [
        ("1 Nith", "genes", "1 animal", "", "3 Esk, 13 years"),
        ("2 Lune", "female line", "3 females", "4", ""),
        ("1 Nith", "female line", "1 female", "1", "3 Esk, 13 years"),
        ("B1 Cheviot", "bull line", "1 bull", "4", "itself, 17 years"),
    ]
    assert "The Nith line hangs on 3 Esk (13 years old) alone." in said(keeper)
    keeper.press(K.Key_End, Qt.KeyboardModifier.ControlModifier)
    assert "From sire to sire" in said(keeper)


def test_measures_by_key(keeper: Keeper) -> None:
    """T twice: every measure with what it was counted from; the card says what it means and its source."""
    keeper.press(K.Key_T, times=2)
    told = {row["label"]: (row["value"], row["counted"]) for row in rows(keeper)}
    assert len(told) == 10
    assert told["Mean inbreeding"] == ("0.0 %", "6 animals; both parents of 3")
    assert told["Effective size, by numbers of parents"] == ("2.0", "sires 1, dams 1; calves 3, years 5")
    assert told["Effective size, by each animal"][0] == "not known"
    assert told["Effective founders"][1] == "3 founders; 8.3 % unknown"
    keeper.press(K.Key_Down, times=2)
    assert "Wright 1931" in said(keeper)
    assert "differ" in said(keeper)
    keeper.press(K.Key_Down, times=2)
    assert "Inbreeding has not risen" in said(keeper)
    keeper.press(K.Key_Down)
    assert "Dams of daughters" in said(keeper)
    keeper.press(K.Key_Down, times=3)
    assert "What the first of them add" in said(keeper)


def test_years_by_key(keeper: Keeper) -> None:
    """T three times: the latest year first; where no parents are known there is no inbreeding to tell."""
    keeper.press(K.Key_T, times=3)
    told = {row["year"]: (row["born"], row["both_known"], row["inbreeding"]) for row in rows(keeper)}
    assert list(told) == ["2024", "2023", "2022", "2019", "2012", "2009", "2008"]
    assert told["2024"] == ("1", "1", "0.0 %")
    assert told["2023"] == ("1", "0", "not known")
    keeper.press(K.Key_Down)
    assert "Born in 2023" in said(keeper)
    assert "not the same as not inbred" in said(keeper)
    keeper.press(K.Key_T)
    assert keeper.page.tabs.currentIndex() == 0


def test_only_those_that_can_be_bred_from(keeper: Keeper) -> None:
    """G: without the steer, five; again, all six."""
    keeper.press(K.Key_G)
    keeper.wait(lambda: "5 animals" in keeper.page.detail.text())
    assert keeper.page.group.text() == "All here (G)"
    keeper.press(K.Key_G)
    keeper.wait(lambda: "6 animals" in keeper.page.detail.text())


def test_a_change_is_seen(keeper: Keeper) -> None:
    """Esk is sold: nobody here carries Nith's genes, so she is no founder of this herd any more."""
    keeper.herd.do(Leave(keeper.herd.id["3"], ON, departure_kind="sold"))
    keeper.wait(lambda: len(rows(keeper)) == 2)
    assert "5 animals" in keeper.page.detail.text()


def test_an_empty_book_says_what_to_do(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    herd = Herd(Book.create(tmp_path / "e.herdbook", who="keeper"), ON)
    keeper = Keeper(qtbot, qapp, herd, first="bloodlines")
    try:
        assert keeper.page.founders.empty_button.isVisible()
        assert not keeper.page.plot.isVisible()
        assert not keeper.page.group.isVisible()
        keeper.page.setFocus()
        keeper.press(K.Key_Return)
        keeper.calm()
        assert keeper.page.key == "register"
    finally:
        keeper.close()


def test_a_narrow_and_low_window_leaves_the_room_to_the_rows(keeper: Keeper) -> None:
    """At half again the size the side card and the drawing give way; Y shows the card."""
    assert keeper.page.plot.isVisible()
    keeper.window.resize(911, 512)
    keeper.wait(lambda: not keeper.page.plot.isVisible())
    assert not keeper.page.card.isVisible()
    keeper.press(K.Key_Y)
    assert keeper.page.card.isVisible()


def test_bars_and_years_are_drawn(keeper: Keeper) -> None:
    """The largest share has the longest bar, equal ones bars as long; the years stand in theme's colours."""
    image = keeper.page.founders.table.viewport().grab().toImage()
    table = keeper.page.founders.table
    place = [column.key for column in table.model().columns].index("bar")
    moss = QColor(theme.LIGHT.moss)
    lengths = []
    for row in range(3):
        box = table.visualRect(table.model().index(row, place))
        inside = range(box.left(), box.right())
        lengths.append(sum(image.pixelColor(x, box.center().y()) == moss for x in inside))
    assert lengths[0] == lengths[1] > 3 * lengths[2] > 0
    assert keeper.page.plot.accessibleDescription() == "from 2008 to 2024; last 0.0 % of 1 born"
    assert colours(keeper.page.plot) >= {theme.LIGHT.moss.lower(), theme.LIGHT.line.lower()}


def colours(plot: YearsPlot) -> set[str]:
    """Return every colour that stands in a picture of the plot."""
    image = plot.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return {image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height())}
