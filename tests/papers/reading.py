"""A PDF read back: its pages as text, and whether every letter is there and stands on the page."""

from __future__ import annotations

from pathlib import Path

import pypdfium2

from herdbook.papers import style


def pages(path: Path) -> list[str]:
    """Return the text of each page, words apart by single spaces."""
    document = pypdfium2.PdfDocument(path)
    try:
        return [" ".join(document[n].get_textpage().get_text_range().split()) for n in range(len(document))]
    finally:
        document.close()


def clipped(path: Path, margin: float = 18.0) -> list[str]:
    """Return what stands nearer to the edge of a page than `margin` points, or beyond it."""
    document, found = pypdfium2.PdfDocument(path), []
    try:
        for number in range(len(document)):
            page = document[number]
            width, height = page.get_size()
            text = page.get_textpage()
            for at in range(text.count_chars()):
                letter = text.get_text_range(at, 1)
                if letter.isspace():
                    continue
                left, low, right, high = text.get_charbox(at)
                if left < margin or low < margin or right > width - margin or high > height - margin:
                    found.append(f"page {number + 1}: {letter}")
    finally:
        document.close()
    return found


def without_a_letter(texts: list[str]) -> set[str]:
    """Return the letters for which the papers' font has no shape: they would be printed as boxes."""
    from reportlab.pdfbase.pdfmetrics import getFont

    style.use_fonts()
    known = getFont(style.BODY).face.charToGlyph.keys() & getFont(style.BOLD).face.charToGlyph.keys()
    return {letter for text in texts for letter in text if not letter.isspace() and ord(letter) not in known}
