"""The season summary on the Papers page: a line for each group, and the paper with all of its counts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices

from herdbook.husbandry.seasonmeasures import Share, Starts
from herdbook.services.queries.exposures import share_words
from herdbook.services.queries.season_measures import SeasonOfGroup, season_measures
from herdbook.services.seasonwords import bulls_text, not_the_last_word
from herdbook.services.settings import load_settings
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.jobs import Progress
from herdbook.ui.papers.kinds import Paper
from herdbook.ui.papers.preview import Preview
from herdbook.ui.tables.columns import Column
from herdbook.words import say


def summary_paper() -> Paper:
    """Return the season summary."""
    return Paper(
        "season_summary",
        say("Season summary"),
        say("What each group's season gave: in calf, calvings by 21 days, weaned, with the counts."),
        say("No female has been with a bull or served yet."),
        "sort",
        say("Go to the Sort"),
        _columns,
        season_measures,
        lambda row: (row.run.id if row.run else 0, row.first),
    )


class SummaryPreview(Preview):
    """The season summary: its lines, and its own paper."""

    filters = False  # every season is printed, whatever the table shows

    def print(self) -> None:
        """Ask for a file, write the paper into it beside the window, and open it."""
        path = self._ask(say("Print to PDF"), say("PDF (*.pdf)"), ".pdf")
        if not path:
            return
        desk, book, on = self.desk, self.desk.book, self.desk.on

        def work(progress: Progress) -> None:
            from herdbook.papers.season_summary import season_summary_paper

            with book.read() as conn:
                settings = load_settings(conn)
                rows = season_measures(conn, on)
            progress.go_on()
            rule, herd = Starts(settings.calving_starts), settings.herd_words
            season_summary_paper(Path(path), rows, rule, on=on, page=settings.paper, herd=herd)

        def written(_: Any) -> None:
            desk.tell(say("Written to {path}", path=path))
            QDesktopServices.openUrl(QUrl.fromLocalFile(path))

        desk.jobs.long(work, say("Writing {path}", path=path), then=written, owner=self)


def _columns(desk: Desk) -> tuple[Column, ...]:
    def day(value: Any) -> str:
        return day_text(value, desk.on) if value else say("still in")

    def open_still(row: SeasonOfGroup) -> tuple[str, str] | None:
        return ("quiet", say("so far")) if not_the_last_word(row) else None

    return (
        Column("first", say("bull in"), show=day, mark=open_still, tip=not_the_last_word, width=14),
        Column("last", say("out"), show=day, order=lambda day: day or date.max, width=10, hidden=True),
        Column("bulls", say("bulls"), get=bulls_text, width=16),
        Column("whole", say("females"), get=lambda row: row.rates.whole, figures=True, width=7, hidden=True),
        _share("held", say("in calf"), lambda row: row.rates.pregnancy),
        _share("born", say("calves born"), lambda row: row.rates.calving),
        _share("weaned", say("weaned"), lambda row: row.rates.weaning),
        _share("early", say("cows in 21 days"), _early, gives=3),
        _share("lost", say("lost since"), lambda row: row.rates.loss, hidden=True),
        _share("alive", say("born alive"), lambda row: row.rates.live, hidden=True),
    )


def _share(key: str, heading: str, get: Callable[[SeasonOfGroup], Share], **more: Any) -> Column:
    """Return a column of counts with their percentages, put in order by these."""
    return Column(key, heading, get=get, show=_text, order=_order, width=11.5, **more)


def _text(share: Share) -> str:
    """Return a share in whole percent, as there is room for; the paper has a place more."""
    return share_words((share.n, share.of))


def _order(share: Share) -> float:
    return -1.0 if share.percent is None else share.percent


def _early(row: SeasonOfGroup) -> Share:
    """Return the cows that calved in the first period, of all that did."""
    first = row.cows[0] if row.cows else None
    return Share(first.calved, first.of) if first else Share(0, 0)
