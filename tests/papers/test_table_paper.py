"""A table on paper, read back from the PDF."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pypdfium2
import pytest

from herdbook.papers.table_paper import PaperColumn, table_paper

ON = date(2026, 3, 3)
COLUMNS = (
    PaperColumn("tag"),
    PaperColumn("sex", "centre"),
    PaperColumn("kg", "right"),
    PaperColumn("remark"),
)


def pages(path: Path) -> list[str]:
    document = pypdfium2.PdfDocument(path)
    try:
        return [document[n].get_textpage().get_text_range() for n in range(len(document))]
    finally:
        document.close()


def test_every_row_is_there_the_heading_repeats_and_the_pages_are_numbered(tmp_path: Path) -> None:
    rows = [(f"T{n:03d}", "♀♂"[n % 2], f"{n / 2:.1f}", "quiet <b>& calm") for n in range(150)]
    table_paper(tmp_path / "a.pdf", "Žďár herd", "150 head", COLUMNS, rows, on=ON, herd="Hollowgale, GB")
    read = pages(tmp_path / "a.pdf")
    whole = "\n".join(read)
    assert len(read) > 1
    assert all(whole.count(row[0]) == 1 for row in rows)
    assert all("remark" in page for page in read)
    assert [f"page {n} of {len(read)}" in page for n, page in enumerate(read, start=1)] == [True] * len(read)
    assert all("Hollowgale, GB · Žďár herd · as of 2026-03-03" in page for page in read)
    assert (whole.count("♀"), whole.count("♂")) == (75, 75)
    assert "Žďár herd" in read[0]
    assert whole.count("quiet <b>& calm") == 150


def test_long_texts_wrap_and_go_on_over_pages_and_nothing_is_lost(tmp_path: Path) -> None:
    rows = [("1", "♀", "1", "word " * 3000), ("W" * 300, "♂", "2", "end")]
    table_paper(tmp_path / "a.pdf", "Long", "", COLUMNS, rows, on=ON)
    whole = "".join(pages(tmp_path / "a.pdf"))
    assert whole.count("word") == 3000
    assert whole.count("W") == 300
    assert "end" in whole


@pytest.mark.parametrize(("page", "width", "height"), [("A4", 595, 842), ("Letter", 612, 792)])
def test_the_paper_and_turning_it(tmp_path: Path, page: str, width: int, height: int) -> None:
    file = tmp_path / "a.pdf"
    for columns, size in (
        (COLUMNS, (width, height)),
        (tuple(PaperColumn("x" * 40) for _ in range(6)), (height, width)),
    ):
        table_paper(file, "t", "", columns, [], on=ON, page=page)  # type: ignore[arg-type]
        document = pypdfium2.PdfDocument(file)
        assert tuple(round(side) for side in document[0].get_size()) == size
        document.close()
    assert "Nothing to list." in pages(file)[0]


def test_the_fonts_travel_with_the_paper(tmp_path: Path) -> None:
    table_paper(tmp_path / "a.pdf", "t", "", COLUMNS, [("1", "♀", "2", "Ł")], on=ON)
    content = (tmp_path / "a.pdf").read_bytes()
    assert content.count(b"/FontFile2") == 2


def test_a_ragged_row_or_another_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="as many texts"):
        table_paper(tmp_path / "a.pdf", "t", "", COLUMNS, [("1",)], on=ON)
    with pytest.raises(ValueError, match="A4 or Letter"):
        table_paper(tmp_path / "a.pdf", "t", "", COLUMNS, [], on=ON, page="A3")  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []
