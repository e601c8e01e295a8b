"""Any table on paper: the heading on every page, page n of m, and nothing cut off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Literal

from herdbook.papers import style
from herdbook.papers.pages import foot_line, words, write_pages
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
    needs = _needs(columns, rows)
    upright = style.page_size(page)[0] - 2 * style.MARGIN
    size = style.page_size(page, landscape=sum(needs) > upright if landscape is None else landscape)
    widths = _widths(columns, needs, size[0] - 2 * style.MARGIN)
    story = [*_head(title, subtitle), _table(columns, rows, widths)]
    if not rows:
        story.append(words(say("Nothing to list."), style.paragraph(colour=style.QUIET)))
    write_pages(path, story, title, size, foot_line(title, on, herd))


def table_of(columns: Sequence[PaperColumn], rows: Sequence[Sequence[str]], room: float) -> Any:
    """Return a table for the story of a paper, `room` points wide; its headings come again on each page."""
    return _table(columns, rows, _widths(columns, _needs(columns, rows), room))


def _needs(columns: Sequence[PaperColumn], rows: Sequence[Sequence[str]]) -> list[float]:
    return [_need(column, [row[at] for row in rows]) for at, column in enumerate(columns)]


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


def _head(title: str, subtitle: str) -> list[Any]:
    from reportlab.platypus import Spacer

    head = [words(title, style.paragraph(bold=True, size=style.TITLE_SIZE))]
    if subtitle:
        head.append(words(subtitle, style.paragraph(colour=style.QUIET)))
    return [*head, Spacer(0, 8)]


def _table(columns: Sequence[PaperColumn], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import LongTable

    headings = [words(c.heading, style.paragraph(c.align, bold=True, size=style.HEAD_SIZE)) for c in columns]
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
    return words(text, style.paragraph(column.align))
