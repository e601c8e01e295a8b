"""The one style of all papers: fonts with every letter and sign, sizes, colours that print well in black."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal

from herdbook._places import resource

Page = Literal["A4", "Letter"]

BODY, BOLD = "HerdbookSans", "HerdbookSans-Bold"
BODY_SIZE, HEAD_SIZE, TITLE_SIZE, SMALL_SIZE = 9.0, 9.0, 15.0, 8.0
LEADING = 12.0
MARGIN = 42.0
PAD = 5.0
FRAME = 6.0  # what the library keeps free inside the margins by itself
INK, QUIET, LINE, SHADE = "#1E2A25", "#4A5650", "#B9B4A6", "#F3F1EA"


@lru_cache(maxsize=1)
def use_fonts() -> None:
    """Make the fonts known; the built-in ones print boxes for ♀, ♂ and many letters."""
    from reportlab.lib.fonts import addMapping
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    pdfmetrics.registerFont(TTFont(BODY, str(resource("fonts/DejaVuSans.ttf"))))
    pdfmetrics.registerFont(TTFont(BOLD, str(resource("fonts/DejaVuSans-Bold.ttf"))))
    for italic in (0, 1):
        addMapping(BODY, 0, italic, BODY)
        addMapping(BODY, 1, italic, BOLD)


def page_size(page: Page, *, landscape: bool = False) -> tuple[float, float]:
    """Return width and height in points.

    Raises
    ------
    ValueError
        For another paper than A4 and Letter.
    """
    from reportlab.lib.pagesizes import A4, LETTER

    sizes = {"A4": A4, "Letter": LETTER}
    if page not in sizes:
        raise ValueError(f"The paper is A4 or Letter, not {page!r}.")
    width, height = sizes[page]
    return (height, width) if landscape else (width, height)


@lru_cache(maxsize=16)
def paragraph(align: str = "left", *, bold: bool = False, size: float = BODY_SIZE, colour: str = INK) -> Any:
    """Return a paragraph style; `align` is left, right or centre."""
    from reportlab.lib.colors import HexColor
    from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
    from reportlab.lib.styles import ParagraphStyle

    return ParagraphStyle(
        f"{align}{bold}{size}{colour}",
        fontName=BOLD if bold else BODY,
        fontSize=size,
        leading=size * LEADING / BODY_SIZE,
        textColor=HexColor(colour),
        alignment={"left": TA_LEFT, "right": TA_RIGHT, "centre": TA_CENTER}[align],
        splitLongWords=1,
    )
