"""The barn sheet: whom to look at tonight, with room to write in the order in which the book asks.

Black on white, large tags; the columns to be written stand in the order of the form of a birth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from herdbook.papers import style
from herdbook.papers.pages import foot_line, words, write_pages
from herdbook.papers.table_paper import PaperColumn, table_of
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.watch import Watched, WatchList
from herdbook.services.saying import day_words, full_day_words, reason_words
from herdbook.services.settings import BookSettings
from herdbook.words import say

MARGIN = 30.0
LINE = 46.0
"""Height in points of a line to write in."""
MOST_SIGNS = 2


def barn_sheet_paper(
    path: Path, watched: WatchList, settings: BookSettings, *, page: style.Page = "A4", herd: str = ""
) -> None:
    """Write the barn sheet of a night as a PDF, across the page.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    watched : WatchList
        Its order is the sheet's; each female with twins expected has a second line.
    settings : BookSettings
        From when help is wanted.
    page : {"A4", "Letter"}
    herd : str
        Whose herd it is.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    from reportlab.platypus import Spacer

    style.use_fonts()
    size = style.page_size(page, landscape=True)
    width = size[0] - 2 * MARGIN
    title = say("Barn sheet, night of {day}", day=full_day_words(watched.on))
    story = [words(title, style.paragraph(bold=True, size=style.TITLE_SIZE))]
    story += [words(line, style.paragraph(size=9.5)) for line in cautions(settings)]
    story.append(Spacer(0, 6))
    if watched.tonight:
        story.append(_table(watched.tonight, width))
    else:
        story.append(words(say("Nobody is to be looked at tonight by the book."), style.paragraph(size=12.0)))
    if watched.fortnight:
        story += [Spacer(0, 12), *_fortnight(watched, width)]
    write_pages(path, story, title, size, foot_line(say("Barn sheet"), watched.on, herd), margin=MARGIN)


def cautions(settings: BookSettings) -> tuple[str, ...]:
    """Return when the vet is rung, as it stands at the head."""
    return (
        say(
            "Ring your vet, sooner if in doubt: {cow} minutes (first calf {heifer}) after the water bag "
            "without progress; restless {hours} hours without a water bag; backwards, only a tail, head "
            "back; straining that stops; distress; a foul discharge.",
            cow=settings.help_cow_minutes, heifer=settings.help_heifer_minutes, hours=settings.restless_hours,
        ),
        say(
            "An afterbirth is never pulled; after {hours} hours ask your vet. Help: 1 none, 2 some, 3 hard "
            "pull, 4 caesarean, 5 lay wrong.",
            hours=settings.afterbirth_hours,
        ),
    )  # fmt: skip


def headings() -> tuple[str, ...]:
    """Return the columns: what is printed, then what is written, in the order of the form of a birth."""
    return (
        say("no."), say("animal"), say("why tonight, signs"), say("signs tonight, hour"), say("hour calved"),
        say("calf: h / b"), say("tag"), say("weight"), say("help 1-5"), say("lay"), say("vigour"),
        say("alive?"), say("afterbirth"), say("goes for people"), say("helped by, note"),
    )  # fmt: skip


_SHARES = (20, 106, 104, 84, 38, 32, 42, 40, 32, 40, 40, 36, 54, 44, 80)


def _table(rows: Sequence[Watched], width: float) -> Any:
    from reportlab.lib.colors import black
    from reportlab.platypus import LongTable

    small, head = style.paragraph(size=9.0, colour="#000000"), style.paragraph(bold=True, size=7.5)
    cells: list[list[Any]] = [[words(text, head) for text in headings()]]
    heights: list[float | None] = [None]
    for number, one in enumerate(rows, start=1):
        for twin in range(2 if one.due.multiple else 1):
            told = [words(str(number), small), _who(one), [words(line, small) for line in _why(one)]]
            cells.append([*(told if not twin else ["", words(say("twin"), small), ""]), *[""] * 12])
            heights.append(None if not twin else LINE)
    look = [
        ("GRID", (0, 0), (-1, -1), 0.6, black),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ("BOTTOMPADDING", (0, 1), (2, -1), 12),
    ]
    whole = sum(_SHARES)
    widths = [width * share / whole for share in _SHARES]
    return LongTable(cells, colWidths=widths, rowHeights=heights, repeatRows=1, style=look)


def _who(one: Watched) -> list[Any]:
    """Return who she is: a large tag, her class, that it is her first, and to take care."""
    plain = style.paragraph(size=9.0, colour="#000000")
    lines = [words(one.label, style.paragraph(bold=True, size=14.0, colour="#000000"))]
    kind = class_label(one.due.class_)
    lines.append(words(say("{class_}, first calf", class_=kind) if one.due.first_calving else kind, plain))
    if one.due.group:
        lines.append(words(one.due.group, plain))
    if one.due.care:
        care = say("TAKE CARE: {why}", why=one.due.care)
        lines.append(words(care, style.paragraph(bold=True, size=9.0, colour="#000000")))
    return lines


def _why(one: Watched) -> Iterator[str]:
    on = one.due.expected
    yield reason_words(one.why)
    yield say("likeliest {day}", day=day_words(on))
    if one.due.multiple:
        yield say("twins expected")
    for sign in one.signs[-MOST_SIGNS:]:
        when = f"{day_words(sign.day)} {sign.at or ''}".strip()
        yield say("{sign}: {when}", sign=sign.words, when=when)


def _fortnight(watched: WatchList, width: float) -> Iterator[Any]:
    from reportlab.platypus import Spacer

    yield words(say("In the next fortnight"), style.paragraph(bold=True, size=12.0))
    yield Spacer(0, 4)
    first = (say("animal"), say("class"), say("may calve from"))
    heads = (*first, say("likeliest"), say("take care"), say("remarks"))
    columns = [PaperColumn(text) for text in heads]
    rows = [
        [
            one.label,
            class_label(one.due.class_) + (f", {say('first calf')}" if one.due.first_calving else ""),
            day_words(max(one.due.watch[0], watched.on), watched.on),
            day_words(one.due.expected, watched.on),
            one.due.care or "",
            " " * 60,
        ]
        for one in watched.fortnight
    ]
    yield table_of(columns, rows, width)
