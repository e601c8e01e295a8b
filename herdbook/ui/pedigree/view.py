"""The view on a chart: zoomed and walked through by keys, read out box by box."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QPointF, QSize, Qt
from PySide6.QtGui import (
    QAccessible,
    QAccessibleEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QFrame, QGraphicsView, QWidget

from herdbook.services.queries.chart import Box, Chart
from herdbook.ui.keyboard import bind
from herdbook.ui.pedigree.picture import BoxItem, scene_of
from herdbook.words import say

CLOSER = 1.2
SMALLEST, LARGEST = 0.15, 4.0
READABLE, LARGE = 0.75, 1.4  # a chart is opened no smaller, and what does not fit scrolled; and no larger


class ChartView(QGraphicsView):
    """Shows a chart.

    Parameters
    ----------
    opened : callable (animal)
        Told whose card is wanted: Enter, or a double click.
    folded : callable (key), optional
        Told which box is to be folded or unfolded: Space, or a click on it.
    parent : QWidget, optional
    """

    def __init__(
        self,
        opened: Callable[[int], object],
        folded: Callable[[str], object] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.chart: Chart | None = None
        self._opened, self._folded = opened, folded
        self._current = ""
        self._zoomed_by_hand = False
        self._room = QSize()
        self._items: dict[str, BoxItem] = {}
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.setDragMode(QGraphicsView.DragMode.ScrollHandDrag)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.AnchorUnderMouse)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        self.setAccessibleName(say("The chart"))
        bind(self, "+", lambda: self.zoom(CLOSER), say("larger"))
        bind(self, "=", lambda: self.zoom(CLOSER), "")  # where + wants Shift
        bind(self, "-", lambda: self.zoom(1 / CLOSER), say("smaller"))
        bind(self, "0", self.fit, say("the whole chart"))

    # -- what is shown ---

    def show_chart(self, chart: Chart | None, keep: bool = False) -> None:
        """Show a chart from its root; with `keep` the place and the zoom stay as they are."""
        self.chart = chart
        if chart is None:
            self._items = {}
            self.setScene(None)
            return
        scene = scene_of(chart)
        scene.setParent(self)
        old = self.scene()
        self.setScene(scene)
        if old is not None:
            old.deleteLater()
        self._items = {item.box.key: item for item in scene.items() if isinstance(item, BoxItem)}
        self.setAccessibleName(chart.title)
        if not (keep and self._current in self._items):
            self._current = self._root()
            self._zoomed_by_hand = False
            self._open_readable()
        self._mark()

    def _root(self) -> str:
        assert self.chart is not None
        return min(self.chart.boxes, key=lambda box: box.generation).key

    @property
    def current(self) -> Box | None:
        """The box that the keys are at."""
        item = self._items.get(self._current)
        return item.box if item else None

    def choose(self, key: str) -> None:
        """Go to a box."""
        if key in self._items:
            self._current = key
            self._mark()
            item = self._items[key]
            self.ensureVisible(item.mapRectToScene(item.area), 24, 24)

    def _mark(self) -> None:
        """Draw the ring around the box that the keys are at, and say it."""
        for key, item in self._items.items():
            item.is_current = key == self._current
            item.update()
        box = self.current
        if box is None or self.chart is None:
            return
        number = sum(one.generation == box.generation for one in self.chart.boxes)
        said = say("{box}; one of {n} in its column", box=box.words, n=number)
        if self._current == self._root():
            said = " ".join((said + ".", *self.chart.legend))
        self.setAccessibleDescription(said)
        event = QAccessibleEvent(self, QAccessible.Event.DescriptionChanged)
        QAccessible.updateAccessibility(event)

    def changeEvent(self, event: QEvent) -> None:
        """Draw anew in the window's colours or type."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange) and self.chart is not None:
            self.show_chart(self.chart, keep=True)

    # -- zooming ---

    def zoom(self, factor: float) -> None:
        """Make everything larger or smaller."""
        wanted = min(max(self.transform().m11() * factor, SMALLEST), LARGEST)
        self._zoomed_by_hand = True
        self._scale_to(wanted)

    def fit(self) -> None:
        """Show the whole chart."""
        self._zoomed_by_hand = True
        self._scale_to(min(self._fitting(), LARGEST))

    def _fitting(self) -> float:
        area, room = self.sceneRect(), self.maximumViewportSize()  # the same with scroll bars and without
        if area.isEmpty():
            return 1.0
        return max(min(room.width() / area.width(), room.height() / area.height()), SMALLEST)

    def _scale_to(self, scale: float) -> None:
        self.resetTransform()
        self.scale(scale, scale)
        item = self._items.get(self._current)
        if item is not None:
            self.ensureVisible(item.mapRectToScene(item.area), 24, 24)

    def _open_readable(self) -> None:
        """Show the whole chart if it can be read so, else its root at a size that can."""
        self._room = self.maximumViewportSize()
        self._scale_to(min(max(self._fitting(), READABLE), LARGE))
        root = self._items.get(self._root())
        if root is not None:
            area = root.mapRectToScene(root.area)
            half = self.viewport().width() / (2 * self.transform().m11())
            self.centerOn(QPointF(area.left() + half - 24, area.center().y()))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Use the new room, unless the reader chose a size."""
        super().resizeEvent(event)
        if self.chart is None or self._zoomed_by_hand or self._room == self.maximumViewportSize():
            return  # a scroll bar that comes or goes is no new room: to fit the chart to that would not end
        self._open_readable()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """With Ctrl the wheel zooms; alone it scrolls."""
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom(CLOSER if event.angleDelta().y() > 0 else 1 / CLOSER)
            event.accept()
            return
        super().wheelEvent(event)

    # -- walking ---

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walk by arrows; Enter opens a card, Space folds."""
        box = self.current
        walks = {
            Qt.Key.Key_Right: self._outward,
            Qt.Key.Key_Left: self._inward,
            Qt.Key.Key_Up: lambda: self._along(-1),
            Qt.Key.Key_Down: lambda: self._along(1),
        }
        if event.key() in walks and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            walks[event.key()]()
        elif event.key() == Qt.Key.Key_Home and self.chart is not None:
            self.choose(self._root())
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if box is not None and box.animal is not None:
                self._opened(box.animal)
        elif event.key() == Qt.Key.Key_Space and self._folded is not None:
            if box is not None and box.fold:
                self._folded(box.key)
        else:
            super().keyPressEvent(event)

    def _outward(self) -> None:
        self._follow({line.end for line in self._lines() if line.start == self._current})

    def _inward(self) -> None:
        self._follow({line.start for line in self._lines() if line.end == self._current})

    def _lines(self):
        return self.chart.lines if self.chart is not None else ()

    def _follow(self, keys: set[str]) -> None:
        here = self._items.get(self._current)
        if here is None or not keys:
            return
        middle = here.placed.middle

        def away(key: str) -> tuple[int, float]:
            there = self._items[key].placed.middle
            return round(abs(there - middle)), there  # of two as far the upper one

        self.choose(min(keys, key=away))

    def _along(self, step: int) -> None:
        here = self._items.get(self._current)
        if here is None:
            return
        column = sorted(
            (item for item in self._items.values() if item.box.generation == here.box.generation),
            key=lambda item: item.placed.middle,
        )
        place = column.index(here) + step
        if 0 <= place < len(column):
            self.choose(column[place].box.key)

    # -- the mouse ---

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go to the box under the mouse."""
        super().mousePressEvent(event)
        item = self._box_at(event)
        if item is not None:
            self.choose(item.box.key)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Fold or unfold the box, or open its animal's card."""
        item = self._box_at(event)
        if item is None:
            return
        if item.box.fold and self._folded is not None:
            self._folded(item.box.key)
        elif item.box.animal is not None:
            self._opened(item.box.animal)

    def _box_at(self, event: QMouseEvent) -> BoxItem | None:
        item = self.itemAt(event.position().toPoint())
        return item if isinstance(item, BoxItem) else None
