"""What of a window cannot be read: clipped words and buttons, tables to be scrolled sideways, overlaps."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QComboBox,
    QLabel,
    QLineEdit,
    QTabBar,
    QTableView,
    QWidget,
)

from herdbook.ui import theme

Found = Iterator[str]


def clipped(whole: QWidget) -> list[str]:
    """Return what is wrong with what is in view of a page, dialog or window, a line each."""
    found: list[str] = []
    for widget in whole.findChildren(QWidget):
        if widget.isVisible() and not widget.visibleRegion().isEmpty():
            found += _of_one(widget, whole)
    return found


def _of_one(widget: QWidget, whole: QWidget) -> Found:
    if isinstance(widget, QTableView):
        yield from _table(widget)
    elif isinstance(widget, QTabBar):
        yield from _tabs(widget)
    elif isinstance(widget, QAbstractButton | QComboBox | QLineEdit):
        yield from _control(widget, whole)
    elif isinstance(widget, QLabel) and widget.text():
        yield from _label(widget, whole)
    yield from _overlaps(widget)


def _table(table: QTableView) -> Found:
    if table.horizontalScrollBar().maximum() > 0:
        yield f"table {table.accessibleName()!r} is to be scrolled sideways"
    rows = table.verticalHeader()
    if rows.count() and rows.sectionSize(0) < theme.ROW_AT_LEAST:
        yield f"rows of {table.accessibleName()!r} are under {theme.ROW_AT_LEAST} px"
    model, metrics = table.model(), table.fontMetrics()
    for column in range(model.columnCount()):
        words = str(model.headerData(column, table.horizontalHeader().orientation()))
        if table.horizontalHeader().height() > 2 * metrics.lineSpacing():
            words = max(words.split(), key=len)  # the heading has two lines
        room = table.columnWidth(column)
        if not table.isColumnHidden(column) and metrics.horizontalAdvance(words) > room:
            yield f"heading {words!r} of {table.accessibleName()!r} has {room} px"


def _tabs(tabs: QTabBar) -> Found:
    if tabs.count() and tabs.tabRect(tabs.count() - 1).right() > tabs.width():
        yield f"tabs {tabs.accessibleName()!r} are wider than their place"
    for place in range(tabs.count()):
        text = tabs.tabText(place).replace("&", "")
        if tabs.fontMetrics().horizontalAdvance(text) > tabs.tabRect(place).width():
            yield f"tab {text!r} is cut"


def _control(widget: QAbstractButton | QComboBox | QLineEdit, whole: QWidget) -> Found:
    name, hint = _name(widget), widget.sizeHint()
    if isinstance(widget, QLineEdit):
        if widget.fontMetrics().horizontalAdvance(widget.text()) > widget.width() - 4 * theme.STEP:
            yield f"{name} is too narrow for what stands in it"
    elif isinstance(widget, QComboBox):
        if widget.fontMetrics().horizontalAdvance(widget.currentText()) > widget.width() - 9 * theme.STEP:
            yield f"{name} is too narrow for what is chosen"
    elif widget.width() < hint.width():
        yield f"{name} has {widget.width()} of {hint.width()} px"
    if widget.height() < hint.height() - 2:
        yield f"{name} is {widget.height()} of {hint.height()} px high"
    yield from _cut_off(widget, whole)


def _label(label: QLabel, whole: QWidget) -> Found:
    if label.wordWrap():
        if label.height() < label.heightForWidth(label.width()) - 1:
            yield f"{_name(label)} is cut at its foot"
        longest = max(label.text().split(), key=len, default="")
        if label.fontMetrics().horizontalAdvance(longest) > label.width():
            yield f"{_name(label)} is narrower than its longest word"
    elif label.fontMetrics().horizontalAdvance(label.text().replace("&", "")) > label.width():
        yield f"{_name(label)} is cut at its end"
    yield from _cut_off(label, whole)


def _cut_off(widget: QWidget, whole: QWidget) -> Found:
    """Say where a widget reaches beyond what it stands in; what can be scrolled up and down may."""
    around = widget.parentWidget()
    while around is not None and around is not whole:
        box = QRect(widget.mapTo(around, QPoint()), widget.size())
        area = around.parentWidget()
        scrolled = isinstance(area, QAbstractScrollArea) and area.viewport() is around
        if scrolled and area.horizontalScrollBarPolicy() != Qt.ScrollBarPolicy.ScrollBarAlwaysOff:
            return  # the board of bulls: many do not fit beside each other, and it goes where the keys go
        if box.right() > around.width() or box.left() < 0:
            yield f"{_name(widget)} is cut at its side"
            return
        if scrolled:
            return
        if box.bottom() > around.height() or box.top() < 0:
            yield f"{_name(widget)} is cut at its foot or head"
            return
        around = around.parentWidget()


def _overlaps(widget: QWidget) -> Found:
    """Say what lies over what in the layout of a widget."""
    layout = widget.layout()
    if layout is None or layout.metaObject().className() == "QStackedLayout":
        return
    inside = [one for one in widget.children() if isinstance(one, QWidget) and one.isVisible()]
    inside = [one for one in inside if not one.isWindow() and not one.visibleRegion().isEmpty()]
    for number, one in enumerate(inside):
        for other in inside[number + 1 :]:
            if one.geometry().intersects(other.geometry()):
                yield f"{_name(one)} and {_name(other)} lie over each other"


def _name(widget: QWidget) -> str:
    text = getattr(widget, "text", lambda: "")() or widget.accessibleName() or ""
    return f"{type(widget).__name__} {text[:40]!r}"
