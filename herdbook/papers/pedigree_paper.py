"""A chart of kinship on paper: the same drawing as in the window, on one page or spread over several."""

from __future__ import annotations

import os
from datetime import date
from math import ceil
from pathlib import Path
from typing import Any

from herdbook.papers import style
from herdbook.papers.pages import foot_line, numbered_canvas
from herdbook.services.drawing import Drawing, Measures, PlacedBox, laid_out
from herdbook.services.queries.chart import AGAIN, DOUBTFUL, GROUP, ROOT, SHARED, UNKNOWN, Chart

SMALLEST, LARGEST = 0.6, 1.3
"""Of the ordinary type: what would have to be smaller to fit a page is spread over several."""


def pedigree_paper(path: Path, chart: Chart, *, on: date, page: style.Page = "A4", herd: str = "") -> None:
    """Write a chart as a PDF, across the page; large ones over several pages, edge to edge.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    chart : Chart
    on : date
        The day that stands on every page.
    page : {"A4", "Letter"}
    herd : str
        Whose herd it is.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    style.use_fonts()
    drawing = laid_out(chart, Measures(_width, style.LEADING))
    size = style.page_size(page, landscape=drawing.width > drawing.height)
    foot = foot_line(chart.title, on, herd)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        _write(part, chart, drawing, size, foot)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _width(text: str, strong: bool) -> float:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    font = style.BOLD if strong else style.BODY
    return float(stringWidth(text, font, style.HEAD_SIZE if strong else style.SMALL_SIZE))


def _write(path: Path, chart: Chart, drawing: Drawing, size: tuple[float, float], foot: str) -> None:
    width, height = size[0] - 2 * style.MARGIN, size[1] - 2 * style.MARGIN
    head = _head(chart, width)
    room = height - _height(head)
    scale = max(min(width / drawing.width, room / drawing.height, LARGEST), SMALLEST)
    pages_across = max(1, ceil(drawing.width * scale / width - 1e-9))
    pages_down = max(1, ceil(drawing.height * scale / room - 1e-9))
    canvas = numbered_canvas(foot)(str(path), pagesize=size)
    canvas.setTitle(chart.title)
    canvas.setAuthor("herdbook")
    canvas.setCreator("herdbook")
    for down in range(pages_down):
        for across in range(pages_across):
            top = size[1] - style.MARGIN
            for paragraph in head:
                _, tall = paragraph.wrap(width, height)
                paragraph.drawOn(canvas, style.MARGIN, top - tall)
                top -= tall
            canvas.saveState()
            frame = canvas.beginPath()
            frame.rect(style.MARGIN - 2, top - room - 2, width + 4, room + 4)
            canvas.clipPath(frame, stroke=0)
            canvas.translate(style.MARGIN - across * width, top + down * room)
            canvas.scale(scale, scale)
            _draw(canvas, drawing)
            canvas.restoreState()
            canvas.showPage()
    canvas.save()


def _head(chart: Chart, width: float) -> list[Any]:
    """Return what stands above the drawing as paragraphs, on every page of a large chart."""
    from xml.sax.saxutils import escape

    from reportlab.platypus import Paragraph

    texts = [
        (chart.title, style.paragraph(bold=True, size=style.TITLE_SIZE)),
        (chart.subtitle, style.paragraph()),
        *((text, style.paragraph(bold=True)) for text in chart.warnings),
        *((text, style.paragraph(colour=style.QUIET, size=style.SMALL_SIZE)) for text in chart.legend),
        (" ", style.paragraph(size=style.SMALL_SIZE)),
    ]
    made = [Paragraph(escape(text), how) for text, how in texts if text]
    for paragraph in made:
        paragraph.wrap(width, 10_000)
    return made


def _height(paragraphs: list[Any]) -> float:
    return float(sum(paragraph.height for paragraph in paragraphs))


def _draw(canvas: Any, drawing: Drawing) -> None:
    """Draw everything with its upper left corner at the origin; on paper heights count downwards from it."""
    from reportlab.lib.colors import HexColor

    canvas.setStrokeColor(HexColor(style.QUIET))
    canvas.setLineWidth(0.7)
    for line in drawing.lines:
        canvas.setDash(*((3, 2) if line.dashed else ()))
        path = canvas.beginPath()
        path.moveTo(line.points[0][0], -line.points[0][1])
        for x, y in line.points[1:]:
            path.lineTo(x, -y)
        canvas.drawPath(path)
    canvas.setDash()
    canvas.setFillColor(HexColor(style.QUIET))
    canvas.setFont(style.BODY, style.SMALL_SIZE)
    for x, base, text in drawing.headings:
        canvas.drawString(x, -base, text)
    for placed in drawing.boxes:
        _box(canvas, placed)


def _box(canvas: Any, placed: PlacedBox) -> None:
    from reportlab.lib.colors import HexColor

    box, x, low = placed.box, placed.x, -(placed.y + placed.height)
    canvas.setFillColor(HexColor(style.SHADE if box.shape == ROOT else "#FFFFFF"))
    canvas.setStrokeColor(HexColor(style.INK))
    canvas.setLineWidth(1.4 if box.shape == ROOT else 0.7)
    canvas.setDash(*((3, 2) if box.shape in (UNKNOWN, DOUBTFUL) else ()))
    canvas.rect(x, low, placed.width, placed.height, fill=1, stroke=0 if box.shape == GROUP else 1)
    canvas.setDash()
    if box.shape == GROUP:
        canvas.line(x, low, x + placed.width, low)
    elif box.shape == SHARED:
        canvas.rect(x + 2, low + 2, placed.width - 4, placed.height - 4, fill=0)
    elif box.shape == AGAIN:
        ear = min(6.0, placed.height / 3)
        right = x + placed.width
        canvas.line(right - ear, low, right, low + ear)
    pad, line = 0.6 * style.LEADING, style.LEADING
    base = -placed.y - 0.25 * line - 0.78 * line
    for number, text in enumerate((box.title, *box.lines)):
        strong = number == 0 and box.shape not in (UNKNOWN, GROUP)
        canvas.setFont(*((style.BOLD, style.HEAD_SIZE) if strong else (style.BODY, style.SMALL_SIZE)))
        canvas.setFillColor(HexColor(style.INK if strong else style.QUIET))
        canvas.drawString(x + pad, base - number * line, text)
    if box.mark:
        canvas.setFont(style.BOLD, style.HEAD_SIZE)
        canvas.setFillColor(HexColor(style.INK))
        canvas.drawRightString(x + placed.width - pad, base, box.mark)
