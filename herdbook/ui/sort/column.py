"""One column of the sort: a heading with what it holds, and the list of females that can be moved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.sort.drawn import RISK_SIGN
from herdbook.ui.sort.lines import FEMALE, ColumnList, Row, Rows
from herdbook.ui.tables.columns import Mark
from herdbook.words import say

__all__ = ["FEMALE", "RISK_SIGN", "Column", "ColumnList", "ColumnView", "Place", "Row", "Rows"]

Place = tuple[str, int | None]
"""Where a female can stand: ("bull", his key), or ("not_bred" | "finishing" | "sell", None)."""


def _no_lines() -> tuple[Mark, ...]:
    return ()


@dataclass(frozen=True, eq=False)
class Column:
    """What a column shows.

    Parameters
    ----------
    place : Place
    titles : tuple of str
        Its heading, and shorter ones for where there is no room.
    key_hint : str
        The key that moves a female here.
    filled, of : int
        How many are here of how many it may hold; `of` is 0 where there is no such number.
    rows : Rows
    notes : tuple of str
        What is to be minded of its bulls: a sign before the title, and said in the tip.
    tell : callable
        Returns what stands below the title, each line in its tone; asked once, when it comes into view.
    source : tuple
        What it was made of: a column of the same need not be shown anew.
    """

    place: Place
    titles: tuple[str, ...]
    key_hint: str = ""
    filled: int = 0
    of: int = 0
    rows: Rows = field(default_factory=Rows)
    notes: tuple[str, ...] = ()
    tell: Callable[[], tuple[Mark, ...]] = _no_lines
    source: tuple[object, ...] = ()

    @cached_property
    def lines(self) -> tuple[Mark, ...]:
        """What stands below the title."""
        return self.tell()

    def same_as(self, other: Column | None) -> bool:
        """Return whether `other` shows the very same."""
        if other is None or self.place != other.place or len(self.source) != len(other.source):
            return False
        pairs = zip(self.source, other.source, strict=True)
        return bool(self.source) and all(one is two or _alike(one, two) for one, two in pairs)


def _alike(one: object, other: object) -> bool:
    """Return whether two lists are of the same objects; other things are compared by what they are."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(a is b for a, b in zip(one, other, strict=True))
    return isinstance(one, str | int | None) and one == other


class Fitted(QLabel):
    """One line of words: the longest way of saying it for which there is room."""

    def __init__(self, strong: bool = False) -> None:
        super().__init__()
        self.said: tuple[str, ...] = ("",)
        if strong:
            self.setFont(theme.strong_font())
        self.setMinimumHeight(self.fontMetrics().lineSpacing())

    def tell(self, *ways: str) -> None:
        """Say one of these, the longest first."""
        if ways != self.said:
            self.said = ways
            self._fit()

    def minimumSizeHint(self) -> QSize:
        """Ask for no width: it says what it can."""
        return QSize(0, self.fontMetrics().lineSpacing())

    def sizeHint(self) -> QSize:
        """Ask for no width here either, so that a column's width does not hang on its title."""
        return self.minimumSizeHint()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Say it for the new width."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        metrics, room = self.fontMetrics(), self.contentsRect().width()
        fits = (way for way in self.said if metrics.horizontalAdvance(way) <= room)
        short = metrics.elidedText(self.said[-1], Qt.TextElideMode.ElideRight, max(room, 0))
        shown = next(fits, short)
        if shown != self.text():
            self.setText(shown)
        self.setToolTip("" if shown == self.said[0] else self.said[0])


class Filling(QWidget):
    """A thin bar: how full a bull's group is; beyond his number it turns clay (the words say so too)."""

    def __init__(self) -> None:
        super().__init__()
        self.filled, self.of = 0, 0
        self.setFixedHeight(theme.STEP)

    def show_filled(self, filled: int, of: int) -> None:
        """Show so many of so many."""
        self.filled, self.of = filled, of
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bar over its ground."""
        look, painter = theme.colours(), QPainter(self)
        painter.fillRect(self.rect(), look.line)
        if self.of:
            share = min(1.0, self.filled / self.of)
            tone = "act" if self.filled > self.of else "go"
            painter.fillRect(0, 0, round(self.width() * share), self.height(), look.tone(tone))
        painter.end()


class ColumnView(QWidget):
    """A heading over its list; it may show one column now and another later."""

    def __init__(self) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP // 2)
        self.sign = theme.strong_label("!")
        theme.role(self.sign, "soon")
        self.sign.hide()
        self.title = Fitted(strong=True)
        self.hint = theme.quiet_label()
        self.hint.setWordWrap(False)
        head = QHBoxLayout()
        head.setContentsMargins(2 * theme.STEP, 0, 2 * theme.STEP, 0)
        head.setSpacing(theme.STEP)
        head.addWidget(self.sign)
        head.addWidget(self.title, 1)
        head.addWidget(self.hint)
        column.addLayout(head)
        self._below = QVBoxLayout()
        self._below.setContentsMargins(2 * theme.STEP, 0, 2 * theme.STEP, 0)
        self._below.setSpacing(theme.STEP // 2)
        column.addLayout(self._below)
        self._lines: list[Fitted] = []
        self.filling = Filling()
        column.addWidget(self.filling)
        self.list = ColumnList()
        column.addWidget(self.list, 1)
        self.shown: Column | None = None
        self._room = 0

    @property
    def place(self) -> Place:
        """Where this is."""
        assert self.shown is not None
        return self.shown.place

    def show_column(self, column: Column, lines: int = 2) -> bool:
        """Show a column, with room for so many lines below its title; return whether there was need to."""
        before, self.shown = self.shown, column
        if column.same_as(before) and lines == self._room:
            self.shown = before
            return False
        if not column.same_as(before):
            self.list.lines.set_rows(column.rows)
        self._room = lines
        self.title.tell(*column.titles)
        self.hint.setText(f"[{column.key_hint}]" if column.key_hint else "")
        self._show_lines(column.lines[:lines], lines)
        self.filling.setVisible(bool(column.of))
        self.filling.show_filled(column.filled, column.of)
        self.sign.setVisible(bool(column.notes))
        said = (column.titles[0], *(text for _, text in column.lines), *column.notes)
        self.setToolTip("\n".join(said))
        self.list.setAccessibleName(", ".join(said))
        self.list.setAccessibleDescription(
            say("Ctrl+Left and Ctrl+Right move the female; M says where to, K keeps her here, X parts them.")
        )
        return True

    def _show_lines(self, words: Sequence[Mark], room: int) -> None:
        while len(self._lines) < room:
            self._lines.append(Fitted())
            self._below.addWidget(self._lines[-1])
        for place, line in enumerate(self._lines):
            tone, text = words[place] if place < len(words) else ("quiet", "")
            line.setVisible(place < room)
            theme.role(line, tone)
            line.tell(text)
