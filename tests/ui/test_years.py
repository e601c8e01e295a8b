"""The years after by keys on a real book: run from the Sort page, another figure, what is wrong, a stop."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from herdbook.husbandry.years import Spread
from herdbook.services.book import Book
from herdbook.services.settings import BookSettings
from herdbook.ui import theme
from herdbook.ui.years.plot import Curve, YearsPlot, runs
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper

ON = date(2026, 5, 1)
K = Qt.Key
LINES = ("mean", "worst", "over_limit", "founders", "calves")


def herd(path: Path, bulls: bool = True) -> Herd:
    """Write eight cows with calves, unrelated but for two daughters of Cheviot, and two bulls."""
    h = Herd(Book.create(path, who="keeper"), ON)
    if bulls:
        h.add("B1", "M", date(2021, 3, 1), name="Cheviot")
        h.add("B2", "M", date(2022, 3, 1), name="Pentland")
    for n in range(6):
        h.add(str(n + 1), "F", date(2017 + n, 3, 1))
    for n in (7, 8):
        more = {"sire": h.id["B1"]} if bulls else {}
        h.add(str(n), "F", date(2023, 3, 1), dam=h.id["1"], **more)
    for n in range(8):
        h.calve(str(n + 1), date(2026, 3, 20), f"26/{n + 1}", sex="M" if n % 2 else "F")
    return h


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Keeper]:
    """Return a keeper before the Sort page."""
    keeper = Keeper(qtbot, qapp, herd(tmp_path / "herd.herdbook"), first="sort")
    keeper.wait(lambda: keeper.page.result is not None)
    yield keeper
    keeper.close()


def opened(keeper: Keeper) -> Any:
    """Press Y on the Sort page; return the dialog when it has run."""
    keeper.calm()
    keeper.page.setFocus()
    keeper.press(K.Key_Y)
    dialog = keeper.dialog()
    keeper.wait(lambda: dialog._progress is None)
    return dialog


def cells(dialog: Any) -> list[list[str]]:
    """Return the table as it is written."""
    model = dialog.panel.model
    return [[column.full_text(row) for column in model.columns] for row in model.rows]


def leave(keeper: Keeper) -> None:
    """Close the dialog."""
    keeper.press(K.Key_Escape)
    keeper.in_window()


def test_the_usual_policies_are_run_at_once(keeper: Keeper) -> None:
    dialog = opened(keeper)
    assert [each.policy.name for each in dialog.answer.told] == [
        "every-3-years",
        "keep-home-bred",
        "swap-one",
    ]
    assert [row[0] for row in cells(dialog)] == [str(year) for year in range(2026, 2036)]
    assert cells(dialog)[0][1] == "0.00 %  (0.00 to 0.00 %)"
    assert (
        "from bull in Mon 1 Jun" in dialog.detail.accessibleName()
        or "1 Jun" in dialog.detail.accessibleName()
    )
    said = " ".join(label.text() for label in dialog.findChildren(QLabel))
    assert "a home-bred bull for each after 3 seasons: " in said
    assert "bulls bought" in said
    assert not dialog.running.isVisible()
    leave(keeper)


def test_t_turns_to_each_figure_and_its_numbers_follow(keeper: Keeper) -> None:
    dialog = opened(keeper)
    told = dialog.answer.told[0].by_year[-1][1]
    for name in (*LINES[1:], LINES[0]):
        keeper.press(K.Key_T)
        figure = dialog._figures[dialog.tabs.currentIndex()]
        assert figure.name == name
        assert cells(dialog)[-1][1].startswith(figure.show(told[name].median))
        assert figure.words in dialog.plot.accessibleDescription()
    leave(keeper)


def test_other_policies_and_numbers_by_keys(keeper: Keeper) -> None:
    dialog = opened(keeper)
    for name in ("every-3-years", "keep-home-bred", "keep-bulls"):
        dialog.policies[name].setFocus()
        keeper.press(K.Key_Space)
    dialog.years.setFocus()
    dialog.years.selectAll()
    keeper.type("3")
    dialog.keep.setFocus()
    keeper.type("50 %")
    keeper.press(K.Key_Return)
    keeper.wait(lambda: dialog._progress is None)
    assert dialog.answer.wanted.policies == ("swap-one", "keep-bulls")
    assert all(each.policy.keep == 0.5 for each in dialog.answer.told)
    assert [len(row) for row in cells(dialog)] == [3, 3, 3]
    assert [row[0] for row in cells(dialog)] == ["2026", "2027", "2028"]
    leave(keeper)


def test_what_cannot_be_run_is_said_and_nothing_is_lost(keeper: Keeper) -> None:
    dialog = opened(keeper)
    before = cells(dialog)
    dialog.repeats.setText("many")
    dialog.run()
    assert dialog.wrong.text() == "Runs by chance: a whole number from 1 to 5000."
    assert dialog.repeats.hasFocus()
    dialog.repeats.setText("20")
    for box in dialog.policies.values():
        box.setChecked(False)
    dialog.run()
    assert dialog.wrong.text() == "Tick at least one policy."
    assert dialog.wrong.isVisible()
    assert cells(dialog) == before
    leave(keeper)


def test_a_stop_leaves_what_was_there(keeper: Keeper) -> None:
    dialog = opened(keeper)
    before = cells(dialog)
    dialog.repeats.setText("5000")
    dialog.years.setText("40")
    dialog.run_button.click()
    keeper.wait(lambda: dialog.bar.value() > 0)
    assert dialog.running.isVisible()
    assert not dialog.run_button.isEnabled()
    dialog.stop_button.click()
    keeper.wait(lambda: dialog._progress is None)
    assert dialog.wrong.text() == "Stopped. What was shown before stays."
    assert cells(dialog) == before
    leave(keeper)


def test_closing_stops_what_is_under_way(keeper: Keeper) -> None:
    dialog = opened(keeper)
    dialog.repeats.setText("5000")
    dialog.run()
    progress = dialog._progress
    leave(keeper)
    assert progress.stopping
    keeper.calm()


def test_a_herd_without_a_bull_is_told_what_to_do(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> None:
    keeper = Keeper(qtbot, qapp, herd(tmp_path / "herd.herdbook", bulls=False), first="sort")
    keeper.wait(lambda: keeper.page.empty.isVisible())
    dialog = opened(keeper)
    assert dialog.wrong.text().startswith("There is no bull")
    assert cells(dialog) == []
    leave(keeper)
    keeper.close()


def test_curves_are_drawn_in_their_pens_over_their_bands(qtbot: QtBot, qapp: QApplication) -> None:
    theme.apply(qapp, "light")
    plot = YearsPlot()
    qtbot.addWidget(plot)
    plot.resize(600, 300)
    flat = tuple(Spread(0.05, 0.02, 0.08) for _ in range(3))
    plot.show_curves("Worst calf", (2026, 2027, 2028), (Curve(0, "bought", flat),), True, 0.0625)
    image = plot.grab().toImage()
    look = theme.colours()
    assert _holds(image, look.moss)
    assert _holds(image, look.clay)  # the limit
    assert image.pixelColor(300, 260) == QColor(look.paper)  # under the band
    column = [image.pixelColor(340, y) for y in range(image.height())]
    band = [
        y for y, colour in enumerate(column) if colour.green() > colour.red() and colour.lightness() > 180
    ]
    assert len(band) > 60  # six of ten hundredths of the height
    assert plot.accessibleDescription() == "Worst calf in 2028: bought: 5 %"


def _holds(image: QImage, colour: str) -> bool:
    wanted = QColor(colour).rgb()
    return any(image.pixel(x, y) == wanted for x in range(image.width()) for y in range(image.height()))


def test_years_without_calves_leave_a_gap_in_the_curve(qtbot: QtBot) -> None:
    some, none = Spread(1.0, 1.0, 1.0), Spread(None, None, None)
    assert runs([some, some, none, some, none]) == [[0, 1], [3]]
    plot = YearsPlot()
    qtbot.addWidget(plot)
    plot.resize(300, 200)
    plot.show_curves("Calves", (1, 2), (Curve(0, "kept", (some, none)),), False, None)
    assert not plot.grab().isNull()


def test_it_asks_at_first_for_what_the_book_says(keeper: Keeper) -> None:
    keeper.desk.settings = BookSettings(cull_age_years=9, heifers_kept=0.35)
    dialog = opened(keeper)
    assert (dialog.cull.text(), dialog.keep.text()) == ("9", "35")
    assert all((each.policy.cull_years, each.policy.keep) == (9, 0.35) for each in dialog.answer.told)
    leave(keeper)
