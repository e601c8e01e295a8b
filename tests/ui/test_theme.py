"""The look: contrast, sizes, and light and dark."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from herdbook.ui import theme


def test_contrast_knows_black_on_white() -> None:
    """Black on white is 21:1 and a colour on itself 1:1 (WCAG 2.1, the ends of its scale)."""
    assert theme.contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert theme.contrast("#47664A", "#47664A") == pytest.approx(1)


@pytest.mark.parametrize("look", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
@pytest.mark.parametrize("colour", ["ink", "moss", "ochre", "clay", "slate"])
def test_text_stands_out(look: theme.Colours, colour: str) -> None:
    """Text reads at 4.5:1 on paper and on the chosen row; that is more than the 3:1 that marks need."""
    for ground in (look.paper, look.chosen):
        assert theme.contrast(getattr(look, colour), ground) >= 4.5


@pytest.mark.parametrize("look", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
def test_filled_button_stands_out(look: theme.Colours) -> None:
    """The word on the filled button is paper on moss."""
    assert theme.contrast(look.paper, look.moss) >= 4.5


def test_environment_forces_the_look(qapp: QApplication, monkeypatch: pytest.MonkeyPatch) -> None:
    """HERDBOOK_LOOK wins over the choice; without it the choice stands."""
    monkeypatch.setenv("HERDBOOK_LOOK", "dark")
    theme.apply(qapp, "light")
    assert theme.colours() is theme.DARK
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == theme.DARK.paper
    monkeypatch.delenv("HERDBOOK_LOOK")
    theme.apply(qapp, "light")
    assert theme.colours() is theme.LIGHT


def test_widgets_take_the_palette(qtbot: QtBot, qapp: QApplication) -> None:
    """A widget made before the look turns is drawn in the new one after."""
    theme.apply(qapp, "light")
    line = QLineEdit("412")
    qtbot.addWidget(line)
    line.show()
    theme.apply(qapp, "dark")
    ground = line.grab().toImage().pixelColor(line.width() // 2, line.height() - 6).name().upper()
    assert ground == theme.DARK.paper
    theme.apply(qapp, "light")


def test_sizes(qapp: QApplication) -> None:
    """Body 11 pt, title 18 pt semi-bold, rows of 32 pixels or more."""
    theme.apply(qapp, "light")
    assert qapp.font().pointSizeF() == 11
    assert theme.title_font().pointSizeF() == 18
    assert theme.title_font().weight() == 600
    assert theme.row_height() >= 32
