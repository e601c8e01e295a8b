"""A chart drawn: boxes and lines of a field book, the same on the screen and in files."""

from __future__ import annotations

import textwrap
from pathlib import Path

from PySide6.QtCore import QMarginsF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import (
    QGraphicsItem,
    QGraphicsPathItem,
    QGraphicsScene,
    QGraphicsSimpleTextItem,
    QStyleOptionGraphicsItem,
    QWidget,
)

from herdbook.services.drawing import Drawing, Measures, PlacedBox, laid_out
from herdbook.services.queries.chart import AGAIN, DOUBTFUL, GROUP, ROOT, SHARED, UNKNOWN, Chart
from herdbook.ui import theme

MARGIN = 12.0
PICTURE_SCALE = 2.0  # of a PNG, so that it can be printed
LEGEND_CHARACTERS = 100  # of a line of the legend, which stands below the drawing
LINE = 1.2  # of the type's own height
MOST_PIXELS = 12_000  # along one side of a PNG
ROOT_EDGE, EDGE, FOCUS_EDGE = 2.0, 1.0, 3.0


def fonts() -> tuple[QFont, QFont]:
    """Return the type of the lines in a box, and that of its title."""
    return theme.body_font(theme.SMALL_POINTS), theme.strong_font()


def measured(chart: Chart) -> Drawing:
    """Return a chart laid out in the type of the screen."""
    small, strong = (QFontMetricsF(font) for font in fonts())

    def width(text: str, is_strong: bool) -> float:
        return (strong if is_strong else small).horizontalAdvance(text)

    return laid_out(chart, Measures(width, 1.15 * strong.lineSpacing()))


class BoxItem(QGraphicsItem):
    """One box. What its colour tells, its outline and its mark tell too."""

    def __init__(self, placed: PlacedBox, line: float, look: theme.Colours | None) -> None:
        super().__init__()
        self.placed = placed
        self.box = placed.box
        self.is_current = False
        self._line = line
        self._look = look
        self.setPos(placed.x, placed.y)
        self.setToolTip(self.box.words)
        self.setZValue(1.0)

    @property
    def area(self) -> QRectF:
        """Its outline, in its own coordinates."""
        return QRectF(0.0, 0.0, self.placed.width, self.placed.height)

    def boundingRect(self) -> QRectF:
        """Return what it covers, focus ring and all."""
        return self.area.adjusted(-5, -5, 5, 5)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw outline, mark, title and lines."""
        look = self._look or theme.colours()
        ink, quiet = QColor(look.ink), QColor(look.slate)
        shape = self.box.shape
        if self.is_current:
            painter.setPen(QPen(QColor(look.moss), FOCUS_EDGE))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(self.area.adjusted(-3.5, -3.5, 3.5, 3.5), 5, 5)
        self._outline(painter, look)
        pad = 0.6 * self._line
        small, strong = fonts()
        top = 0.25 * self._line
        if self.box.mark:
            painter.setFont(strong)
            tone = {SHARED: look.clay, DOUBTFUL: look.ochre, AGAIN: look.ochre}.get(shape, look.ink)
            painter.setPen(QColor(tone))
            room = QRectF(pad, top, self.placed.width - 2 * pad, self._line)
            painter.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self.box.mark)
        painter.setFont(small if shape in (UNKNOWN, GROUP) else strong)
        painter.setPen(quiet if shape == UNKNOWN else ink)
        for number, text in enumerate((self.box.title, *self.box.lines)):
            if number:
                painter.setFont(small)
                painter.setPen(quiet)
            room = QRectF(pad, top + number * self._line, self.placed.width, self._line)
            painter.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)

    def _outline(self, painter: QPainter, look: theme.Colours) -> None:
        """Draw the edge that tells what kind of box it is."""
        area, shape = self.area, self.box.shape
        tones = {SHARED: look.clay, DOUBTFUL: look.ochre, AGAIN: look.ochre, ROOT: look.moss}
        pen = QPen(QColor(tones.get(shape, look.slate)), ROOT_EDGE if shape == ROOT else EDGE)
        painter.setBrush(QColor(look.chosen if shape == ROOT else look.paper))
        if shape == GROUP:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.drawRect(area)
            painter.setPen(pen)
            painter.drawLine(area.bottomLeft(), area.bottomRight())
            return
        if shape in (UNKNOWN, DOUBTFUL):
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.drawPath(_dog_eared(area) if shape == AGAIN else _squared(area))
        if shape == SHARED:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(_squared(area.adjusted(2.5, 2.5, -2.5, -2.5)))


def _squared(area: QRectF) -> QPainterPath:
    path = QPainterPath()
    path.addRect(area)
    return path


def _dog_eared(area: QRectF) -> QPainterPath:
    """Return a box with its lower right corner turned over, as of a page to be found again."""
    ear = min(10.0, area.height() / 3)
    path = QPainterPath(area.topLeft())
    path.lineTo(area.topRight())
    path.lineTo(area.right(), area.bottom() - ear)
    path.lineTo(area.right() - ear, area.bottom())
    path.lineTo(area.bottomLeft())
    path.closeSubpath()
    path.moveTo(area.right() - ear, area.bottom())
    path.lineTo(area.right() - ear, area.bottom() - ear)
    path.lineTo(area.right(), area.bottom() - ear)
    return path


def scene_of(chart: Chart, look: theme.Colours | None = None) -> QGraphicsScene:
    """Return a chart with its legend as a scene; without a `look` it follows the window's."""
    drawing = measured(chart)
    small, strong = fonts()
    line = 1.15 * QFontMetricsF(strong).lineSpacing()
    scene = QGraphicsScene()
    colours = look or theme.colours()
    for one in drawing.lines:
        path = QPainterPath()
        path.moveTo(*one.points[0])
        for point in one.points[1:]:
            path.lineTo(*point)
        item = QGraphicsPathItem(path)
        pen = QPen(QColor(colours.slate), 1.3)
        if one.dashed:
            pen.setStyle(Qt.PenStyle.DashLine)
        item.setPen(pen)
        scene.addItem(item)
    for x, base, words in drawing.headings:
        heading = QGraphicsSimpleTextItem(words)
        heading.setFont(small)
        heading.setBrush(QColor(colours.slate))
        heading.setPos(x, base - line)
        scene.addItem(heading)
    for placed in drawing.boxes:
        scene.addItem(BoxItem(placed, line, look))
    low = drawing.height + 0.3 * line
    for text in chart.legend:
        for part in textwrap.wrap(text, LEGEND_CHARACTERS):
            low += _write(scene, part, small, colours.slate, low)
    area = QRectF(0, 0, drawing.width, low).united(scene.itemsBoundingRect())
    scene.setSceneRect(area.marginsAdded(QMarginsF(*([MARGIN] * 4))))
    return scene


# -- files --


def save(chart: Chart, path: Path) -> None:
    """Write a chart as a picture, by the ending of `path`: .svg or .png.

    Dark on light whatever the window looks like, since pictures are printed and sent.

    Raises
    ------
    OSError
        If the file cannot be written.
    ValueError
        For another ending.
    """
    scene = _with_words(chart)
    area = scene.sceneRect()
    if path.suffix.lower() == ".svg":
        _save_svg(scene, area, chart, path)
    elif path.suffix.lower() == ".png":
        _save_png(scene, area, path)
    else:
        raise ValueError(f"A picture is .svg or .png, not {path.suffix!r}.")


def _with_words(chart: Chart) -> QGraphicsScene:
    """Return the scene with its title above, its sentence, and what is to be minded."""
    look = theme.LIGHT
    scene = scene_of(chart, look)
    area = scene.sceneRect()
    small, strong = fonts()
    texts = [(chart.title, strong, look.ink), (chart.subtitle, small, look.ink)]
    texts += [(text, small, look.clay) for text in chart.warnings]
    lines = [
        (line, font, tone) for text, font, tone in texts for line in textwrap.wrap(text, LEGEND_CHARACTERS)
    ]
    high = area.top()
    for line, font, tone in reversed(lines):
        high -= QFontMetricsF(font).lineSpacing() * LINE
        _write(scene, line, font, tone, high)
    whole = scene.itemsBoundingRect().marginsAdded(QMarginsF(*([MARGIN] * 4)))
    scene.setSceneRect(whole.united(area))
    return scene


def _write(scene: QGraphicsScene, text: str, font: QFont, colour: str, top: float) -> float:
    item = QGraphicsSimpleTextItem(text)
    item.setFont(font)
    item.setBrush(QColor(colour))
    item.setPos(0.0, top)
    scene.addItem(item)
    return QFontMetricsF(font).lineSpacing() * LINE


def _save_svg(scene: QGraphicsScene, area: QRectF, chart: Chart, path: Path) -> None:
    from PySide6.QtCore import QBuffer, QIODevice
    from PySide6.QtSvg import QSvgGenerator

    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setTitle(chart.title)
    generator.setDescription(chart.subtitle)
    generator.setSize(area.size().toSize())
    generator.setViewBox(QRectF(0, 0, area.width(), area.height()))
    painter = QPainter(generator)
    painter.fillRect(QRectF(0, 0, area.width(), area.height()), QColor(theme.LIGHT.paper))
    scene.render(painter, QRectF(0, 0, area.width(), area.height()), area)
    painter.end()
    _put(bytes(buffer.data().data()), path)


def _save_png(scene: QGraphicsScene, area: QRectF, path: Path) -> None:
    from PySide6.QtCore import QBuffer, QIODevice

    scale = min(PICTURE_SCALE, MOST_PIXELS / max(area.width(), area.height()))
    size: QSize = QSizeF(area.width() * scale, area.height() * scale).toSize()
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.LIGHT.paper))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    scene.render(painter, QRectF(0, 0, size.width(), size.height()), area)
    painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    _put(bytes(buffer.data().data()), path)


def _put(data: bytes, path: Path) -> None:
    """Write a file aside and put it in its place whole."""
    import os

    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
