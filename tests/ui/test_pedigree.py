"""The pedigree window, opened and walked through by keys, on a real book."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QDesktopServices, QImage, QPainter, QWheelEvent
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.trust import Trust
from herdbook.services.book import Book
from herdbook.services.commands.animals import AddAnimal
from herdbook.services.commands.running import TurnIn
from herdbook.services.queries.chart import AGAIN, SHARED, UNKNOWN
from herdbook.services.queries.kin import explain
from herdbook.ui import theme
from herdbook.ui.pedigree.dialog import PedigreeDialog
from herdbook.ui.pedigree.picture import BoxItem, scene_of
from herdbook.ui.pedigree.sheets import figure_words
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper

K = Qt.Key
ALT, CONTROL = Qt.KeyboardModifier.AltModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def herd(tmp_path: Path) -> Herd:
    """Return a herd: Wharfe is by Ythan out of Eden, who is Ythan's daughter, and Nith is by Ythan too."""
    h = Herd(Book.create(tmp_path / "herd.herdbook", who="keeper"), ON)
    h.add("B1", "M", date(2014, 3, 1), name="Ythan")
    h.add("1", "F", date(2013, 3, 1), name="Lune")
    h.add("2", "F", date(2017, 3, 1), name="Eden", dam=h.id["1"], sire=h.id["B1"])
    h.add("3", "M", date(2020, 3, 1), name="Wharfe", dam=h.id["2"], sire=h.id["B1"])
    h.add("4", "F", date(2020, 4, 1), name="Nith", sire=h.id["B1"])
    h.add("5", "F", date(2021, 4, 1), name="Tamar")
    return h


@pytest.fixture
def saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Answer where a file goes with `path`, and keep what was opened afterwards."""
    kept = SimpleNamespace(path=tmp_path / "picture.svg", opened=[])
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, **__: (str(kept.path), ""))
    monkeypatch.setattr(
        QDesktopServices, "openUrl", lambda url: kept.opened.append(Path(url.toLocalFile())) or True
    )
    return kept


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, herd: Herd, saved: SimpleNamespace) -> Iterator[Keeper]:
    """Return a keeper before Wharfe's card."""
    keeper = Keeper(qtbot, qapp, herd)
    keeper.desk.open_animal(herd.id["3"])
    keeper.calm()
    keeper.wait(lambda: keeper.page.view.card is not None)
    yield keeper
    keeper.close()


def opened(keeper: Keeper) -> PedigreeDialog:
    """Open the pedigree window by its key."""
    keeper.press(K.Key_G)
    dialog = keeper.dialog()
    assert isinstance(dialog, PedigreeDialog)
    keeper.wait(lambda: dialog.ancestors.chart is not None and dialog.offspring.chart is not None)
    return dialog


def titles(sheet: Any) -> set[str]:
    return {box.title for box in sheet.chart.boxes}


def test_arrows_walk_through_the_ancestors_and_enter_opens_a_card(keeper: Keeper) -> None:
    dialog = opened(keeper)
    view = dialog.ancestors.view
    assert view.hasFocus()
    assert view.current.title == "3 Wharfe"
    assert dialog.ancestors.words.text() == "Inbred 25\N{NO-BREAK SPACE}%, known to 1.5 generations"
    keeper.press(K.Key_Right)
    assert view.current.title == "B1 Ythan"
    assert "A, sire · born 2014, stands twice" in view.accessibleDescription()
    keeper.press(K.Key_Down)
    assert view.current.title == "2 Eden"
    keeper.press(K.Key_Left)
    assert view.current.title == "3 Wharfe"
    keeper.press(K.Key_Right)
    keeper.press(K.Key_Down)
    keeper.press(K.Key_Return)
    keeper.in_window()
    keeper.wait(lambda: keeper.page.view.animal == keeper.herd.id["2"])


def test_keys_choose_the_generations(keeper: Keeper) -> None:
    dialog = opened(keeper)
    assert len(dialog.ancestors.chart.columns) == 5
    keeper.press(K.Key_6)
    keeper.wait(lambda: len(dialog.ancestors.chart.columns) == 7)
    assert dialog.ancestors.generations.currentData() == 6
    keeper.press(K.Key_3)
    keeper.wait(lambda: len(dialog.ancestors.chart.columns) == 4)
    dialog.accept()
    keeper.in_window()


def test_keys_and_the_wheel_zoom(keeper: Keeper) -> None:
    dialog = opened(keeper)
    view = dialog.ancestors.view
    keeper.press(K.Key_0)
    whole = view.transform().m11()
    assert (
        view.mapToScene(view.viewport().rect())
        .boundingRect()
        .adjusted(-1, -1, 1, 1)
        .contains(view.sceneRect())
    )
    keeper.press(K.Key_Minus)
    assert view.transform().m11() < whole
    keeper.press(K.Key_0)
    keeper.press(K.Key_Plus)
    assert view.transform().m11() > whole
    larger = view.transform().m11()
    for modifier, further in ((Qt.KeyboardModifier.NoModifier, False), (CONTROL, True)):
        event = QWheelEvent(
            QPointF(50, 50), QPointF(50, 50), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton, modifier,
            Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(view.viewport(), event)
        assert (view.transform().m11() > larger) == further
    dialog.accept()
    keeper.in_window()


def test_space_folds_the_offspring(keeper: Keeper) -> None:
    keeper.desk.open_animal(keeper.herd.id["1"])
    keeper.calm()
    dialog = opened(keeper)
    keeper.press(K.Key_O, ALT)
    sheet = dialog.offspring
    assert sheet.view.hasFocus()
    assert titles(sheet) == {"1 Lune", "by B1 Ythan", "2 Eden"}
    keeper.press(K.Key_Right, times=2)
    assert sheet.view.current.title == "2 Eden"
    keeper.press(K.Key_Space)
    keeper.wait(lambda: "3 Wharfe" in titles(sheet))
    assert sheet.view.current.title == "2 Eden"
    keeper.press(K.Key_Space)
    keeper.wait(lambda: "3 Wharfe" not in titles(sheet))
    keeper.press(K.Key_2)
    keeper.wait(lambda: "3 Wharfe" in titles(sheet))
    dialog.accept()
    keeper.in_window()


def test_any_two_animals_are_chosen_by_keys(keeper: Keeper) -> None:
    dialog = opened(keeper)
    keeper.press(K.Key_W, ALT)
    sheet = dialog.pair
    assert sheet.lines[1].hasFocus()
    keeper.wait(lambda: sheet.lines[0].text() == "3 Wharfe")
    keeper.type("Nith")
    keeper.calm()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: sheet.told is not None)
    percent = "\N{NO-BREAK SPACE}%"
    assert sheet.figure.text() == (
        f"Their calf's inbreeding 18.75{percent} · little known · very close · "
        f"over this book's limit of 6.25{percent}"
    )
    assert sheet.words.text() == (
        f"Half brother and sister through Ythan (12.5{percent}); "
        f"also half aunt and nephew through Ythan (6.25{percent}): 18.75{percent}"
    )
    assert "Behind 3 Wharfe: 1 generation complete, 1.5 in all" in sheet.chart.legend[0]
    keeper.wait(sheet.view.hasFocus)
    shared = [box for box in sheet.chart.boxes if box.shape == SHARED]
    assert [box.words for box in shared] == ["B1 Ythan, shared, 18.75 % through him"]
    # Another in its place: the figure goes until it is there.
    sheet.lines[1].setFocus()
    sheet.lines[1].selectAll()
    keeper.type("Tamar")
    assert sheet.told is None
    assert sheet.figure.isHidden()
    keeper.calm()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: sheet.told is not None)
    assert sheet.figure.text() == "Not known: nothing is known behind 5 Tamar"
    dialog.accept()
    keeper.in_window()


def test_the_same_animal_twice_is_refused_in_words(keeper: Keeper) -> None:
    dialog = opened(keeper)
    keeper.press(K.Key_W, ALT)
    keeper.type("Wharfe")
    keeper.calm()
    keeper.press(K.Key_Return)
    keeper.wait(lambda: dialog.pair.words.text() == "Choose two different animals.")
    assert dialog.pair.chart is None
    dialog.accept()
    keeper.in_window()


def test_figures_that_are_not_known_are_never_shown_as_nil(herd: Herd) -> None:
    with herd.book.read() as conn:
        told = explain(conn, herd.id["5"], herd.id["B1"])
        known = explain(conn, herd.id["4"], herd.id["3"])
    assert figure_words(told) == "Not known: nothing is known behind 5 Tamar and B1 Ythan"
    assert figure_words(known) == "Their calf's inbreeding 18.75 % · little known"
    in_doubt = replace(known, expected=0.125, exact=False)
    words = "Their calf's inbreeding 18.75 % at most, 12.5 % expected · little known"
    assert figure_words(in_doubt) == words
    assert figure_words(replace(in_doubt, exact=True)) == words.replace("at most", "at worst")
    at_fault = replace(known, known=(replace(known.known[0], fault=True), known.known[1]), trust=Trust.FAULT)
    assert figure_words(at_fault) == "Not known: pedigree at fault, see check"
    herd.book.close()


def test_sort_opens_the_pair_that_is_chosen(keeper: Keeper) -> None:
    keeper.window.go("sort")
    keeper.calm()
    keeper.wait(lambda: keeper.page.result is not None)
    keeper.page.board.choose(keeper.herd.id["4"])
    keeper.page.board.setFocus()
    keeper.press(K.Key_P)
    dialog = keeper.dialog()
    assert isinstance(dialog, PedigreeDialog)
    assert dialog.sheet is dialog.pair
    assert dialog.pair.keys[0] == keeper.herd.id["4"]
    dialog.accept()
    keeper.in_window()


def test_calving_shows_how_the_parents_of_the_calf_are_related(keeper: Keeper) -> None:
    herd = keeper.herd
    herd.do(TurnIn((herd.id["3"],), (herd.id["4"],), date(2025, 6, 1), date(2025, 7, 1)))
    keeper.window.go("calving")
    keeper.wait(lambda: keeper.page.panel.table.row() is not None)
    keeper.press(K.Key_P)
    dialog = keeper.dialog()
    assert isinstance(dialog, PedigreeDialog)
    assert dialog.pair.keys == [herd.id["4"], herd.id["3"]]
    keeper.wait(lambda: dialog.pair.told is not None)
    assert dialog.pair.view.hasFocus()
    dialog.accept()
    keeper.in_window()


def test_the_picture_is_saved_as_svg_and_png(keeper: Keeper, saved: SimpleNamespace) -> None:
    dialog = opened(keeper)
    keeper.press(K.Key_S, CONTROL)
    root = ET.fromstring(saved.path.read_text(encoding="utf-8"))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = "".join(root.itertext())
    for text in ("Pedigree of 3 Wharfe", "B1 Ythan", "again: see the first A", "not known"):
        assert text in words
    saved.path = saved.path.with_suffix(".png")
    keeper.press(K.Key_S, CONTROL)
    image = QImage(str(saved.path))
    assert image.width() > 400
    assert image.height() > 200
    colours = {image.pixelColor(x, y).name() for x in range(0, image.width(), 3) for y in range(0, 300, 3)}
    assert len(colours) > 3
    assert keeper.told[-1].startswith("Written to")
    dialog.accept()
    keeper.in_window()


def test_the_picture_is_printed(keeper: Keeper, saved: SimpleNamespace) -> None:
    dialog = opened(keeper)
    saved.path = saved.path.with_suffix(".pdf")
    keeper.press(K.Key_P, CONTROL)
    keeper.wait(lambda: saved.opened == [saved.path])
    document = pypdfium2.PdfDocument(saved.path)
    text = document[0].get_textpage().get_text_range()
    document.close()
    assert "Pedigree of 3 Wharfe" in text
    assert "B1 Ythan" in text
    dialog.accept()
    keeper.in_window()


def test_a_change_in_the_book_is_drawn(keeper: Keeper) -> None:
    dialog = opened(keeper)
    keeper.press(K.Key_O, ALT)
    assert titles(dialog.offspring) == {"3 Wharfe"}
    keeper.herd.do(AddAnimal(tag="9", sex="F", born=PartDay(ON), sire=keeper.herd.id["3"]))
    keeper.wait(lambda: "9" in titles(dialog.offspring))
    dialog.accept()
    keeper.in_window()


@pytest.mark.parametrize("look", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
def test_every_text_and_mark_of_a_box_can_be_read(look: theme.Colours) -> None:
    """At least 4.5 to 1 for text: title in ink, lines in slate, marks in clay and ochre, on both grounds."""
    for tone in (look.ink, look.slate, look.clay, look.ochre):
        assert theme.contrast(tone, look.paper) >= 4.5
    assert theme.contrast(look.ink, look.chosen) >= 4.5
    assert theme.contrast(look.slate, look.chosen) >= 4.5


def test_shapes_are_told_apart_without_colour(keeper: Keeper) -> None:
    """In one colour a repeated, an unknown and a plain ancestor are three different outlines."""
    dialog = opened(keeper)
    grey = theme.Colours(False, *["#ffffff", "#000000", "#000000", *["#000000"] * 4, "#ffffff"])
    seen = {}
    scene = scene_of(dialog.ancestors.chart, grey)
    for item in scene.items():
        if isinstance(item, BoxItem):
            area = QRect(0, 0, int(item.placed.width) + 4, int(item.placed.height) + 4)
            image = QImage(area.size(), QImage.Format.Format_RGB32)
            image.fill(Qt.GlobalColor.white)
            painter = QPainter(image)
            item._outline(painter, grey)
            painter.end()
            dark = sum(
                image.pixelColor(x, y).lightness() < 128
                for x in range(image.width())
                for y in range(image.height())
            )
            seen.setdefault(item.box.shape, dark / (image.width() + image.height()))
    assert {AGAIN, UNKNOWN} <= set(seen)
    assert len({round(value, 2) for value in seen.values()}) == len(seen)
    dialog.accept()
    keeper.in_window()
