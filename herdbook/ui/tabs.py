"""The tabs over a page's lists."""

from __future__ import annotations

from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QTabBar


class QuietTabs(QTabBar):
    """Tabs that the wheel never turns; arrows, a click or their key do."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        event.ignore()
