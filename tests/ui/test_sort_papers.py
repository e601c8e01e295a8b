"""The papers of a sort as it stands, printed by keys from its table."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.ui.sort.page import SortPage
from herdbook.ui.sort.table import GroupsDialog
from tests.papers.reading import pages
from tests.services.conftest import Herd
from tests.ui.test_sort import herd, page, press, real_book, real_desk

__all__ = ["herd", "page", "real_book", "real_desk"]

K = Qt.Key
Quiet = Callable[[], None]


def test_sheets_and_plan_are_printed_as_the_sort_stands(
    qtbot: QtBot, page: SortPage, herd: Herd, quiet: Quiet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """T, then H for the sheets of the yard and P for the plan, with Lune among those to sell."""
    opened: list[Path] = []

    def ask(_parent: Any, _title: str, name: str, _kinds: str) -> tuple[str, str]:
        return str(tmp_path / Path(name).name), ""

    def look(url: QUrl) -> bool:
        opened.append(Path(url.toLocalFile()))
        return True

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    monkeypatch.setattr(QDesktopServices, "openUrl", look)
    page.move_female(herd.id["Lune"], ("sell", None))
    press(qtbot, K.Key_T)
    dialog = page.findChild(GroupsDialog)
    qtbot.waitUntil(dialog.isActiveWindow)
    for key, name, words in ((K.Key_H, "Sort sheets", "Lune"), (K.Key_P, "Season plan", "To sell")):
        qtbot.keyClick(dialog.focusWidget(), key)
        qtbot.waitUntil(lambda: len(opened) > 0, timeout=10_000)
        quiet()
        path = opened.pop()
        assert path.name.startswith(name)
        assert words.casefold() in " ".join(pages(path)).casefold()
    dialog.accept()
