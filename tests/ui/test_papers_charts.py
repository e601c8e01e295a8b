"""The pictures among the papers: chosen, looked over, printed and saved by keys."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pypdfium2
import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal
from herdbook.services.commands.genetics import TestGenes
from herdbook.ui.pedigree.sheets import shown
from tests.services.conftest import Herd
from tests.ui.real_book import ON, Keeper

K = Qt.Key


@pytest.fixture
def herd(tmp_path: Path) -> Herd:
    """Wharfe is by Ythan out of Lune, and Eden is Ythan's too: both carry what Ythan carries."""
    h = Herd(Book.create(tmp_path / "herd.herdbook", who="keeper"), ON)
    h.add("B1", "M", date(2014, 3, 1), name="Ythan")
    h.add("1", "F", date(2013, 3, 1), name="Lune")
    h.add("2", "F", date(2017, 3, 1), name="Eden", dam=h.id["1"], sire=h.id["B1"])
    h.add("3", "M", date(2020, 3, 1), name="Wharfe", dam=h.id["1"], sire=h.id["B1"])
    return h


@pytest.fixture
def saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Answer where a file goes with `path`, and keep what was opened afterwards."""
    kept = SimpleNamespace(path=tmp_path / "picture.pdf", opened=[])

    def look(url: QUrl) -> bool:
        kept.opened.append(Path(url.toLocalFile()))
        return True

    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, **__: (str(kept.path), ""))
    monkeypatch.setattr(QDesktopServices, "openUrl", look)
    return kept


@pytest.fixture
def keeper(qtbot: QtBot, qapp: QApplication, herd: Herd, saved: SimpleNamespace) -> Iterator[Keeper]:
    """Return a keeper before the list of papers."""
    keeper = Keeper(qtbot, qapp, herd, first="today")
    keeper.window.go("papers")
    keeper.page.setFocus()
    keeper.calm()
    yield keeper
    keeper.close()


def into(keeper: Keeper, key: str) -> Any:
    """Go into a paper by its key and Right; return its preview."""
    keeper.page.open(key)
    keeper.press(K.Key_Right)
    return keeper.page.preview


def named(keeper: Keeper, name: str) -> None:
    """Type the name of an animal and take it."""
    keeper.type(name)
    keeper.calm()
    keeper.press(K.Key_Return)
    keeper.calm()


def text_of(path: Path) -> str:
    """Return the text of a PDF's first page."""
    document = pypdfium2.PdfDocument(path)
    try:
        return str(document[0].get_textpage().get_text_range())
    finally:
        document.close()


def test_a_pedigree_is_chosen_and_printed(keeper: Keeper, saved: SimpleNamespace) -> None:
    preview = into(keeper, "pedigree")
    assert preview.line.hasFocus()
    assert keeper.page.export_button.text() == "As a picture… (E)"
    named(keeper, "Wharfe")
    keeper.wait(preview.sheet.view.hasFocus)
    assert {"3 Wharfe", "B1 Ythan", "1 Lune"} <= {box.title for box in preview.sheet.chart.boxes}
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened == [saved.path])
    assert "Pedigree of 3 Wharfe" in text_of(saved.path)
    keeper.page.open("due")
    assert keeper.page.export_button.text() == "As a sheet… (E)"


def test_a_letter_goes_into_the_line_of_the_animal(keeper: Keeper, saved: SimpleNamespace) -> None:
    preview = into(keeper, "offspring")
    keeper.type("pe")
    assert preview.line.text() == "pe"
    keeper.calm()
    assert saved.opened == []


def test_the_offspring_follow_the_book(keeper: Keeper) -> None:
    preview = into(keeper, "offspring")
    named(keeper, "Lune")
    keeper.wait(lambda: preview.sheet.chart is not None)
    assert "2 Eden" in {box.title for box in preview.sheet.chart.boxes}
    keeper.herd.do(ChangeAnimal(keeper.herd.id["2"], sex="F", name="Ure", dam=keeper.herd.id["1"]))
    keeper.wait(lambda: "2 Ure" in {box.title for box in preview.sheet.chart.boxes})


def test_without_an_animal_nothing_is_written(keeper: Keeper, saved: SimpleNamespace) -> None:
    """P and E lead to the line in which the animal is chosen."""
    keeper.page.open("pair")
    for key in (K.Key_P, K.Key_E):
        keeper.page.list.setFocus()
        keeper.press(key)
        keeper.wait(keeper.page.preview.sheet.lines[0].hasFocus)
    assert not saved.path.exists()


def test_what_a_pair_could_give_is_on_paper_and_on_the_picture(
    keeper: Keeper, saved: SimpleNamespace
) -> None:
    """Two carriers: 25 % of an affected calf, said above the picture wherever it goes."""
    for tag in ("2", "3"):
        keeper.herd.do(TestGenes(keeper.herd.id[tag], date(2026, 1, 5), "am", "carrier"))
    preview = into(keeper, "pair")
    named(keeper, "Eden")
    named(keeper, "Wharfe")
    keeper.wait(lambda: preview.sheet.told is not None)
    risk = preview.sheet.chart.warnings[0]
    assert risk.startswith("25.0 % of an affected calf")
    assert preview.sheet.risks.text().startswith(shown(risk))
    keeper.wait(preview.sheet.view.hasFocus)
    keeper.press(K.Key_P)
    keeper.wait(lambda: saved.opened == [saved.path])
    assert "25.0 % of an affected calf" in text_of(saved.path)
    assert "your vet's" in text_of(saved.path)
    saved.path = saved.path.with_suffix(".svg")
    keeper.press(K.Key_E)
    words = "".join(ET.fromstring(saved.path.read_text(encoding="utf-8")).itertext())
    assert "25.0 % of an affected calf" in words
    assert "your vet's" in words
