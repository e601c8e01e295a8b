"""A chart on paper, read back from the PDF."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from herdbook.papers.pedigree_paper import pedigree_paper
from herdbook.services.queries.chart import AGAIN, DOUBTFUL, GROUP, ROOT, SHARED, UNKNOWN, Box, Chart, Line

ON = date(2026, 3, 3)
SHAPES = (ROOT, SHARED, AGAIN, DOUBTFUL, UNKNOWN, GROUP)


def read(path: Path) -> list[str]:
    document = pypdfium2.PdfDocument(path)
    try:
        return [document[n].get_textpage().get_text_range() for n in range(len(document))]
    finally:
        document.close()


def chart_of(rows: int) -> Chart:
    root = Box("root", 0, rows / 2, "12 Žďár", ("born 2018",), ROOT)
    boxes = [
        Box(f"b{n}", 1, float(n), f"tag{n:03d}", (f"line{n:03d}",), SHAPES[n % 6], "shared" * (n % 6 == 1))
        for n in range(rows)
    ]
    lines = tuple(Line("root", box.key, dashed=n % 2 == 0) for n, box in enumerate(boxes))
    return Chart(
        "Pedigree of 12 Žďár", "Inbred <25 %> & more", (root, *boxes), lines, ("", "parents"), ("A legend.",)
    )


def test_a_small_chart_stands_whole_on_one_page(tmp_path: Path) -> None:
    pedigree_paper(tmp_path / "a.pdf", chart_of(12), on=ON, herd="Hollowgale, GB")
    (page,) = read(tmp_path / "a.pdf")
    assert all(page.count(f"tag{n:03d}") == page.count(f"line{n:03d}") == 1 for n in range(12))
    assert page.count("shared") == 2
    for text in ("Inbred <25 %> & more", "A legend.", "parents", "page 1 of 1", "12 Žďár"):
        assert text in page
    assert "Hollowgale, GB · Pedigree of 12 Žďár · as of 2026-03-03" in page


def test_a_large_chart_goes_over_several_pages_and_stays_legible(tmp_path: Path) -> None:
    pedigree_paper(tmp_path / "a.pdf", chart_of(150), on=ON, page="Letter")
    pages = read(tmp_path / "a.pdf")
    assert len(pages) > 1
    assert all("A legend." in page and f"of {len(pages)}" in page for page in pages)
    assert all(any(f"tag{n:03d}" in page for page in pages) for n in range(150))


def test_nothing_half_written_is_left_when_the_file_cannot_be_put_in_its_place(tmp_path: Path) -> None:
    target = tmp_path / "a.pdf"
    target.mkdir()
    with pytest.raises(OSError, match=r"a\.pdf"):
        pedigree_paper(target, chart_of(2), on=ON)
    assert [path.name for path in tmp_path.iterdir()] == ["a.pdf"]
