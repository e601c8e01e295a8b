"""The columns of the due list, and the groups of females that can be shown alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from herdbook.husbandry.duedates import Stage
from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.calving import Coming, possible_sires
from herdbook.services.queries.classes import class_label
from herdbook.ui.calving.ruler import TONES
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark, care_word
from herdbook.words import say

RULER = "window"


@lru_cache(maxsize=2048)
def _day(day: date | None, today: date) -> str:
    """Return a day as text; many females share one, and a filter asks for all of them at once."""
    return day_text(day, today)


@dataclass(frozen=True)
class Part:
    """A part of the due list under a tab of its own."""

    key: str
    words: str
    holds: Callable[[Coming], bool]
    nobody: str


def parts() -> tuple[Part, ...]:
    """Return the parts, the whole list first."""
    return (
        Part("all", say("All"), lambda _: True, ""),
        Part("close_up", say("Close up"), lambda row: row.close_up, say("Nobody is close up.")),
        Part("past", say("Past due"), lambda row: row.past_due, say("Nobody is past her day.")),
        Part(
            "first",
            say("First-calvers"),
            lambda row: row.first_calving,
            say("No first-calver is on the list."),
        ),
    )


def stage_words(stage: Stage) -> str:
    """Return how near she is, in the reader's language."""
    return {
        Stage.NOT_DUE: say("not due"),
        Stage.CLOSE_UP: say("close up"),
        Stage.DUE_NOW: say("due now"),
        Stage.LATE: say("late"),
        Stage.LONG_PAST: say("long past"),
    }[stage]


def class_words(row: Coming) -> str:
    """Return her class; that she may be in calf is why she stands here."""
    return say("heifer") if row.first_calving else class_label(row.class_)


def mated_too_young(row: Coming) -> Reason | None:
    """Return the alert for a first-calver that may have conceived too young."""
    return next((note for note in row.notes if note.code in ("mated_too_young", "mated_young")), None)


def near_heifer(row: Coming) -> Mark | None:
    """Return the mark that stands in place of her class for a heifer bred too young, or near to calving."""
    if mated_too_young(row) is not None:
        return "act", say("too young")
    return ("soon", say("◆ heifer")) if _is_near_heifer(row) else None


def _is_near_heifer(row: Coming) -> bool:
    return row.first_calving and (row.close_up or row.past_due)


def sign_words(row: Coming, today: date) -> str:
    """Return the last sign of birth seen, with its day; empty when none was."""
    return f"{row.sign}, {day_text(row.sign_on, today)}" if row.sign else ""


def window_words(row: Coming, today: date) -> str:
    """Return first and last due day in words."""
    return say("{first} to {last}", first=_day(row.watch[0], today), last=_day(row.watch[1], today))


def columns(desk: Desk) -> tuple[Column, ...]:
    """Return the columns of the due list."""

    def day(value: date) -> str:
        return _day(value, desk.on)

    def why(row: Coming) -> str:
        care = [say("Take care: {reason}", reason=row.care)] if row.care else []
        young = mated_too_young(row)
        return "\n".join([*care, *([reason_text(young, desk.on)] if young else [])])

    return (
        Column("tag", say("animal"), lambda row: row.label, mark=_sign, tip=why, width=11.5),
        Column(
            "class_",
            say("class"),
            lambda row: "" if near_heifer(row) else class_words(row),
            mark=near_heifer,
            width=7.5,
            gives=2,
        ),
        Column("expected", say("due"), show=day, width=10, gives=0),
        Column(
            "stage",
            say("stage"),
            lambda _: "",
            mark=lambda row: (TONES[row.stage], stage_words(row.stage)),
            width=7.2,
            gives=0,
        ),
        Column(
            "sires",
            say("sire"),
            lambda row: possible_sires(row.sires),
            tip=_sires_tip,
            width=12.3,
            least=9,
            gives=3,
        ),
        Column(
            RULER,
            say("first to last due"),
            lambda row: window_words(row, desk.on),
            sortable=False,
            width=16,
            least=12,
        ),
        Column("sign", say("sign seen"), lambda row: sign_words(row, desk.on), width=24, hidden=True),
        Column("first_due", say("first due"), show=day, width=12, hidden=True),
        Column("last_due", say("last due"), show=day, width=12, hidden=True),
        Column("days_to_expected", say("days"), figures=True, width=6, hidden=True),
        Column(
            "rests_on",
            say("rests on"),
            lambda row: reason_text(row.rests_on, desk.on),
            width=44,
            sortable=False,
            hidden=True,
        ),
    )


def _sires_tip(row: Coming) -> str:
    return possible_sires(row.sires)


def _sign(row: Coming) -> Mark | None:
    """Return the sign beside an animal to be careful with, or bred too young."""
    return care_word(row) or (("act", say("!")) if mated_too_young(row) else None)
