"""What is measured in a process of its own: `python -m tests.bench.fresh BEGAN WHAT [FILE]` prints JSON.

BEGAN is the clock (`time.time()`) when whoever measures started the process; seconds are counted from there,
so that the interpreter's own start counts on both sides of a comparison.
"""

from __future__ import annotations

import json
import os
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

HEAVY = ("scipy", "matplotlib", "pyqtgraph", "reportlab", "alembic", "python_calamine", "xlsxwriter", "numba")
DAY = "2026-03-03"
CALM = 10  # looks in a row, 50 ms apart, that find nothing under way

Figures = dict[str, Any]


def since() -> float:
    """Return the seconds since the process began."""
    return time.time() - float(sys.argv[1])


def told(figures: Figures) -> None:
    """Print the figures and leave at once."""
    print(json.dumps(figures), flush=True)
    os._exit(0)


def bare(path: str = "") -> None:
    """Show a bare window; with a book, import SQLAlchemy and open it when the window has been painted."""
    from PySide6.QtWidgets import QApplication, QLabel, QMainWindow

    class Window(QMainWindow):
        def paintEvent(self, event: Any) -> None:
            super().paintEvent(event)
            figures: Figures = {"painted": since()}
            try:
                told(figures | (_opened(path) if path else {}))
            except Exception:  # Qt would say so and go on, and nobody close the window
                traceback.print_exc()
                os._exit(1)

    app = QApplication(["bare"])
    window = Window()
    window.resize(1180, 720)
    window.setCentralWidget(QLabel("bare"))
    window.show()
    app.exec()


def _opened(path: str) -> Figures:
    """Import SQLAlchemy with its object mapper, then the store, then open the book; time each."""
    began = since()
    import sqlalchemy.orm  # noqa: F401

    imported = since()
    from herdbook.services.book import Book

    ours = since()
    Book.open(path)
    return {"sqlalchemy": imported - began, "store": ours - imported, "opening": since() - ours}


def with_program(path: str, painted: Callable[[Any], None]) -> None:
    """Run the program as its entry does; `painted(window)` is called once, at the window's first paint."""
    from herdbook.app.start import open_window
    from herdbook.ui.window import MainWindow

    seen: list[Any] = []

    def paint(window: Any, _event: Any) -> None:
        if not seen:
            seen.append(window)
            painted(window)

    MainWindow.paintEvent = paint  # type: ignore[method-assign]
    open_window([path, "--on", DAY])


def heavy() -> list[str]:
    """Return what of the heavy libraries is loaded."""
    return [name for name in HEAVY if name in sys.modules]


def start(path: str) -> None:
    """Open the program; tell when it and its first table were painted, and what was loaded then."""
    figures: Figures = {}

    def painted(_window: Any) -> None:
        figures.update(painted=since(), heavy_then=heavy())
        from herdbook.ui.tables.view import HerdTable

        paint = HerdTable.paintEvent

        def table_painted(table: Any, event: Any) -> None:
            paint(table, event)
            if table.model() is not None and table.model().rowCount() > 0:
                told({**figures, "filled": since(), "heavy": heavy()})

        HerdTable.paintEvent = table_painted  # type: ignore[method-assign]

    with_program(path, painted)


def memory() -> Figures:
    """Return what the process holds now and held at most, in MB."""
    lines = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return {
        name: int(lines[field].split()[0]) / 1024 for name, field in (("mb", "VmRSS"), ("most_mb", "VmHWM"))
    }


def held(path: str, pages: str = "today,register") -> None:
    """Open the program, go to each page and let it load; tell what memory was held after each."""
    from PySide6.QtCore import QTimer

    figures: Figures = {}
    left = pages.split(",")
    calm = [0]

    def look(window: Any) -> None:
        calm[0] = 0 if window.desk.jobs.busy or not window.page.key else calm[0] + 1
        if calm[0] < CALM:
            return
        calm[0] = 0
        if window.page.key == left[0]:
            figures[left.pop(0)] = {**memory(), "after": since()}
        if left:
            window.go(left[0])
        else:
            told(figures)

    def painted(window: Any) -> None:
        timer = QTimer(window, interval=50)
        timer.timeout.connect(lambda: look(window))
        timer.start()

    with_program(path, painted)


if __name__ == "__main__":
    {"bare": bare, "start": start, "held": held}[sys.argv[2]](*sys.argv[3:])
