"""The sheets of a sort, to take to the yard: a page or more for each group, read at arm's length in the rain.

Black on white, large tags, a box to tick; what is on a page can be read without the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from herdbook.papers import style
from herdbook.papers.pages import foot_line, words, write_pages
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.season_sheets import Gate, SheetBull, SheetRow, SortSheet, SortSheets
from herdbook.services.saying import full_day_words, listed
from herdbook.words import say

MARGIN = 30.0
BLACK = "#000000"
TITLE, LARGE, PLAIN, SMALL = 20.0, 20.0, 12.0, 10.0
LEAST = 9.5
"""Long tags and numbers are set smaller, down to this; then they wrap."""
BOX = 17.0
HIGHEST_HEAD = 130.0
"""Lines about the bulls that are higher stand on a sheet's first page only."""
LONGEST_TITLE, LONGEST_NOTE = 90, 400
"""Letters."""
MISSING_LINES = 2
TAGS_NAMED = 24
"""Tags of those too young that a sheet names; the sheet of those not bred has all."""


def sort_sheets_paper(path: Path, sheets: SortSheets, *, page: style.Page = "A4", herd: str = "") -> None:
    """Write the sheets of a season as a PDF: who moves from where to where, then a sheet for each group.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    sheets : SortSheets
        Groups without females have no sheet; the first page says so.
    page : {"A4", "Letter"}
    herd : str
        Whose herd it is.

    Raises
    ------
    OSError
        If the file cannot be written; an older one stands unchanged.
    """
    from reportlab.platypus import PageBreak

    style.use_fonts()
    size = style.page_size(page)
    width = size[0] - 2 * MARGIN
    story = list(_summary(sheets, width))
    for sheet in sheets.sheets:
        if sheet.rows:
            story += [PageBreak(), _table(sheet, sheets, width)]
    title = say("Sort sheets: {name}", name=sheets.name)
    write_pages(
        path, story, title, size, foot_line(f"{title} · {state(sheets)}", sheets.on, herd), margin=MARGIN
    )


def state(sheets: SortSheets) -> str:
    """Return whether the plan is accepted: a sheet in the pocket may be an old draft."""
    if sheets.accepted is not None:
        return say("accepted {day}", day=sheets.accepted.isoformat())
    return say("not accepted")


# -- the first page ---


def _summary(sheets: SortSheets, width: float) -> Iterator[Any]:
    """Yield who moves from where to where, and what each sheet after it holds."""
    from reportlab.platypus import Spacer

    yield words(say("Who moves from where to where"), _how(TITLE, bold=True))
    first, last = full_day_words(sheets.first), full_day_words(sheets.last)
    season = say("{name}: bull in {first}, out {last}.", name=sheets.name, first=first, last=last)
    yield words(season, _how(PLAIN))
    if sheets.accepted is None:
        yield words(say("Not accepted: the book does not hold these moves yet."), _how(PLAIN, bold=True))
    yield Spacer(0, 10)
    if sheets.gates:
        yield _gates(sheets.gates, width)
    females = sum(gate.females for gate in sheets.gates)
    text = say("{n} females move, {m} stand where they are to be.", n=females, m=sheets.staying)
    yield words(text, _how(PLAIN, bold=True))
    yield Spacer(0, 12)
    for sheet in sheets.sheets:
        if sheet.place == "bull" or sheet.rows:
            yield words(f"{title_of(sheet)}: {_count(len(sheet.rows))}", _how(PLAIN))
    yield Spacer(0, 12)
    text = say(
        "Where an animal stands is what the book says of its group. Bulls go in and out on their own days, "
        "which their sheets bear."
    )
    yield words(text, _how(SMALL))


def _gates(gates: Sequence[Gate], width: float) -> Any:
    """Return the table of the moves, a line for each way."""
    head = (say("done"), say("from"), say("to"), say("females"), say("bulls"), say("on"))
    rows: list[list[Any]] = [[words(text, _how(SMALL, bold=True)) for text in head]]
    for gate in gates:
        day = full_day_words(gate.day) if gate.day else ""
        came = gate.came or say("no group in the book")
        rows.append(
            [
                _box(),
                words(came, _how(PLAIN)),
                words(gate.to, _how(PLAIN, bold=True)),
                words(str(gate.females) if gate.females else "", _how(LARGE, bold=True, align="right")),
                words(", ".join(gate.bulls), _how(PLAIN)),
                words(day, _how(SMALL)),
            ]
        )
    return _ruled(rows, _shares(width, (44, 104, 116, 66, 105, 100)), heads=1)


# -- a sheet ---


def title_of(sheet: SortSheet) -> str:
    """Return what a sheet is for: its bulls by tag and name, or its place."""
    if sheet.place == "bull":
        return say("With {bulls}", bulls=" + ".join(bull.who.words for bull in sheet.bulls))
    return {
        "not_bred": say("Not bred this season"),
        "finishing": say("To the finishing group"),
        "sell": say("To sell"),
    }[sheet.place]


def _count(n: int) -> str:
    return say("1 female") if n == 1 else say("{n} females", n=n)


def _table(sheet: SortSheet, sheets: SortSheets, width: float) -> Any:
    """Return a sheet's table; what stands above the females comes again on each of its pages.

    The foot is its last row, so that it never stands on a page without that.
    """
    from reportlab.platypus import LongTable

    numbered = any(row.who.electronic for row in sheet.rows)
    columns = [say("done"), "", say("tag"), say("animal"), say("electronic number"), _where(sheet)]
    tags = _tags_width(sheet.rows)
    shares = [44.0, 62.0, tags, 232.0 - tags, 112.0, 85.0]
    if not numbered:
        del columns[4], shares[4]
    widths, blank = _shares(width, shares), [""] * (len(columns) - 1)
    title, lines = _title(sheet, width), _head_lines(sheet)
    cells: list[list[Any]] = [[title, *blank], [lines, *blank]]
    look: list[tuple[Any, ...]] = [("SPAN", (0, at), (-1, at)) for at in (0, 1)]
    look += [("LEFTPADDING", (0, 0), (-1, 1), 0), *_rules(2)]
    cells.append([words(text, _how(SMALL, bold=True)) for text in columns])
    high = sum(line.wrap(width, 10_000)[1] for line in lines)
    again = (0, 1, 2) if high <= HIGHEST_HEAD else (0, 2)
    for number, row in enumerate(sheet.rows, start=1):
        cells.append(_row(row, number, len(sheet.rows), sheet, widths, numbered))
        if notes := _notes(row, sheet):
            at = len(cells)
            cells.append(["", "", notes, *blank[2:]])
            look += [("SPAN", (2, at), (-1, at)), ("NOSPLIT", (0, at - 1), (-1, at))]
        look.append(_rule_below(len(cells) - 1))
    at = len(cells)
    cells.append([list(_foot(sheet, sheets)), *blank])
    look += [("SPAN", (0, at), (-1, at)), ("LEFTPADDING", (0, at), (-1, at), 0)]
    return LongTable(cells, colWidths=widths, repeatRows=again, style=look, splitInRow=1)


def _where(sheet: SortSheet) -> str:
    return say("stands in") if sheet.to is None else say("from")


def _title(sheet: SortSheet, width: float) -> Any:
    """Return what a sheet is for and how many are on it; by tags alone where the names are too long."""
    from reportlab.platypus import Table

    title = title_of(sheet)
    if len(title) > LONGEST_TITLE:
        title = say("With {bulls}", bulls=listed([bull.who.tag for bull in sheet.bulls]))
    count = words(_count(len(sheet.rows)), _how(16.0, align="right"))
    return Table(
        [[words(title, _how(TITLE, bold=True)), count]],
        colWidths=[width - 130, 130],
        style=[("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "TOP")],
    )


def _head_lines(sheet: SortSheet) -> list[Any]:
    """Return each bull with his days, and where the females go."""
    lines = []
    for bull in sheet.bulls:
        lines.append(words(_bull_line(bull), _how(PLAIN)))
        if bull.who.care:
            lines.append(words(_care(bull.who.care), _how(PLAIN, bold=True)))
    if sheet.place == "not_bred":
        lines.append(words(say("They stay where they are, away from every bull."), _how(PLAIN)))
    elif sheet.to is not None:
        text = say("Into the group “{group}”.", group=sheet.to)
        if sheet.places is not None and len(sheet.rows) > sheet.places:
            over = len(sheet.rows) - sheet.places
            text += " " + say("{n} more than its {places} places.", n=over, places=sheet.places)
        lines.append(words(text, _how(PLAIN)))
    return lines


def _bull_line(bull: SheetBull) -> str:
    """Return a bull with his days, his number and where he comes from."""
    days = (bull.last - bull.first).days + 1
    text = say(
        "{bull}: in {first}, out {last} ({n} days, both counted)",
        bull=bull.who.words, first=full_day_words(bull.first), last=full_day_words(bull.last), n=days,
    )  # fmt: skip
    if bull.who.group:
        text += " · " + say("from {group}", group=bull.who.group)
    if bull.who.electronic:
        text += f" · {bull.who.electronic}"
    if not bull.who.here:
        text += " · " + say("not here by the book")
    return text


def _care(why: str) -> str:
    return say("TAKE CARE: {why}", why=_short(why))


def _short(text: str) -> str:
    """Return a remark as it can be read in the yard."""
    return (
        text if len(text) <= LONGEST_NOTE else say("{start} … (more in the book)", start=text[:LONGEST_NOTE])
    )


def _row(
    row: SheetRow, number: int, of: int, sheet: SortSheet, widths: Sequence[float], numbered: bool
) -> list[Any]:
    """Return the cells of one female."""
    who = row.who
    cells: list[Any] = [
        _box(),
        words(say("{n} of {of}", n=number, of=of), _how(SMALL)),
        words(who.tag, _how(_fitting(who.tag, widths[2], LARGE, style.BOLD), bold=True)),
        _named(row),
    ]
    if numbered:
        number_words = who.electronic or say("none in the book")
        cells.append(words(number_words, _how(_fitting(number_words, widths[4], PLAIN, style.BODY))))
    came = who.group or say("no group")
    if row.there and sheet.to is not None:
        came = say("there already")
    cells.append(words(came, _how(PLAIN)))
    return cells


def _named(row: SheetRow) -> Any:
    """Return a female's name and class."""
    from reportlab.platypus import Paragraph

    kind = f'<font size="{SMALL:.0f}">{escape(class_label(row.who.class_))}</font>'
    name = f"<b>{escape(row.who.name)}</b> {kind}" if row.who.name else kind
    return Paragraph(name, _how(PLAIN))


def _notes(row: SheetRow, sheet: SortSheet) -> list[Any]:
    """Return what is to be minded about a female, why she is here, and that she may not be."""
    urgent = [_care(row.who.care)] if row.who.care else []
    found = [words(text, _how(PLAIN, bold=True)) for text in (*urgent, *row.who.alerts)]
    notes = [] if row.who.here else [say("not here by the book")]
    if sheet.place == "bull" and row.by_hand:
        notes.append(say("by hand: {why}", why=_short(row.reason)) if row.reason else say("by hand"))
    elif row.reason:
        notes.append(_short(row.reason))
    if notes:
        found.append(words(" · ".join(notes), _how(SMALL)))
    return found


def _foot(sheet: SortSheet, sheets: SortSheets) -> Iterator[Any]:
    """Yield what to mind, and room for who was missing."""
    from reportlab.platypus import HRFlowable, Spacer

    yield Spacer(0, 4)
    for text in cautions(sheet, sheets):
        yield words(text, _how(PLAIN, bold=True))
    yield Spacer(0, 12)
    count = say("Counted in: ________ of {n}. By whom: ____________________", n=len(sheet.rows))
    yield words(count, _how(PLAIN))
    yield Spacer(0, 6)
    yield words(say("Missing, and what else was seen:"), _how(PLAIN))
    for _ in range(MISSING_LINES):
        yield HRFlowable(width="100%", thickness=0.8, color=BLACK, spaceBefore=25, spaceAfter=0)


def cautions(sheet: SortSheet, sheets: SortSheets) -> list[str]:
    """Return what to mind at the gate with these animals, in short sentences."""
    if sheet.place == "bull":
        found = [
            say("A bull is never safe: two people, a way out, nobody alone in the pen with him."),
            say("Heifers can conceive from about six months: keep the young ones out."),
        ]
        if sheets.too_young:
            tags = listed(sheets.too_young, TAGS_NAMED)
            found.append(say("Too young this season: {tags}.", tags=tags))
        return found
    if sheet.place == "not_bred":
        return [say("No bull, and no bull calf of four months or more, may get in with them.")]
    return [
        say(
            "Before any of these leaves: clear of medicine, in calf or not, and fit to travel? Look it up; "
            "ask your vet, and check the current rule where you farm."
        )
    ]


# -- type ---


def _how(size: float, *, bold: bool = False, align: str = "left") -> Any:
    return style.paragraph(align, bold=bold, size=size, colour=BLACK)


def _fitting(text: str, column: float, most: float, font: str) -> float:
    """Return the size at which a text stands on one line of a column, or the least, at which it wraps."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    wide, room = float(stringWidth(text, font, most)), column - 2 * style.PAD - 1
    return max(LEAST, min(most, int(2 * most * room / wide) / 2)) if wide else most


def _tags_width(rows: Sequence[SheetRow]) -> float:
    """Return the width that the tags are given, between those of a short and of an official one."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    longest = max(float(stringWidth(row.who.tag, style.BOLD, LARGE)) for row in rows)
    return min(max(longest + 2 * style.PAD + 2, 90.0), 136.0)


def _shares(width: float, parts: Sequence[float]) -> list[float]:
    return [width * part / sum(parts) for part in parts]


def _rules(heads: int) -> list[tuple[Any, ...]]:
    """Return the look of a table in black rules whose column headings stand in row `heads`."""
    from reportlab.lib.colors import HexColor

    black = HexColor(BLACK)
    return [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("VALIGN", (0, heads + 1), (-1, -1), "MIDDLE"),
        ("LINEBELOW", (0, heads), (-1, heads), 1.2, black),
        ("LEFTPADDING", (0, heads), (-1, -1), style.PAD),
        ("RIGHTPADDING", (0, 0), (-1, -1), style.PAD),
        ("TOPPADDING", (0, heads + 1), (-1, -1), 4),
        ("BOTTOMPADDING", (0, heads + 1), (-1, -1), 5),
    ]


def _ruled(rows: list[list[Any]], widths: Sequence[float], heads: int) -> Any:
    from reportlab.platypus import LongTable

    look = [*_rules(heads - 1), *(_rule_below(row) for row in range(heads, len(rows)))]
    return LongTable(rows, colWidths=list(widths), repeatRows=heads, style=look, splitInRow=1)


def _rule_below(row: int) -> tuple[Any, ...]:
    from reportlab.lib.colors import HexColor

    return ("LINEBELOW", (0, row), (-1, row), 0.6, HexColor(BLACK))


@cache
def _box() -> Any:
    """Return a box to tick; one is enough, for it is drawn wherever it stands."""
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import Flowable

    class Box(Flowable):  # type: ignore[misc]  # the library is not typed
        def wrap(self, *_: float) -> tuple[float, float]:
            return BOX + 2, BOX + 2

        def draw(self) -> None:
            self.canv.setStrokeColor(HexColor(BLACK))
            self.canv.setLineWidth(1.4)
            self.canv.rect(1, 1, BOX, BOX)

    return Box()
