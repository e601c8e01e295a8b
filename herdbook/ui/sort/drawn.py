"""How a female is drawn in a column: a line where there are many, a card where all have room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter

from herdbook.ui import theme
from herdbook.ui.sort.bars import draw_bars
from herdbook.ui.tables.columns import Mark
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.ui.sort.lines import Row

RISK_SIGN = "\N{DOUBLE DAGGER}"
"""Stands before a female whose calf may be affected by a heritable condition."""

BY_HAND_SIGN = "*"

GAP = 2 * theme.STEP
HARDLY = 5  # letters after the tag: the space, three of the name and what stands for the rest
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


def draw_line(painter: QPainter, whole: QRect, row: Row, chosen: bool) -> None:
    """Draw a female as one line: signs, tag and name, class, bars, and her calf's figure at the right."""
    look, metrics = theme.colours(), painter.fontMetrics()
    box = _ground(painter, whole, chosen)
    if row.figure:
        figure = row.figure.removesuffix(" %")
        painter.setPen(look.tone(row.tone))
        painter.drawText(box, RIGHT, figure)
        box.setRight(box.right() - max(metrics.horizontalAdvance(w) for w in (figure, "00.0")) - GAP)
        _draw_bars(painter, box, row)
    _signs(painter, box, row)
    kind, room = row.short if row.figure else "", box.width()
    wide = metrics.horizontalAdvance(kind) + GAP if kind else 0
    if kind == row.kind and metrics.horizontalAdvance(row.label) + wide > room:
        kind, wide = "", 0  # most are cows: what is no cow keeps its word, and her name is cut
    _word(painter, box, ("" if row.animal else "quiet", _label(metrics, row, room - wide)))
    if kind:
        _word(painter, box, ("quiet", kind))
    _words(painter, box, row.marks, whole_words=bool(row.care or row.risk))
    if not row.figure and row.bars is not None and box.width() > _bars_width(metrics, row) + GAP:
        _draw_bars(painter, box, row)


def draw_card(painter: QPainter, whole: QRect, row: Row, chosen: bool) -> None:
    """Draw a female as a card: tag, name and figure above; class, what is to be said and the bars below."""
    look, metrics = theme.colours(), painter.fontMetrics()
    box = _ground(painter, whole, chosen)
    if not row.animal:
        _word(painter, box, ("quiet", row.label))
        return
    painter.setPen(look.tone(row.tone))
    painter.drawText(box, RIGHT, row.figure)
    if row.figure:
        box.setRight(box.right() - max(metrics.horizontalAdvance(w) for w in (row.figure, "0.00 %")) - GAP)
    _draw_bars(painter, box, row)
    high = metrics.lineSpacing() + theme.STEP
    over = QRect(box.left(), box.top() + theme.STEP, box.width(), high)
    under = QRect(box.left(), over.bottom() + 1, box.width(), high)
    _signs(painter, over, row)
    _word(painter, over, ("", metrics.elidedText(row.label, Qt.TextElideMode.ElideRight, over.width())))
    _words(painter, under, (("quiet", row.kind), *row.marks))


def _label(metrics: QFontMetrics, row: Row, room: int) -> str:
    """Return tag and name; a name of which hardly a letter would stand is left out."""
    shown = metrics.elidedText(row.label, Qt.TextElideMode.ElideRight, room)
    hardly = shown != row.label and row.tag and len(shown) < len(row.tag) + HARDLY
    return metrics.elidedText(row.tag, Qt.TextElideMode.ElideRight, room) if hardly else shown


def _ground(painter: QPainter, whole: QRect, chosen: bool) -> QRect:
    """Draw the ground and the rule below; return what is left for the words."""
    look, box = theme.colours(), QRect(whole)
    if chosen:
        painter.fillRect(box, QColor(look.chosen))
        painter.fillRect(box.x(), box.y(), theme.STEP, box.height(), QColor(look.moss))
    painter.setPen(QColor(look.line))
    painter.drawLine(box.bottomLeft(), box.bottomRight())
    return box.adjusted(GAP, 0, -GAP, 0)


def _signs(painter: QPainter, box: QRect, row: Row) -> None:
    for tone, sign in (
        *[("act", "!")] * bool(row.care),
        *[(row.risk, RISK_SIGN)] * bool(row.risk),
        *[("soon", BY_HAND_SIGN)] * row.by_hand,
    ):
        _word(painter, box, (tone, sign))


def _word(painter: QPainter, box: QRect, word: Mark) -> None:
    """Draw a word in its tone and take its room from the left of `box`."""
    tone, text = word
    painter.setPen(theme.colours().tone(tone))
    painter.drawText(box, LEFT, text)
    box.setLeft(box.left() + painter.fontMetrics().horizontalAdvance(text) + GAP)


def _words(painter: QPainter, box: QRect, words: tuple[Mark, ...], whole_words: bool = False) -> None:
    """Draw the words for which there is room: each whole, or the last of them cut."""
    metrics = painter.fontMetrics()
    for tone, text in words:
        wide = metrics.horizontalAdvance(text)
        if box.width() >= (wide if whole_words else min(wide, 4 * metrics.horizontalAdvance("n"))):
            _word(painter, box, (tone, metrics.elidedText(text, Qt.TextElideMode.ElideRight, box.width())))
        elif not whole_words:
            return


def _bars_width(metrics: QFontMetrics, row: Row) -> int:
    if row.bars is None:
        return 0
    more = metrics.horizontalAdvance(_more(row)) + theme.STEP if row.bars.more else 0
    return row.bars.width + more


def _more(row: Row) -> str:
    return say("+{n}", n=row.bars.more) if row.bars is not None and row.bars.more else ""


def _draw_bars(painter: QPainter, box: QRect, row: Row) -> None:
    """Draw the bars, and how many groups have none, at the right of `box`; take their room from it."""
    if row.bars is None:
        return
    wide = _bars_width(painter.fontMetrics(), row)
    place = QRect(box.right() - wide + 1, box.top() + 1, wide, box.height() - 2)
    draw_bars(painter, place, row.bars)
    if row.bars.more:
        painter.setPen(theme.colours().tone("quiet"))
        painter.drawText(place, RIGHT, _more(row))
    box.setRight(place.left() - GAP)
