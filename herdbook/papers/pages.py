"""What all papers have in common: texts that wrap, the foot with page n of m, a file put in place whole."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from herdbook.papers import style
from herdbook.words import say


def words(text: str, how: Any) -> Any:
    """Return a text as a paragraph that wraps, in a style of `style.paragraph`."""
    from reportlab.platypus import Paragraph

    return Paragraph(escape(text).replace("\n", "<br/>"), how)


def foot_line(title: str, on: date, herd: str = "") -> str:
    """Return what stands at the foot of each page: whose herd, what it is, as of which day."""
    foot = say("{title} · as of {day}", title=title, day=on.isoformat())
    return f"{herd} · {foot}" if herd else foot


def write_pages(
    path: Path,
    story: list[Any],
    title: str,
    size: tuple[float, float],
    foot: str,
    *,
    margin: float = style.MARGIN,
) -> None:
    """Write what follows one another as a PDF.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    story : list
        Flowables of the library, the first on top.
    title : str
        The file's own title.
    size : (float, float)
        Width and height of the page in points.
    foot : str
        Stands on every page beside its number.
    margin : float
        In points, on all sides; the foot keeps the margin of all papers.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    from reportlab.platypus import SimpleDocTemplate

    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        document = SimpleDocTemplate(
            str(part),
            pagesize=size,
            leftMargin=margin - style.FRAME,
            rightMargin=margin - style.FRAME,
            topMargin=margin,
            bottomMargin=style.MARGIN,
            title=title,
            author="herdbook",
            creator="herdbook",
        )
        document.build(story, canvasmaker=numbered_canvas(foot))
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


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
