"""The season's plan on paper: days, groups, who is left out and why, the calves to be expected by week."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from herdbook.husbandry.calvingspread import RULES, Period
from herdbook.papers import style
from herdbook.papers.pages import foot_line, words, write_pages
from herdbook.papers.table_paper import PaperColumn, table_of
from herdbook.services.kinwords import percent_words
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.season_outlook import LeftOut, OutlookGroup, SeasonOutlook
from herdbook.services.saying import day_words, full_day_words, short_day_words
from herdbook.words import say

HEADING = 12.0
BAR_HIGH, BAR_WIDE, CELL_BAR = 9.0, 250.0, 46.0
CYCLES = 3
"""Periods of 21 days that each have a column; what comes after stands in one."""


def season_plan_paper(path: Path, plan: SeasonOutlook, *, page: style.Page = "A4", herd: str = "") -> None:
    """Write a season's plan as a PDF.

    Parameters
    ----------
    path : Path
        Written aside and then put in its place.
    plan : SeasonOutlook
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
    title = say("Season plan: {name}", name=plan.name)
    parts = (_days, _groups, _weeks, _cycles, _left_out, _decided, _known)
    story = [*_head(plan, title), *(each for part in parts for each in part(plan, room))]
    write_pages(path, story, title, size, foot_line(f"{title} · {_state(plan)}", plan.on, herd))


def _state(plan: SeasonOutlook) -> str:
    if plan.accepted is not None:
        return say("accepted {day}", day=plan.accepted.isoformat())
    return say("not accepted")


def _head(plan: SeasonOutlook, title: str) -> Iterator[Any]:
    yield words(title, style.paragraph(bold=True, size=style.TITLE_SIZE))
    season = say(
        "Bull in {first}, out {last}. No calf more inbred than {limit}.",
        first=full_day_words(plan.first), last=full_day_words(plan.last), limit=percent_words(plan.limit),
    )  # fmt: skip
    yield words(season, style.paragraph())
    if plan.accepted is None:
        yield words(say("Not accepted: still being worked on."), style.paragraph(bold=True))


def _heading(text: str) -> Iterator[Any]:
    """Yield a heading that does not stand alone at the foot of a page."""
    from reportlab.platypus import CondPageBreak, Spacer

    yield CondPageBreak(110)
    yield Spacer(0, 12)
    yield words(text, style.paragraph(bold=True, size=HEADING))
    yield Spacer(0, 3)


def _quiet(text: str) -> Any:
    return words(text, style.paragraph(colour=style.QUIET))


# -- days and groups ---


def _days(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    """Yield the days of each bull, of the checks and of the calvings."""
    yield from _heading(say("Days"))
    columns = (
        PaperColumn(say("bull")),
        PaperColumn(say("in")),
        PaperColumn(say("out, counted")),
        PaperColumn(say("days"), "right"),
        PaperColumn(say("check from")),
        PaperColumn(say("first calving")),
        PaperColumn(say("last calving")),
    )
    rows = []
    for group in plan.groups:
        due = group.due or (None, None)
        of_group = [_day(group.check_from if group.females else None), *(_day(day) for day in due)]
        for bull in group.bulls:
            days = (bull.last - bull.first).days + 1
            own = [bull.who.words, full_day_words(bull.first), full_day_words(bull.last), str(days)]
            rows.append([*own, *of_group])
            of_group = ["", "", ""]  # once for all bulls of the group
    yield table_of(columns, rows, room)
    if plan.check and plan.due:
        first, last = plan.check
        checks = say("Checks due from {first}.", first=_day(first))
        if first != last:
            checks = say("Checks due from {first}, all from {last}.", first=_day(first), last=_day(last))
        text = say(
            "Calvings by plain count of days from {begin} to {end}; a calf may come days before the first "
            "and after the last.",
            begin=_day(plan.due[0]), end=_day(plan.due[1]),
        )  # fmt: skip
        yield _quiet(f"{checks} {text}")


def _day(day: date | None) -> str:
    return day_words(day) if day else ""


def _groups(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    """Yield how many each group has and how inbred its calves are, and the same of all."""
    yield from _heading(say("Groups, and their calves' inbreeding"))
    columns = (
        PaperColumn(say("bulls")),
        PaperColumn(say("females"), "right"),
        PaperColumn(say("places"), "right"),
        PaperColumn(say("never calved"), "right"),
        PaperColumn(say("mean"), "right"),
        PaperColumn(say("worst"), "right"),
        PaperColumn(say("over limit"), "right"),
        PaperColumn(say("at genetic risk"), "right"),
    )
    rows = [_group_row(group) for group in plan.groups]
    placed = sum(group.females for group in plan.groups)
    rows.append(
        [
            say("all"),
            str(placed),
            str(sum(group.places for group in plan.groups)),
            str(sum(group.heifers for group in plan.groups)),
            _figure(plan.mean, placed),
            _figure(plan.worst, placed),
            str(sum(group.over_limit for group in plan.groups)),
            str(sum(group.at_risk for group in plan.groups)),
        ]
    )
    yield table_of(columns, rows, room)
    counts = " · ".join(
        say("{place}: {n}", place=_left_title(place), n=len(plan.at(place)))
        for place in ("not_bred", "finishing", "sell")
    )
    yield _quiet(counts)


def _group_row(group: OutlookGroup) -> list[str]:
    return [
        group.words,
        str(group.females),
        str(group.places),
        str(group.heifers),
        _figure(group.mean, group.females),
        _figure(group.worst, group.females),
        str(group.over_limit),
        str(group.at_risk),
    ]


def _figure(share: float | None, females: int) -> str:
    """Return an inbreeding; nil that rests on nothing is not known, and a group without females has none."""
    if share is None:
        return say("not known") if females else ""
    return percent_words(share)


# -- the calves to be expected ---


def _weeks(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    """Yield a bar for each week of the herd, with its number and the sum so far."""
    yield from _heading(say("Calvings to be expected"))
    if not plan.weeks:
        yield _quiet(say("Nobody is placed with a bull: no calves are to be expected."))
        return
    half = plan.spread.day_by(0.5)
    text = say(
        "About {n:.1f} of {of} females calve, {open:.1f} are not in calf; half of the calves by {half}.",
        n=plan.spread.calving, of=plan.spread.females, open=plan.spread.open, half=_day(half),
    )  # fmt: skip
    yield words(text, style.paragraph(bold=True))
    most, passed = max(week.expected for week in plan.weeks), 0.0
    rows: list[list[Any]] = [
        [
            _cell(say("Monday to Sunday")),
            "",
            _cell(say("calves"), "right"),
            _cell(say("so far"), "right"),
        ]
    ]
    for week in plan.weeks:
        passed += week.expected
        bar = _bar(week.expected / most * BAR_WIDE)
        rows.append([_span(week), bar, f"{week.expected:.1f}", f"{passed:.1f}"])
    yield _plain_table(rows, [room - BAR_WIDE - 132, BAR_WIDE + 12, 60, 60])


def _span(period: Period) -> str:
    return say("{first} to {last}", first=short_day_words(period.first), last=_day(period.last))


def _cycles(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    """Yield each group's calvings by 21 days from its first due day; a row adds up to its females."""
    used = [group for group in plan.groups if group.due]
    if not used:
        return
    yield from _heading(say("By {n} days from the first due day", n=RULES.cycle))
    heads = [
        say("bulls"), say("from"), say("1st"), say("2nd"), say("3rd"), say("later"), say("open"),
        say("females"),
    ]  # fmt: skip
    rows: list[list[Any]] = [[_cell(text, "right" if at > 1 else "left") for at, text in enumerate(heads)]]
    for group in used:
        assert group.due is not None
        rows.append(_cycle_row(group.words, group.due[0], group.cycles, group.spread.open, group.females))
    if len(used) > 1 and plan.due:
        rows.append(_cycle_row(say("all"), plan.due[0], plan.cycles, plan.spread.open, plan.spread.females))
    wide = CELL_BAR + 2 * style.PAD
    fixed = 5 * wide + 70 + 58
    yield _plain_table(rows, [room - fixed, 70, *[wide] * 5, 58])
    yield _quiet(say("A calf that comes before the first due day is counted in the first period."))


def _cycle_row(name: str, first: date, cycles: Sequence[Period], left: float, females: int) -> list[Any]:
    parts = [period.expected for period in cycles[:CYCLES]]
    parts += [0.0] * (CYCLES - len(parts))
    parts += [sum(period.expected for period in cycles[CYCLES:]), left]
    cells = [[_number(f"{part:.1f}"), _bar(part / females * CELL_BAR, right=True)] for part in parts]
    return [words(name, style.paragraph()), words(_day(first), style.paragraph()), *cells, str(females)]


def _number(text: str) -> Any:
    return words(text, style.paragraph("right"))


def _cell(text: str, align: str = "left") -> Any:
    return words(text, style.paragraph(align, bold=True, size=style.HEAD_SIZE))


def _bar(wide: float, *, right: bool = False) -> Any:
    """Return a bar; of no width where nothing is expected."""
    from reportlab.graphics.shapes import Drawing, Rect
    from reportlab.lib.colors import HexColor

    whole = CELL_BAR if right else BAR_WIDE
    drawing = Drawing(whole, BAR_HIGH if not right else 6)
    at = whole - wide if right else 0
    bar = Rect(at, 0, wide, drawing.height, fillColor=HexColor(style.QUIET), strokeColor=None)
    if wide > 0:
        drawing.add(bar)
    return drawing


def _plain_table(rows: list[list[Any]], widths: list[float]) -> Any:
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import LongTable

    look: list[tuple[Any, ...]] = [
        ("FONT", (0, 0), (-1, -1), style.BODY, style.BODY_SIZE, style.LEADING),
        ("TEXTCOLOR", (0, 0), (-1, -1), HexColor(style.INK)),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("ALIGN", (2, 0), (-1, -1), "RIGHT"),
        ("LINEBELOW", (0, 0), (-1, 0), 1.0, HexColor(style.INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, HexColor(style.LINE)),
        ("LEFTPADDING", (0, 0), (-1, -1), style.PAD),
        ("RIGHTPADDING", (0, 0), (-1, -1), style.PAD),
        ("TOPPADDING", (0, 0), (-1, -1), 2.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    return LongTable(rows, colWidths=widths, repeatRows=1, style=look, splitInRow=1)


# -- who has no bull, what was decided, what is not known ---


def _left_title(place: str) -> str:
    return {
        "not_bred": say("Not bred this season"),
        "finishing": say("To the finishing group"),
        "sell": say("To sell"),
    }[place]


def _left_out(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    columns = (PaperColumn(say("animal")), PaperColumn(say("class")), PaperColumn(say("why")))
    for place in ("not_bred", "finishing", "sell"):
        left = plan.at(place)
        if not left:
            continue
        yield from _heading(say("{place}: {n}", place=_left_title(place), n=len(left)))
        yield table_of(columns, [_left_row(one) for one in left], room)


def _left_row(one: LeftOut) -> list[str]:
    return [one.who.words, class_label(one.who.class_), one.why]


def _decided(plan: SeasonOutlook, room: float) -> Iterator[Any]:
    if not plan.decided:
        return
    yield from _heading(say("Decided by hand: {n}", n=len(plan.decided)))
    columns = (PaperColumn(say("animal")), PaperColumn(say("what")), PaperColumn(say("why")))
    rows = [[one.who.words, one.what, one.why or say("no reason written")] for one in plan.decided]
    yield table_of(columns, rows, room)


def _known(plan: SeasonOutlook, _room: float) -> Iterator[Any]:
    """Yield what is not certain of the plan, and what the calvings rest on."""
    if plan.doubts:
        yield from _heading(say("Not known, or not certain"))
        for text in plan.doubts:
            yield words(text, style.paragraph())
    yield from _heading(say("What the calvings rest on"))
    for text in plan.rests_on:
        yield words(text, style.paragraph())
