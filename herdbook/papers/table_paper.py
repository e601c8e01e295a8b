"""Any table on paper: the heading on every page, page n of m, and nothing cut off."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Literal
from xml.sax.saxutils import escape

from herdbook.papers import style
from herdbook.words import say

Align = Literal["left", "right", "centre"]


@dataclass(frozen=True)
class PaperColumn:
    """A column of a paper.

    Parameters
    ----------
    heading : str
    align : {"left", "right", "centre"}
    width : float, optional
        A weight against the other columns'; left out, the column takes what its texts need.
    """

    heading: str
    align: Align = "left"
    width: float | None = None


def table_paper(
    path: Path,
    title: str,
    subtitle: str,
    columns: Sequence[PaperColumn],
    rows: Sequence[Sequence[str]],
    *,
    on: date,
    page: style.Page = "A4",
    herd: str = "",
    landscape: bool | None = None,
) -> None:
    """Write a table as a PDF.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    title, subtitle : str
    columns : sequence of PaperColumn
    rows : sequence of sequences of str
        As many texts in each row as there are columns; long ones wrap.
    on : date
        The day that stands on every page.
    page : {"A4", "Letter"}
    herd : str
        Whose herd it is; stands on every page where it is told.
    landscape : bool, optional
        Left out, the page is turned where the table does not fit across it.

    Raises
    ------
    ValueError
        If a row has another number of texts than there are columns, or there is no column.
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    if not columns or any(len(row) != len(columns) for row in rows):
        raise ValueError("each row has as many texts as there are columns, and there is at least one column")
    style.use_fonts()
    needs = [_need(column, [row[at] for row in rows]) for at, column in enumerate(columns)]
    upright = style.page_size(page)[0] - 2 * style.MARGIN
    size = style.page_size(page, landscape=sum(needs) > upright if landscape is None else landscape)
    widths = _widths(columns, needs, size[0] - 2 * style.MARGIN)
    story = [*_head(title, subtitle), _table(columns, rows, widths)]
    if not rows:
        story.append(_words(say("Nothing to list."), style.paragraph(colour=style.QUIET)))
    foot = say("{title} · as of {day}", title=title, day=on.isoformat())
    foot = f"{herd} · {foot}" if herd else foot
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        _build(part, title, size, story, foot)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _need(column: PaperColumn, texts: Sequence[str]) -> float:
    """Return the width in points at which the column's texts stand on one line."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    longest = max(texts, key=len, default="")
    widest = max(
        stringWidth(column.heading, style.BOLD, style.HEAD_SIZE),
        *(stringWidth(text, style.BODY, style.BODY_SIZE) for text in {longest, *texts[:2000]}),
    )
    return float(widest) + 2 * style.PAD + 1


def _widths(columns: Sequence[PaperColumn], needs: Sequence[float], room: float) -> list[float]:
    """Share the page's width out: narrow columns get what they need, the wide ones divide the rest."""
    if all(column.width is not None for column in columns):
        weights = [column.width or 0.0 for column in columns]
        return [room * weight / sum(weights) for weight in weights]
    total = sum(needs)
    if total <= room:
        return [need + (room - total) * need / total for need in needs]
    widths: list[float | None] = [None] * len(needs)
    left, open_ = room, set(range(len(needs)))
    while open_:
        fair = left / len(open_)
        fitting = {at for at in open_ if needs[at] <= fair}
        if not fitting:
            for at in open_:
                widths[at] = fair
            break
        for at in fitting:
            widths[at] = needs[at]
            left -= needs[at]
        open_ -= fitting
    return [width or 0.0 for width in widths]


def _words(text: str, how: Any) -> Any:
    from reportlab.platypus import Paragraph

    return Paragraph(escape(text).replace("\n", "<br/>"), how)


def _head(title: str, subtitle: str) -> list[Any]:
    from reportlab.platypus import Spacer

    head = [_words(title, style.paragraph(bold=True, size=style.TITLE_SIZE))]
    if subtitle:
        head.append(_words(subtitle, style.paragraph(colour=style.QUIET)))
    return [*head, Spacer(0, 8)]


def _table(columns: Sequence[PaperColumn], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import LongTable

    headings = [_words(c.heading, style.paragraph(c.align, bold=True, size=style.HEAD_SIZE)) for c in columns]
    cells = [[_cell(text, columns[at], widths[at]) for at, text in enumerate(row)] for row in rows]
    rule, shade = HexColor(style.LINE), HexColor(style.SHADE)
    look: list[tuple[Any, ...]] = [
        ("FONT", (0, 0), (-1, -1), style.BODY, style.BODY_SIZE, style.LEADING),
        ("TEXTCOLOR", (0, 0), (-1, -1), HexColor(style.INK)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 1.0, HexColor(style.INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, rule),
        ("BACKGROUND", (0, 0), (-1, 0), shade),
        ("LEFTPADDING", (0, 0), (-1, -1), style.PAD),
        ("RIGHTPADDING", (0, 0), (-1, -1), style.PAD),
        ("TOPPADDING", (0, 0), (-1, -1), 2.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    look += [
        ("ALIGN", (at, 0), (at, -1), {"left": "LEFT", "right": "RIGHT", "centre": "CENTER"}[column.align])
        for at, column in enumerate(columns)
    ]
    return LongTable([headings, *cells], colWidths=list(widths), repeatRows=1, style=look, splitInRow=1)


def _cell(text: str, column: PaperColumn, width: float) -> Any:
    """Return a short text as it is, which is quick, and a longer one as a paragraph that wraps."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    if "\n" not in text and stringWidth(text, style.BODY, style.BODY_SIZE) <= width - 2 * style.PAD:
        return text
    return _words(text, style.paragraph(column.align))


def _build(path: Path, title: str, size: tuple[float, float], story: list[Any], foot: str) -> None:
    from reportlab.platypus import SimpleDocTemplate

    document = SimpleDocTemplate(
        str(path),
        pagesize=size,
        leftMargin=style.MARGIN - style.FRAME,
        rightMargin=style.MARGIN - style.FRAME,
        topMargin=style.MARGIN,
        bottomMargin=style.MARGIN,
        title=title,
        author="herdbook",
        creator="herdbook",
    )
    document.build(story, canvasmaker=numbered_canvas(foot))


def numbered_canvas(foot: str) -> Callable[..., Any]:
    """Return a canvas that writes the foot of each page at the end, when the number of pages is known."""
    from reportlab.lib.colors import HexColor
    from reportlab.pdfgen.canvas import Canvas

    class Numbered(Canvas):  # type: ignore[misc]  # the library is not typed
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - the library's name
            self._pages.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._pages, start=1):
                self.__dict__.update(page)
                self._foot(number, len(self._pages))
                Canvas.showPage(self)
            Canvas.save(self)

        def _foot(self, number: int, of: int) -> None:
            self.setFont(style.BODY, style.SMALL_SIZE)
            self.setFillColor(HexColor(style.QUIET))
            low = style.MARGIN * 0.6
            self.drawString(style.MARGIN, low, foot)
            right = self._pagesize[0] - style.MARGIN
            self.drawRightString(right, low, say("page {n} of {m}", n=number, m=of))

    return Numbered
