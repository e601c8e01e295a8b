"""Colours, type and spacing: the one place where the look is decided; no page has a style of its own."""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontMetrics, QPalette
from PySide6.QtWidgets import QApplication, QFrame, QLabel, QPushButton, QWidget

from herdbook._places import resource

BODY_POINTS = 11.0
SMALL_POINTS = 10.0
TITLE_POINTS = 18.0
STEP = 4
PAGE_MARGIN = 24
ROW_AT_LEAST = 32


@dataclass(frozen=True)
class Colours:
    """One set of colours, each named for what it says.

    Parameters
    ----------
    dark : bool
        Whether this is the set for dark rooms.
    paper, ink, line : str
        Ground, text, and the thin rules between things.
    moss, ochre, clay, slate : str
        Go or chosen; soon, look here; act, danger; secondary text and the edges of entry fields.
    chosen : str
        The ground of the row that is chosen (paper with a little moss).
    """

    dark: bool
    paper: str
    ink: str
    line: str
    moss: str
    ochre: str
    clay: str
    slate: str
    chosen: str

    def tone(self, name: str) -> QColor:
        """Return the colour for a tone: "go", "soon", "act", "quiet", or ink for anything else."""
        by_tone = {"go": self.moss, "soon": self.ochre, "act": self.clay, "quiet": self.slate}
        return QColor(by_tone.get(name, self.ink))


LIGHT = Colours(
    dark=False,
    paper="#FBF9F4",
    ink="#23302B",
    line="#DAD5C8",
    moss="#47664A",
    ochre="#8F5C10",
    clay="#9C3F28",
    slate="#55646F",
    chosen="#EAEEE4",
)
DARK = Colours(
    dark=True,
    paper="#1F2421",
    ink="#ECE8DD",
    line="#3A423D",
    moss="#8FB58F",
    ochre="#E0B060",
    clay="#E58A72",
    slate="#A9B7C0",
    chosen="#2E3A32",
)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21.

    Source: W3C, Web Content Accessibility Guidelines 2.1, "contrast ratio" and "relative luminance".
    """

    def luminance(colour: str) -> float:
        parts = (QColor(colour).redF(), QColor(colour).greenF(), QColor(colour).blueF())
        red, green, blue = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def colours() -> Colours:
    """Return the set in use now."""
    app = QApplication.instance()
    return DARK if app is not None and app.property("herdbook_dark") else LIGHT


def body_font(points: float = BODY_POINTS) -> QFont:
    """Return the system's own font at `points`, with figures of one width."""
    font = QFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont))
    font.setPointSizeF(points)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


def title_font() -> QFont:
    """Return the font of a page's title."""
    font = body_font(TITLE_POINTS)
    font.setWeight(QFont.Weight.DemiBold)
    return font


def strong_font() -> QFont:
    """Return the body font, semi-bold: headings of cards and groups."""
    font = body_font()
    font.setWeight(QFont.Weight.DemiBold)
    return font


@lru_cache(maxsize=8)
def _row_height(spacing: int) -> int:
    return max(ROW_AT_LEAST, spacing + 3 * STEP)


def row_height() -> int:
    """Return the height of a table row in this font, in pixels; never under 32."""
    return _row_height(QFontMetrics(body_font()).lineSpacing())


def characters(count: float) -> int:
    """Return the width of `count` figures of body type in pixels: sizes follow the font, not the screen."""
    return round(QFontMetrics(body_font()).horizontalAdvance("0") * count)


def resize_on_screen(window: QWidget, width: int, height: int) -> None:
    """Give a dialog its size at first, in pixels; where the screen is smaller, what fits on it."""
    room = window.screen().availableGeometry()
    window.resize(min(width, room.width() - 8 * STEP), min(height, room.height() - 12 * STEP))


def _palette(look: Colours) -> QPalette:
    roles = QPalette.ColorRole
    palette = QPalette()
    for role, colour in {
        roles.Window: look.paper,
        roles.Base: look.paper,
        roles.AlternateBase: look.paper,
        roles.Button: look.paper,
        roles.ToolTipBase: look.paper,
        roles.WindowText: look.ink,
        roles.Text: look.ink,
        roles.ButtonText: look.ink,
        roles.ToolTipText: look.ink,
        roles.BrightText: look.clay,
        roles.PlaceholderText: look.slate,
        roles.Highlight: look.moss,
        roles.HighlightedText: look.paper,
        roles.Accent: look.moss,
        roles.Link: look.moss,
        roles.LinkVisited: look.moss,
        roles.Light: look.line,
        roles.Midlight: look.line,
        roles.Mid: look.line,
        roles.Dark: look.slate,
        roles.Shadow: look.line,
    }.items():
        palette.setColor(role, QColor(colour))
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(look.slate))
    return palette


def _sheet(look: Colours) -> str:
    """Return the style sheet: edges, focus rings and the few roles that a palette cannot carry."""
    name = "dark" if look.dark else "light"
    arrow, tick = (resource(f"{drawn}-{name}.png").as_posix() for drawn in ("down", "tick"))
    return f"""
    QToolTip {{ border: 1px solid {look.slate}; padding: 4px; }}
    QLineEdit, QPlainTextEdit, QComboBox {{
        background: {look.paper}; color: {look.ink};
        border: 1px solid {look.slate}; border-radius: 3px; padding: 4px 6px;
        selection-background-color: {look.moss}; selection-color: {look.paper};
    }}
    QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus {{
        border: 2px solid {look.moss}; padding: 3px 5px;
    }}
    QLineEdit[wrong="true"], QPlainTextEdit[wrong="true"], QComboBox[wrong="true"] {{
        border: 2px solid {look.clay}; padding: 3px 5px;
    }}
    QLineEdit, QPlainTextEdit {{ placeholder-text-color: {look.slate}; }}
    QComboBox::drop-down {{ border: 0; width: 24px; }}
    QComboBox::down-arrow {{ image: url("{arrow}"); width: 12px; height: 12px; }}
    QAbstractScrollArea::corner {{ background: {look.paper}; border: 0; }}
    QScrollBar {{ background: {look.paper}; border: 0; margin: 0; }}
    QScrollBar:vertical {{ width: 12px; }}
    QScrollBar:horizontal {{ height: 12px; }}
    QScrollBar::handle {{ background: {look.slate}; border: 3px solid {look.paper}; border-radius: 6px; }}
    QScrollBar::handle:vertical {{ min-height: 32px; }}
    QScrollBar::handle:horizontal {{ min-width: 32px; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: {look.paper}; }}
    QComboBox QAbstractItemView {{ border: 1px solid {look.slate}; background: {look.paper}; outline: 0; }}
    QPushButton {{
        background: {look.paper}; color: {look.ink};
        border: 1px solid {look.slate}; border-radius: 3px; padding: 6px 14px;
    }}
    QPushButton:focus {{ border: 2px solid {look.moss}; padding: 5px 13px; }}
    QPushButton:pressed {{ background: {look.chosen}; }}
    QPushButton:disabled {{ color: {look.slate}; border: 1px solid {look.line}; }}
    QPushButton[role="go"] {{ background: {look.moss}; color: {look.paper}; border: 2px solid {look.moss};
        padding: 5px 13px; }}
    QPushButton[role="go"]:focus {{ border: 2px solid {look.ink}; }}
    QPushButton[role="go"]:disabled {{ background: {look.paper}; color: {look.slate};
        border: 2px solid {look.line}; }}
    QPushButton[role="link"] {{ background: transparent; color: {look.moss}; border: 2px solid transparent;
        padding: 3px 2px; text-align: left; }}
    QPushButton[role="link"]:focus {{ border: 2px solid {look.moss}; }}
    QCheckBox, QRadioButton {{ padding: 3px; border: 2px solid transparent; }}
    QCheckBox:focus, QRadioButton:focus {{ border: 2px solid {look.moss}; border-radius: 3px; }}
    QCheckBox::indicator, QListView::indicator {{ width: 16px; height: 16px;
        border: 1px solid {look.slate}; border-radius: 3px; }}
    QCheckBox::indicator:checked, QListView::indicator:checked {{ image: url("{tick}"); }}
    QTableView, QTreeView, QListView {{ background: {look.paper}; border: 2px solid {look.paper};
        gridline-color: {look.line}; outline: 0;
        selection-background-color: {look.chosen}; selection-color: {look.ink}; }}
    QListView::item {{ min-height: 26px; padding: 3px 8px; }}
    QListView::item:selected {{ background: {look.chosen}; color: {look.ink}; }}
    QTableView:focus, QTreeView:focus, QListView:focus {{ border: 2px solid {look.moss}; }}
    QHeaderView, QHeaderView::section {{ background: {look.paper}; color: {look.slate}; border: 0; }}
    QHeaderView::section {{ border-bottom: 1px solid {look.slate}; padding: 6px 8px; }}
    QTableCornerButton::section {{ background: {look.paper}; border: 0; }}
    QLabel[role="quiet"] {{ color: {look.slate}; }}
    QLabel[role="soon"] {{ color: {look.ochre}; }}
    QLabel[role="act"] {{ color: {look.clay}; }}
    QLabel[role="go"] {{ color: {look.moss}; }}
    QFrame[role="rule"] {{ background: {look.line}; border: 0; }}
    QMenuBar {{ background: {look.paper}; }}
    QMenuBar::item {{ padding: 4px 10px; background: transparent; }}
    QMenuBar::item:selected {{ background: {look.moss}; color: {look.paper}; }}
    QMenu {{ background: {look.paper}; border: 1px solid {look.slate}; padding: 4px; }}
    QMenu::item {{ padding: 6px 24px 6px 12px; }}
    QMenu::item:selected {{ background: {look.moss}; color: {look.paper}; }}
    QMenu::item:disabled {{ color: {look.slate}; }}
    QMenu::separator {{ height: 1px; background: {look.line}; margin: 4px 8px; }}
    QScrollArea {{ border: 0; background: {look.paper}; }}
    QTabBar::tab {{ background: transparent; color: {look.slate}; padding: 6px 12px;
        border: 2px solid transparent; }}
    QTabBar::tab:selected {{ color: {look.ink}; border-bottom: 2px solid {look.moss}; }}
    QTabBar::tab:selected:focus {{ border: 2px solid {look.moss}; }}
    QSplitter::handle {{ background: {look.line}; }}
    QProgressBar {{ border: 1px solid {look.slate}; border-radius: 3px; background: {look.paper};
        text-align: center; }}
    QProgressBar::chunk {{ background: {look.moss}; }}
    """


def wants_dark(app: QApplication, choice: str = "system") -> bool:
    """Return whether the dark set is wanted: HERDBOOK_LOOK, then the keeper's choice, then the system."""
    choice = os.environ.get("HERDBOOK_LOOK") or choice
    if choice in ("light", "dark"):
        return choice == "dark"
    return app.styleHints().colorScheme() == Qt.ColorScheme.Dark


class _Follower(QObject):
    """Puts the look on again when the system turns light or dark."""

    def __init__(self, app: QApplication) -> None:
        super().__init__(app)
        self.choice = "system"
        app.styleHints().colorSchemeChanged.connect(self.put_on)

    def put_on(self) -> None:
        """Give the application the set of colours that is wanted now."""
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        dark = wants_dark(app, self.choice)
        look = DARK if dark else LIGHT
        app.setProperty("herdbook_dark", dark)
        app.setPalette(_palette(look))
        app.setStyleSheet(_sheet(look))


def apply(app: QApplication, choice: str = "system") -> None:
    """Give the application its style, font and colours, and let it follow the system from now on.

    Parameters
    ----------
    app : QApplication
    choice : {"system", "light", "dark"}
        What the keeper chose; HERDBOOK_LOOK in the environment wins.
    """
    follower = app.findChild(_Follower)
    if follower is None:
        app.setStyle("Fusion")
        app.setFont(body_font())
        follower = _Follower(app)
    follower.choice = choice
    follower.put_on()


def role(widget: QWidget, name: str) -> None:
    """Give `widget` a part to play in the look: "quiet", "soon", "act", "go", "link" or "rule"."""
    if widget.property("role") != name:
        widget.setProperty("role", name)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def title_label(text: str = "") -> QLabel:
    """Return a label in title type."""
    label = QLabel(text)
    label.setFont(title_font())
    return label


def strong_label(text: str = "") -> QLabel:
    """Return a label in semi-bold body type."""
    label = QLabel(text)
    label.setFont(strong_font())
    label.setWordWrap(True)
    return label


def quiet_label(text: str = "", tone: str = "quiet") -> QLabel:
    """Return a label for secondary text, or with a `tone` ("soon", "act", "go")."""
    label = QLabel(text)
    label.setWordWrap(True)
    role(label, tone)
    return label


def go_button(text: str) -> QPushButton:
    """Return the button for the one obvious next act."""
    button = QPushButton(text)
    role(button, "go")
    return button


def link_button(text: str) -> QPushButton:
    """Return a button that reads as a line of text."""
    button = QPushButton(text)
    role(button, "link")
    return button


def rule(upright: bool = False) -> QFrame:
    """Return a thin line to set things apart."""
    line = QFrame()
    role(line, "rule")
    if upright:
        line.setFixedWidth(1)
    else:
        line.setFixedHeight(1)
    return line
