"""The barn sheet among the papers: the watch list of the night, printed with room to write."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from herdbook.services.queries.classes import class_label
from herdbook.services.queries.watch import Watched, watch_list
from herdbook.services.saying import called
from herdbook.services.settings import load_settings
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.jobs import Progress
from herdbook.ui.papers.kinds import Paper
from herdbook.ui.papers.preview import Preview, ask_for_file
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark
from herdbook.words import say


class BarnPaper(Paper):
    """The barn sheet, which is printed by a writer of its own."""


def barn_paper() -> BarnPaper:
    """Return the barn sheet."""
    return BarnPaper(
        "barn",
        say("Barn sheet"),
        say("Whom to look at tonight, first-calvers first, then the fortnight; printed with room to write."),
        say("Nobody is to calve within the fortnight by the book."),
        "calving",
        say("Go to Calving"),
        _columns,
        _rows,
        lambda row: row.due.animal,
    )


def _rows(conn: Any, on: date) -> Sequence[Watched]:
    found = watch_list(conn, on)
    return (*found.tonight, *found.fortnight)


def _columns(desk: Desk) -> tuple[Column, ...]:
    def care(row: Watched) -> Mark | None:
        return ("act", say("take care: {why}", why=row.due.care)) if row.due.care else None

    def kind(row: Watched) -> str:
        words = class_label(row.due.class_)
        return say("{class_}, first calf", class_=words) if row.due.first_calving else words

    def night(row: Watched) -> Mark | None:
        return ("act", say("now")) if row.labour else None

    return (
        Column("tag", say("animal"), get=lambda row: called(row.due.tag, row.due.name), mark=care, width=14,
               sortable=False),
        Column("class_", say("class"), get=kind, width=14, sortable=False),
        Column("why", say("why"), get=lambda row: reason_text(row.why, desk.on), mark=night, width=22,
               gives=4, sortable=False),
        Column("expected", say("likeliest"), get=lambda row: row.due.expected,
               show=lambda day: day_text(day, desk.on), width=10, sortable=False),
        Column("signs", say("signs"), get=lambda row: ", ".join(sign.words for sign in row.signs[-2:]),
               width=14, gives=4, sortable=False),
    )  # fmt: skip


class BarnPreview(Preview):
    """The watch list, in its own order: so it is printed, and so it is written into the book next morning."""

    filters = False

    def _open(self, row: Any) -> None:
        self.desk.open_animal(row.due.animal)

    def print(self) -> None:
        """Ask for a file, write the sheet beside the window, and open it."""
        name = f"{self.paper.title} {self.desk.on:%Y-%m-%d}"
        path = ask_for_file(self.desk, self, say("Print to PDF"), name, say("PDF (*.pdf)"), ".pdf")
        if not path:
            return
        book, on = self.desk.book, self.desk.on

        def work(progress: Progress) -> None:
            from herdbook.papers.barn_sheet import barn_sheet_paper

            with book.read() as conn:
                watched, settings = watch_list(conn, on), load_settings(conn)
            progress.go_on()
            barn_sheet_paper(
                Path(path),
                watched,
                settings,
                page=settings.paper,
                herd=settings.herd_words,  # type: ignore[arg-type]
            )

        def written(_: Any) -> None:
            self.desk.tell(say("Written to {path}", path=path))
            QDesktopServices.openUrl(QUrl.fromLocalFile(path))

        self.desk.jobs.long(work, say("Writing {path}", path=path), then=written, owner=self)
