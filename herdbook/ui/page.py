"""The base of every page: a title line, the one table or picture that matters, a side card."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSplitter, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.focus import HandsOn
from herdbook.ui.keyboard import bind
from herdbook.words import say

NARROW = 105  # figures of body type; a page under this has no room for a table and a side card

LOW = 15  # rows; a page under this shows no more than it must

BETWEEN = " · "


class Detail(QLabel):
    """The words beside a title: as many of their parts as there is room for, the rest in the tip."""

    def __init__(self) -> None:
        super().__init__()
        theme.role(self, "quiet")
        self._parts: list[str] = []

    def tell(self, text: str) -> None:
        """Say `text`, whose parts stand with " · " between them."""
        self._parts = text.split(BETWEEN)
        self.updateGeometry()
        self._fit()

    def sizeHint(self) -> QSize:
        """Return the size with all parts."""
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(BETWEEN.join(self._parts)) + theme.STEP, metrics.height())

    def minimumSizeHint(self) -> QSize:
        """Return the size of the first part."""
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(self._parts[0] if self._parts else ""), metrics.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show the parts for which there is room now."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        shown, metrics = list(self._parts), self.fontMetrics()
        room = self.width() if self.isVisible() else self.sizeHint().width()
        while len(shown) > 1 and metrics.horizontalAdvance(BETWEEN.join(shown)) > room:
            shown.pop()
        whole = BETWEEN.join(self._parts)
        self.setText(BETWEEN.join(shown))
        self.setAccessibleName(whole)
        self.setToolTip(whole if len(shown) < len(self._parts) else "")


class Page(HandsOn):
    """A page of the window.

    A page fills `self.main` (a vertical layout) and may set a side card with `set_side`. It loads in `shown`,
    which is called when the page is first seen and when the book changed since it last loaded.

    Parameters
    ----------
    desk : Desk
    parent : QWidget, optional

    Attributes
    ----------
    key : str
        The page's name in `Desk.go`.
    tables : frozenset of str or None
        The tables whose changes matter to it; None for all.
    """

    key = ""
    tables: frozenset[str] | None = None

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self._stale = True
        self._side: QWidget | None = None
        self._side_wanted, self._side_asked = True, False
        self._gives_way = False
        margin = theme.PAGE_MARGIN
        self._low = False
        column = self._whole = QVBoxLayout(self)
        column.setContentsMargins(margin, margin - 2 * theme.STEP, margin, 2 * theme.STEP)
        column.setSpacing(3 * theme.STEP)
        self.heading = theme.title_label(self.title())
        self.detail = Detail()
        self.tools = QHBoxLayout()
        self.tools.setSpacing(2 * theme.STEP)
        self.side_button = QPushButton()
        self.side_button.clicked.connect(self.show_side)
        self.side_button.hide()
        self.tools.addWidget(self.side_button)
        line = QHBoxLayout()
        line.setSpacing(4 * theme.STEP)
        line.addWidget(self.heading, 0, Qt.AlignmentFlag.AlignBaseline)
        line.addWidget(self.detail, 1, Qt.AlignmentFlag.AlignBaseline)
        line.addLayout(self.tools)
        column.addLayout(line)
        self._split = QSplitter(Qt.Orientation.Horizontal)
        self._split.setChildrenCollapsible(False)
        self._split.setHandleWidth(1)
        left = QWidget()
        self.main = QVBoxLayout(left)
        self.main.setContentsMargins(0, 0, 0, 0)
        self.main.setSpacing(2 * theme.STEP)
        self._split.addWidget(left)
        column.addWidget(self._split, 1)
        desk.changed.connect(self.refresh)

    # -- what a page says of itself ---

    def title(self) -> str:
        """Return what the page is called."""
        return say("Page")

    def set_detail(self, text: str) -> None:
        """Say as of when, and the counts that matter, with " · " between them, beside the title."""
        self.detail.tell(text)

    def set_side(
        self,
        card: QWidget,
        share: int = 30,
        least: int = 30,
        gives_way: bool = False,
        words: str = "",
        key: str = "",
    ) -> None:
        """Set the side card.

        Parameters
        ----------
        card : QWidget
        share : int
            What it takes of the width, in per cent.
        least : int
            What it takes at least, in figures of body type.
        gives_way : bool
            Whether a narrow window leaves its width to the table.
        words, key : str
            The button and the key that show it in a narrow window all the same; without them there is none.
        """
        card.setMinimumWidth(theme.characters(least))
        self._split.addWidget(card)
        self._split.setStretchFactor(0, 100 - share)
        self._split.setStretchFactor(1, share)
        self._split.setSizes([10 * (100 - share), 10 * share])
        self._side, self._gives_way = card, gives_way
        self.side_button.setText(words)
        if key:
            bind(self, key, self.show_side, say("show or hide the side card, in a narrow window"))
        self._fit_side()

    def want_side(self, wanted: bool) -> None:
        """Say whether the page has anything for its side card to say."""
        self._side_wanted = wanted
        self._fit_side()

    def show_side(self) -> None:
        """Show or hide the side card in a narrow window."""
        self._side_asked = not self._side_asked
        self._fit_side()

    @property
    def is_narrow(self) -> bool:
        """Whether there is no room for a table and a side card."""
        return self.width() < theme.characters(NARROW)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window leave the width to the table, in a low one the height."""
        super().resizeEvent(event)
        self._fit_side()
        if self._low != self.is_low:
            self._low = self.is_low
            step, margin = theme.STEP, theme.PAGE_MARGIN
            above, below, between = (2, 1, 2) if self._low else (4, 2, 3)
            self._whole.setContentsMargins(margin, above * step, margin, below * step)
            self._whole.setSpacing(between * step)

    @property
    def is_low(self) -> bool:
        """Whether there is no room for more than the rows that matter."""
        return self.height() < LOW * theme.row_height()

    def _fit_side(self) -> None:
        if self._side is None:
            return
        away = self._gives_way and self.is_narrow
        there = self._side_wanted and (not away or self._side_asked)
        self._side.setVisible(there)
        self.main.setContentsMargins(0, 0, 4 * theme.STEP if there else 0, 0)
        self.side_button.setVisible(self._side_wanted and away and bool(self.side_button.text()))

    # -- when it loads ---

    def shown(self) -> None:
        """Load what the page shows; called when first seen and after changes. Pages fill this in."""

    def open(self, what: object) -> None:
        """Show `what` that `Desk.go` passed (never None); pages fill this in."""

    def leave(self) -> bool:
        """Commit what is typed before another page is shown; return False to stay."""
        return True

    def refresh(self, change: object = None) -> None:
        """Load anew now if the page is in view, else when it is next seen.

        Parameters
        ----------
        change : ChangeSet, optional
            What changed; a change to none of the page's `tables` is passed over.
        """
        touched = getattr(change, "tables", None)
        if self.tables is not None and touched is not None and not self.tables & touched:
            return
        self._stale = True
        if self.isVisible():
            self._load()

    def showEvent(self, event: QShowEvent) -> None:
        """Load when first seen, or when something changed meanwhile."""
        super().showEvent(event)
        if self._stale:
            self._load()

    def _load(self) -> None:
        self._stale = False
        self.shown()

    def load(
        self,
        query: Callable[..., Any],
        then: Callable[[Any], None],
        *arguments: Any,
        key: str = "",
        **named: Any,
    ) -> None:
        """Run ``query(conn, *arguments, **named)`` beside the window; only its newest answer arrives."""
        name = key or getattr(query, "__qualname__", repr(query))
        self.desk.read(query, then, *arguments, owner=self, key=name, **named)
