"""Whom to look at tonight and in the next fortnight, first-calvers first, and who is calving now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.duedates import Stage
from herdbook.husbandry.hours import moment
from herdbook.husbandry.labour import RULES, Labour, LabourRules, Seen, call_words, labour
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.signs import NEAR, NEAR_DAYS, Sign
from herdbook.services.facts import Herd, load_herd
from herdbook.services.queries.due import DueRow, due_rows
from herdbook.services.saying import called
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t
from herdbook.words import say

TONIGHT_DAYS = 2
"""Days before her own day from which a female is looked at each night. Common practice, no source."""

FORTNIGHT = 14


@dataclass(frozen=True)
class SignSeen:
    """A sign of one female: what it was, the day, and the hour where it was written."""

    code: str | None
    what: str
    day: date
    at: str | None

    @property
    def words(self) -> str:
        """The sign in the reader's words."""
        from herdbook.services.commands.breeding import SIGNS  # the first page does without the commands

        template = dict(SIGNS).get(Sign(self.code), "") if self.code in list(Sign) else ""
        return say(template) if template and self.what == template else self.what


@dataclass(frozen=True)
class Watched:
    """A female on the watch list, why, the signs of this birth, and how far it is if it began."""

    due: DueRow
    why: Reason
    signs: tuple[SignSeen, ...]
    labour: Labour | None

    @property
    def label(self) -> str:
        """Tag and name."""
        return called(self.due.tag, self.due.name)


@dataclass(frozen=True)
class WatchList:
    """Who is watched tonight and who may calve within the fortnight; nobody stands in both."""

    on: date
    tonight: tuple[Watched, ...]
    fortnight: tuple[Watched, ...]


def rules_of(settings: object) -> LabourRules:
    """Return from when help is wanted by a book's settings; what they do not say keeps its default."""
    return LabourRules(
        cow_minutes=getattr(settings, "help_cow_minutes", RULES.cow_minutes),
        heifer_minutes=getattr(settings, "help_heifer_minutes", RULES.heifer_minutes),
        restless_hours=getattr(settings, "restless_hours", RULES.restless_hours),
        afterbirth_hours=getattr(settings, "afterbirth_hours", RULES.afterbirth_hours),
    )


def watch_list(conn: Connection, on: date, now: datetime | None = None) -> WatchList:
    """Return the watch list of a night.

    Parameters
    ----------
    now : datetime, optional
        The hour; left out it is the end of the day, so that every sign of the day counts.
    """
    herd, settings = load_herd(conn, on, measured=False), load_settings(conn)
    return watch(conn, herd, due_rows(conn, herd, on, settings), on, settings, now)


def watch(
    conn: Connection,
    herd: Herd,
    due: list[DueRow],
    on: date,
    settings: BookSettings,
    now: datetime | None = None,
) -> WatchList:
    """Return the watch list from facts and a due list that are already read."""
    now = now or end_of(on)
    signs = signs_of(conn, herd, on)
    rules = rules_of(settings)
    tonight, later = [], []
    for row in due:
        seen = signs.get(row.animal, ())
        begun = begun_of(seen, row.first_calving, now, rules)
        why = _tonight(row, seen, begun, on, rules)
        if why is not None:
            tonight.append(Watched(row, why, seen, begun))
        elif row.watch[0] <= on + timedelta(days=FORTNIGHT):
            why = Reason("fortnight", "may calve from {day}", {"day": max(row.watch[0], on)})
            later.append(Watched(row, why, seen, None))
    return WatchList(on, tuple(sorted(tonight, key=_order)), tuple(sorted(later, key=_order)))


def _order(one: Watched) -> tuple[bool, bool, bool, date, str]:
    """Order: calving now, first-calvers, those with a sign of the night, then by their own day."""
    near = one.why.code == "near_sign"
    return one.labour is None, not one.due.first_calving, not near, one.due.expected, one.due.tag_key


def _tonight(
    row: DueRow, seen: tuple[SignSeen, ...], begun: Labour | None, on: date, rules: LabourRules
) -> Reason | None:
    """Return why she is looked at tonight, None where nothing says so."""
    if begun is not None:
        return call_words(begun, row.first_calving, rules)
    near = [s for s in seen if s.code in NEAR and (on - s.day).days < NEAR_DAYS]
    if near:
        return Reason("near_sign", "{sign}, seen {day}", {"sign": near[-1].words, "day": near[-1].day})
    if row.stage is Stage.LONG_PAST:
        return Reason("long_past", "long past her day: was she served again?")
    if row.days_to_expected < 0:
        return Reason("past", "past her day")
    if row.days_to_expected <= TONIGHT_DAYS:
        return Reason("her_day", "her day is {day}", {"day": row.expected})
    return None


def signs_of(conn: Connection, herd: Herd, on: date) -> Mapping[int, tuple[SignSeen, ...]]:
    """Return the signs of each female since her last calving or loss, in order of time."""
    s = t.columns(t.Sign)
    since = on - timedelta(days=FORTNIGHT)
    query = select(s.animal_id, s.code, s.what, s.day, s.at).where(s.day <= on, s.day >= since)
    found: dict[int, list[SignSeen]] = defaultdict(list)
    for animal, *sign in conn.execute(query.order_by(s.day, s.at, s.id)):
        facts = herd.get(animal)
        if facts is not None and (facts.ended is None or facts.ended[0] < sign[2]):
            found[animal].append(SignSeen(*sign))
    return {animal: tuple(signs) for animal, signs in found.items()}


def begun_of(
    seen: tuple[SignSeen, ...], first_calving: bool, now: datetime, rules: LabourRules
) -> Labour | None:
    """Return how far her birth is; a sign without its hour counts from its day's start, the safe end."""
    known = [Seen(Sign(s.code), moment(s.day, s.at)) for s in seen if s.code in list(Sign)]
    return labour(known, first_calving=first_calving, now=now, rules=rules)


def end_of(on: date) -> datetime:
    """Return the last minute of a day."""
    return datetime.combine(on, time(23, 59))
