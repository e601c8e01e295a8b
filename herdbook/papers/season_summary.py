"""The season summary on paper: of each group what its season gave, in percentages with their counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from herdbook.husbandry.seasonmeasures import PERIOD_DAYS, PeriodCount, Share, Starts
from herdbook.papers import style
from herdbook.papers.pages import foot_line, words, write_pages
from herdbook.papers.table_paper import PaperColumn, table_of
from herdbook.services.queries.season_measures import SeasonOfGroup
from herdbook.services.saying import day_words
from herdbook.services.seasonwords import besides, bulls_text, no_start_text, not_the_last_word, rule_text
from herdbook.words import say

HEADING = 12.0
ROOM_FOR_A_GROUP = 210
"""Points that the head of a group and its first table want; else it begins on the next page."""


def season_summary_paper(
    path: Path,
    seasons: Sequence[SeasonOfGroup],
    rule: Starts,
    *,
    on: date,
    page: style.Page = "A4",
    herd: str = "",
) -> None:
    """Write what each season gave as a PDF.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    seasons : sequence of SeasonOfGroup
        In the order of the paper.
    rule : Starts
        When the first 21 days begin; it is told.
    on : date
        The day that stands on every page.
    page : {"A4", "Letter"}
    herd : str
        Whose herd it is.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    style.use_fonts()
    size = style.page_size(page)
    room = size[0] - 2 * style.MARGIN
    title = say("Season summary")
    story = [*_head(title, rule), *(each for season in seasons for each in _season(season, room))]
    if not seasons:
        story.append(_quiet(say("No female has been with a bull or served yet.")))
    write_pages(path, story, title, size, foot_line(title, on, herd))


def _head(title: str, rule: Starts) -> Iterator[Any]:
    yield words(title, style.paragraph(bold=True, size=style.TITLE_SIZE))
    text = say(
        "Shares are of the females exposed, less those gone for other reasons before they were to calve; "
        "a cow found open and sold stays in. Calves are counted: twins are two. The first {days} days of "
        "calving begin {rule}.",
        days=PERIOD_DAYS,
        rule=rule_text(rule),
    )
    yield _quiet(text)


def _quiet(text: str) -> Any:
    return words(text, style.paragraph(colour=style.QUIET))


def _season(season: SeasonOfGroup, room: float) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, Spacer

    yield CondPageBreak(ROOM_FOR_A_GROUP)
    yield Spacer(0, 14)
    yield words(_title(season), style.paragraph(bold=True, size=HEADING))
    yield words(
        say(
            "{n} exposed, {left} left out: {whole} count.",
            n=season.rates.exposed,
            left=season.rates.left,
            whole=season.rates.whole,
        ),
        style.paragraph(),
    )
    yield Spacer(0, 3)
    yield _shares(season, room)
    for line in filter(None, (not_the_last_word(season), no_start_text(season))):
        yield _quiet(line)
    if season.starts is not None and (season.cows or season.first_calvers):
        yield Spacer(0, 6)
        yield _periods(season, season.starts, room)
    for line in besides(season):
        yield words(line, style.paragraph())


def _title(season: SeasonOfGroup) -> str:
    first, bulls = day_words(season.first), bulls_text(season)
    if season.last is None:
        return say("From {first}: {bulls}", first=first, bulls=bulls)
    return say("{first} to {last}: {bulls}", first=first, last=day_words(season.last), bulls=bulls)


def _shares(season: SeasonOfGroup, room: float) -> Any:
    """Return the percentages, each with its count and what it is a share of."""
    rates = season.rates
    exposed, pregnant, born = say("females exposed"), say("females in calf"), say("calves born")
    rows = [
        _share_row(say("in calf"), rates.pregnancy, exposed),
        _share_row(say("in calf and did not calve"), rates.loss, pregnant),
        _share_row(say("calves born at term, dead ones too"), rates.calving, exposed),
        _share_row(say("calves born alive"), rates.live, exposed),
        _share_row(say("calves dead before weaning"), rates.deaths_of_born, born),
        _share_row(say("calves weaned"), rates.weaning, exposed),
    ]
    columns = (
        PaperColumn(say("measure"), width=5),
        PaperColumn(say("so many"), "right", width=1.5),
        PaperColumn(say("of"), "right", width=1.5),
        PaperColumn(say("share of"), width=3),
        PaperColumn(say("%"), "right", width=1.5),
    )
    return table_of(columns, rows, room)


def _share_row(label: str, share: Share, whole: str) -> list[str]:
    return [label, str(share.n), str(share.of), whole, _percent(share)]


def _percent(share: Share) -> str:
    return say("of none") if share.percent is None else f"{share.percent:.1f}"


def _periods(season: SeasonOfGroup, starts: date, room: float) -> Any:
    """Return the calvings by 21 days, cows and first-calvers beside each other."""
    columns = (
        PaperColumn(say("calved from"), width=3),
        PaperColumn(say("to"), width=3),
        PaperColumn(say("cows"), "right", width=2.2),
        PaperColumn(say("so far"), "right", width=1.6),
        PaperColumn(say("first-calvers"), "right", width=2.4),
        PaperColumn(say("so far"), "right", width=1.6),
    )
    rows = []
    for n in range(max(len(season.cows), len(season.first_calvers))):
        first = starts + timedelta(days=n * PERIOD_DAYS)
        days = [day_words(first), day_words(first + timedelta(days=PERIOD_DAYS - 1))]
        rows.append([*days, *_counted(season.cows, n), *_counted(season.first_calvers, n)])
    return table_of(columns, rows, room)


def _counted(periods: Sequence[PeriodCount], n: int) -> tuple[str, str]:
    """Return the calvings of the nth period, and the share that has calved by its end."""
    if not periods:
        return "", ""
    last = periods[min(n, len(periods) - 1)]
    calved = periods[n].calved if n < len(periods) else 0
    return (
        say("{n} of {of} ({share:.1%})", n=calved, of=last.of, share=calved / last.of),
        f"{last.so_far / last.of:.1%}",
    )
