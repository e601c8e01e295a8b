"""The Calving page on a real book, by keys: the list, the birth's form with its doubts, the other acts."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.happenings import Serve
from herdbook.services.commands.running import TurnIn
from herdbook.ui import theme
from herdbook.ui.calving.page import CalvingPage
from herdbook.ui.calving.ruler import Span
from herdbook.ui.forms.birth import Born, as_command
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.jobs import Jobs
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show

ON = date(2026, 3, 3)
K = Qt.Key
Quiet = Callable[[], None]


@pytest.fixture
def herd(tmp_path: Path) -> Iterator[Herd]:
    """Nith is a heifer due in five days; Eden a cow due in May; Lune ran with the bull last summer."""
    with Book.create(tmp_path / "herd.herdbook", who="keeper") as book:
        h = Herd(book, ON)
        h.add("Cheviot", "M", date(2021, 3, 1))
        h.add("Eden", "F", date(2018, 3, 1))
        h.add("Lune", "F", date(2019, 3, 1), calved_before=True)
        h.calve("Eden", date(2025, 3, 20), "old calf")
        h.add("Nith", "F", date(2023, 4, 1))
        h.do(Serve(h.id["Nith"], ON + timedelta(days=5 - 283), sire=h.id["Cheviot"]))
        h.do(Serve(h.id["Eden"], date(2025, 8, 1), sire=h.id["Cheviot"]))
        h.do(TurnIn((h.id["Cheviot"],), (h.id["Lune"],), date(2025, 6, 20), date(2025, 8, 20)))
        yield h


@pytest.fixture
def page(qtbot: QtBot, qapp: QApplication, jobs: Jobs, herd: Herd, quiet: Quiet) -> CalvingPage:
    """Return the page with its list read."""
    theme.apply(qapp, "light")
    page = CalvingPage(OpenDesk(herd.book, jobs, day=lambda: ON))
    page.resize(1180, 660)
    page.desk.window = page
    qtbot.addWidget(page)
    show(qtbot, page)
    quiet()
    page.setFocus()
    return page


def _tags(page: CalvingPage) -> list[str]:
    return [row.tag for row in page._model.rows]


def _dialogs() -> list[FormDialog]:
    return [w for w in QApplication.topLevelWidgets() if isinstance(w, FormDialog) and w.isVisible()]


def _dialog(qtbot: QtBot) -> FormDialog:
    qtbot.waitUntil(lambda: bool(_dialogs()) and _dialogs()[-1].isActiveWindow())
    return _dialogs()[-1]


def test_soonest_first_with_stage_and_first_calvers_marked(page: CalvingPage) -> None:
    assert _tags(page) == ["Nith", "Lune", "Eden"]
    assert "3 to come · 1 close up" in page.detail.text()
    first = page._model.rows[0]
    texts = [column.full_text(first) for column in page._model.columns]
    assert any("first calf" in text for text in texts)
    assert any("close up" in text for text in texts)


def test_a_birth_by_keys_leaves_the_list_and_undo_brings_it_back(
    qtbot: QtBot, page: CalvingPage, herd: Herd, quiet: Quiet
) -> None:
    qtbot.keyClick(page.panel.table, K.Key_C)
    dialog = _dialog(qtbot)
    quiet()
    form = dialog.form
    form.entries["sex"].fill("F")
    qtbot.keyClicks(form.entries["kg"].line, "34")
    qtbot.keyClick(dialog, K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not _dialogs() or dialog.asking.isVisible(), timeout=5000)
    if _dialogs():
        qtbot.keyClick(dialog, K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "Nith" not in _tags(page), timeout=5000)
    page.desk.undo()
    qtbot.waitUntil(lambda: "Nith" in _tags(page), timeout=5000)
    assert herd.book.next_to_redo() is not None


def test_not_in_calf_takes_her_off(qtbot: QtBot, page: CalvingPage) -> None:
    page.panel.table.choose(next(r.animal for r in page._model.rows if r.tag == "Eden"))
    qtbot.keyClick(page.panel.table, K.Key_N)
    dialog = _dialog(qtbot)
    assert dialog.form.entries["result"].value() == "open"
    qtbot.keyClick(dialog, K.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "Eden" not in _tags(page), timeout=5000)


def test_the_filter_of_first_calvers(page: CalvingPage) -> None:
    page.which.setCurrentIndex(2)
    assert _tags(page) == ["Nith"]
    page.which.setCurrentIndex(0)
    assert len(_tags(page)) == 3


def test_the_card_says_what_it_rests_on(page: CalvingPage, quiet: Quiet) -> None:
    page.panel.table.choose(next(r.animal for r in page._model.rows if r.tag == "Lune"))
    quiet()
    from PySide6.QtWidgets import QLabel

    text = " ".join(label.text() for label in page.card.findChildren(QLabel))
    assert "With a bull from" in text
    assert "283 days added" in text
    assert "she may be open" in text


def test_twins_are_one_birth_of_two_calves() -> None:
    born = Born(7, ON, "M", "A", 38.0, twin="F", twin_tag="B", twin_kg=33.0, twin_fate="stillborn")
    command = as_command(born)
    assert [(c.sex, c.tag, c.kg, c.fate) for c in command.calves] == [
        ("M", "A", 38.0, "alive"),
        ("F", "B", 33.0, "stillborn"),
    ]
    assert len(as_command(Born(7, ON, "F")).calves) == 1


def test_days_beyond_the_ruler_lie_at_its_ends() -> None:
    span, box = Span.around(ON), QRect(10, 0, 240, 30)
    assert span.x(span.first, box) == span.x(ON - timedelta(days=400), box) == 10
    assert span.x(span.last, box) == span.x(ON + timedelta(days=400), box) == 250
    assert 10 < span.x(ON, box) < 250


def test_an_empty_book_says_what_to_do_first(
    qtbot: QtBot, qapp: QApplication, jobs: Jobs, tmp_path: Path, quiet: Quiet
) -> None:
    theme.apply(qapp, "light")
    with Book.create(tmp_path / "empty.herdbook") as book:
        page = CalvingPage(OpenDesk(book, jobs, day=lambda: ON))
        qtbot.addWidget(page)
        show(qtbot, page)
        quiet()
        assert page.panel.empty_text.isVisible()
        assert page.panel.empty_button is not None
        jobs.close()
