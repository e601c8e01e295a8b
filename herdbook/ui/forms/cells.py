"""The layout of a line of entries: headings over columns, in several lines where the window is narrow."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

from herdbook.ui import theme

GAP = 2 * theme.STEP
HEADING = -1  # the row of the headings


@dataclass
class _Cell:
    """A heading or an entry with its place in the line."""

    item: QLayoutItem
    column: int
    row: int


class Cells(QLayout):
    """Columns side by side, each as wide as its widest cell; what has no room goes on in a line below.

    A column keeps together: its heading, and the entries of all rows under it.

    Parameters
    ----------
    least : int
        The height of the first row at least, so that words under an entry move nothing; pixels.
    """

    def __init__(self, least: int = 0) -> None:
        super().__init__()
        self._cells: list[_Cell] = []
        self._next = (0, HEADING)
        self._least = least
        self.setContentsMargins(0, 0, 0, 0)

    def put(self, widget: QWidget, column: int, row: int = HEADING) -> None:
        """Put a widget into a row of a column; without a row it is the column's heading."""
        self._next = (column, row)
        self.addWidget(widget)

    # -- what Qt asks of a layout ---

    def addItem(self, item: QLayoutItem) -> None:
        """Take an item in, where `put` said."""
        self._cells.append(_Cell(item, *self._next))

    def count(self) -> int:
        """Return the number of items."""
        return len(self._cells)

    def itemAt(self, place: int) -> QLayoutItem | None:
        """Return an item, None beyond the last."""
        return self._cells[place].item if 0 <= place < len(self._cells) else None

    def takeAt(self, place: int) -> QLayoutItem | None:
        """Give an item back, None beyond the last."""
        return self._cells.pop(place).item if 0 <= place < len(self._cells) else None

    def expandingDirections(self) -> Qt.Orientation:
        """Return that it takes no more room than it needs."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """Return that the height follows from the width."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height at this width."""
        return self._place(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, box: QRect) -> None:
        """Put every item in its place."""
        super().setGeometry(box)
        self._place(box, move=True)

    def sizeHint(self) -> QSize:
        """Return the size of one line with all columns."""
        widths = self._widths()
        whole = sum(widths.values()) + GAP * max(0, len(widths) - 1)
        return QSize(whole, self.heightForWidth(whole))

    def minimumSize(self) -> QSize:
        """Return the size of the widest column: narrower than that nothing can be shown."""
        return QSize(max(self._widths().values(), default=0), 0)

    # -- where everything stands ---

    def _widths(self) -> dict[int, int]:
        """Return the width of each column, in order."""
        widths: dict[int, int] = {}
        for cell in sorted(self._cells, key=lambda cell: cell.column):
            if not cell.item.isEmpty():
                widths[cell.column] = max(widths.get(cell.column, 0), cell.item.sizeHint().width())
        return widths

    def _lines(self, width: int) -> list[dict[int, tuple[int, int]]]:
        """Return the lines: of each column in it, from where to how wide."""
        lines: list[dict[int, tuple[int, int]]] = [{}]
        x = 0
        for column, wide in self._widths().items():
            if lines[-1] and x + wide > width:
                lines.append({})
                x = 0
            lines[-1][column] = (x, wide)
            x += wide + GAP
        return lines

    def _place(self, box: QRect, move: bool) -> int:
        """Go through the lines, moving the items if asked; return the height of all."""
        lines = self._lines(box.width())
        y = box.y()
        for line in lines:
            cells = [cell for cell in self._cells if cell.column in line and not cell.item.isEmpty()]
            for row in sorted({cell.row for cell in cells}):
                here = [cell for cell in cells if cell.row == row]
                heights = [self._height(cell, line) for cell in here]
                if move:
                    for cell, height in zip(here, heights, strict=True):
                        x, wide = line[cell.column]
                        wide = min(wide, box.width())
                        cell.item.setGeometry(QRect(QPoint(box.x() + x, y), QSize(wide, height)))
                high = max(heights)
                if len(lines) == 1 and row == 0:
                    high = max(high, self._least)
                y += high + theme.STEP
        return max(0, y - theme.STEP - box.y())

    def _height(self, cell: _Cell, line: dict[int, tuple[int, int]]) -> int:
        wide = line[cell.column][1]
        if cell.item.hasHeightForWidth():
            return cell.item.heightForWidth(wide)
        return cell.item.sizeHint().height()
