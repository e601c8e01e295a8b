"""A chart out of the window: printed to a PDF, or saved as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QStandardPaths, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QWidget

from herdbook.services.queries.chart import Chart
from herdbook.ui.desk import Desk
from herdbook.ui.pedigree.picture import save
from herdbook.words import say

FOLDER = "papers/folder"


def print_chart(desk: Desk, chart: Chart, over: QWidget) -> None:
    """Ask for a file, write the chart into it as a PDF, and open it."""
    path = _ask(desk, chart, over, say("Print to PDF"), say("PDF (*.pdf)"), ".pdf")
    if not path:
        return
    page = getattr(desk.settings, "paper", "A4")
    herd = getattr(desk.settings, "herd_words", "")
    on = desk.on

    def write(_progress: Any) -> None:
        from herdbook.papers.pedigree_paper import pedigree_paper

        pedigree_paper(path, chart, on=on, page=page, herd=herd)

    def written(_: Any) -> None:
        desk.tell(say("Written to {path}", path=path))
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))

    desk.jobs.long(write, say("Writing {path}", path=path), then=written, owner=over)


def save_chart(desk: Desk, chart: Chart, over: QWidget) -> None:
    """Ask for a file and write the chart into it: SVG or PNG, by its ending."""
    kinds = say("Drawing (*.svg);;Picture (*.png)")
    path = _ask(desk, chart, over, say("Save as a picture"), kinds, ".svg")
    if not path:
        return
    if path.suffix.lower() not in (".svg", ".png"):
        path = path.with_name(path.name + ".svg")
    try:
        save(chart, path)
    except OSError as error:
        desk.fail(error, over)
        return
    desk.tell(say("Written to {path}", path=path))


def _ask(desk: Desk, chart: Chart, over: QWidget, title: str, kinds: str, ending: str) -> Path | None:
    """Return the file to write, in the folder that was used last; None when put aside."""
    documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    folder = Path(desk.memory.get(FOLDER) or documents or Path.home())
    name = "".join(c if c.isalnum() else "-" for c in chart.title).strip("-")
    path, kind = QFileDialog.getSaveFileName(over, title, str(folder / f"{name}{ending}"), kinds)
    if not path:
        return None
    chosen = Path(path)
    if not chosen.suffix:
        chosen = chosen.with_suffix(".png" if "png" in kind else ending)
    desk.memory[FOLDER] = str(chosen.parent)
    return chosen
