"""What is worth a day in the keeper's own calendar: calvings, bulls in and out, checks, butcher, medicine.

Each event has a key that says what it is about and never when: the animal and the pregnancy, the run, the
booking, the treatment. So an event that moves to another day stays the same event. Nothing goes out but tags,
names and what is to be done: no place, product, person or weight.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.services.facts import AnimalFacts, Herd, load_herd
from herdbook.services.queries.clear import clear_of
from herdbook.services.queries.due import DueRow, due_rows
from herdbook.services.queries.errands import SOON
from herdbook.services.queries.errands_breeding import CHECK_AFTER
from herdbook.services.queries.runs import RunRow, runs
from herdbook.services.queries.treatments import treatments
from herdbook.services.saying import called, listed, short_day_words
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t
from herdbook.words import say

LOOK_BACK = 30
"""Runs and medicine periods over for longer are not looked at. Own choice."""
TAGS_TOLD = 40
"""Animals named in one event's text; of more it says how many. Own choice."""


@dataclass(frozen=True)
class CalendarEvent:
    """Something on one whole day.

    Parameters
    ----------
    key : str
        What it is about, the same whatever the day: for example ``due:12:calving-7``.
    day : date
    title, details : str
    """

    key: str
    day: date
    title: str
    details: str


def calendar_events(conn: Connection, on: date) -> list[CalendarEvent]:
    """Return what the book knows is ahead, with what is lately past, by day.

    What has come to pass is not among them: who has calved is due no more, who was checked need not be.
    """
    settings = load_settings(conn)
    herd = load_herd(conn, on, measured=False)
    due = {row.animal: row for row in due_rows(conn, herd, on, settings)}
    after = _last_endings(conn, on)
    lately = runs(conn, first=on - timedelta(days=LOOK_BACK + CHECK_AFTER))
    found = [
        *_calvings(due, after, on, settings.close_up_days),
        *_bulls(lately),
        *_checks(herd, due, after, lately),
        *_booked(conn, on),
        *_clear(conn, herd, settings, on),
    ]
    return sorted(found, key=lambda event: (event.day, event.key))


def _calvings(
    due: dict[int, DueRow], after: dict[int, str], on: date, close_up_days: int
) -> Iterator[CalendarEvent]:
    """Yield the expected day of each female that may be in calf, and apart from it the day of close up."""
    for row in due.values():
        if row.conceived_first > on:  # her bull comes yet
            continue
        who = called(row.tag, row.name)
        days = {"first": short_day_words(row.first_due), "last": short_day_words(row.last_due)}
        details = "\n".join(_said_of(row))
        pregnancy = _pregnancy(row.animal, after)
        title = say("{who} due, between {first} and {last}", who=who, **days)
        yield CalendarEvent(f"due:{pregnancy}", row.expected, title, details)
        close = min(row.expected - timedelta(days=close_up_days), row.watch[0])
        title = say("{who} close up, due between {first} and {last}", who=who, **days)
        yield CalendarEvent(f"close_up:{pregnancy}", close, title, details)


def _said_of(row: DueRow) -> Iterator[str]:
    if row.care:
        yield say("Take care: {care}", care=row.care)
    if row.first_calving:
        yield say("Her first calf.")
    if row.multiple:
        yield say("More than one calf was found.")
    if not row.confirmed:
        yield say("No check has found her in calf.")
    yield say("An expectation from the days in the book, no promise: look at her before and after.")


def _pregnancy(animal: int, after: dict[int, str]) -> str:
    return f"{animal}:{after.get(animal, 'first')}"


def _last_endings(conn: Connection, on: date) -> dict[int, str]:
    """Return by animal her last calving or loss: it names the pregnancy that comes after it."""
    last: dict[int, tuple[date, str]] = {}
    for table, word in ((t.Calving, "calving"), (t.Loss, "loss")):
        c = t.columns(table)
        for animal, day, key in conn.execute(select(c.animal_id, c.day, c.id).where(c.day <= on)):
            last[animal] = max(last.get(animal, (date.min, "")), (day, f"{word}-{key}"))
    return {animal: name for animal, (_, name) in last.items()}


def _bulls(lately: list[RunRow]) -> Iterator[CalendarEvent]:
    for run in lately:
        n = len({female.animal for female in run.females})
        many = say("With 1 female.") if n == 1 else say("With {n} females.", n=n)
        times: Counter[int] = Counter()
        for bull in sorted(run.bulls, key=lambda bull: bull.from_day):
            times[bull.animal] += 1
            his = f"{run.id}:{bull.animal}:{times[bull.animal]}"
            title = say("Bull in: {bull}", bull=bull.words)
            yield CalendarEvent(f"bull_in:{his}", bull.from_day, title, many)
            if bull.to_day is not None:
                title = say("Bull out: {bull}", bull=bull.words)
                details = say("{many} His last day with them; it counts.", many=many)
                yield CalendarEvent(f"bull_out:{his}", bull.to_day, title, details)


def _checks(
    herd: Herd, due: dict[int, DueRow], after: dict[int, str], lately: list[RunRow]
) -> Iterator[CalendarEvent]:
    """Yield from when each run's females can be checked, and each female that was served without a run."""
    groups: dict[str, list[tuple[date, AnimalFacts]]] = defaultdict(list)
    for animal, row in due.items():
        facts = herd[animal]
        last = _last_with_bull(facts)
        if last is None or row.days_to_expected <= SOON or _checked_since(facts, last):
            continue
        run = next((r for r in reversed(lately) if _leaves_with(r, animal, last)), None)
        key = f"check:run-{run.id}" if run else f"check:{_pregnancy(animal, after)}"
        groups[key].append((last + timedelta(days=CHECK_AFTER), facts))
    for key, females in groups.items():
        named = listed([facts.words for _, facts in females], TAGS_TOLD)
        n = len(females)
        title = (
            say("Pregnancy check from today: {who}", who=females[0][1].words)
            if n == 1
            else say("Pregnancy checks from today: {n} females", n=n)
        )
        yield CalendarEvent(key, max(day for day, _ in females), title, named)


def _last_with_bull(facts: AnimalFacts) -> date | None:
    """Return the last day on which she was or will be served; None where that is open."""
    lasts = [run.last for run in (*facts.runs, *facts.planned)] + [s.day for s in facts.services]
    told = [day for day in lasts if day is not None]
    return max(told) if told and len(told) == len(lasts) else None


def _checked_since(facts: AnimalFacts, last: date) -> bool:
    return any(check.result != "unknown" and check.day > last for check in facts.checks) or facts.in_calf


def _leaves_with(run: RunRow, animal: int, last: date) -> bool:
    """Whether her last day with a bull is one in this run."""
    return any(f.animal == animal for f in run.females) and run.first <= last <= (run.last or date.max)


def _booked(conn: Connection, on: date) -> Iterator[CalendarEvent]:
    day, booking, animal = t.columns(t.BookedDay), t.columns(t.Booking), t.columns(t.Animal)
    going: dict[int, list[str]] = defaultdict(list)
    query = select(booking.booked_day_id, animal.tag, animal.name).where(booking.animal_id == animal.id)
    for booked, tag, name in conn.execute(query.order_by(animal.tag_key)):
        going[booked].append(called(tag, name))
    for key, when, kind, places in conn.execute(
        select(day.id, day.day, day.kind, day.places).where(day.day >= on - timedelta(days=LOOK_BACK))
    ):
        animals = going.get(key, [])
        title = _booked_words(kind, len(animals), places)
        yield CalendarEvent(f"booked:{key}", when, title, listed(animals, TAGS_TOLD))


def _booked_words(kind: str, n: int, of: int) -> str:
    if kind == "butcher":
        return say("Butcher's day: {n} of {of} places taken", n=n, of=of)
    if kind == "abattoir":
        return say("Abattoir day: {n} of {of} places taken", n=n, of=of)
    return say("Booked day: {n} of {of} places taken", n=n, of=of)


def _clear(conn: Connection, herd: Herd, settings: BookSettings, on: date) -> Iterator[CalendarEvent]:
    """Yield each animal's first day clear of medicine, where it is known; of others nothing is said."""
    given = defaultdict(list)
    for row in treatments(conn, on):
        if row.here and row.clear_on is not None:
            given[row.animal].append(row)
    for animal, rows in given.items():
        clear = clear_of(herd[animal], settings)
        last = max(rows, key=lambda row: (row.clear_on or date.min, row.row))
        if not clear.known or clear.day is None or clear.day < on - timedelta(days=LOOK_BACK):
            continue
        title = say("{who} clear of medicine for meat", who=herd[animal].words)
        details = say(
            "The first day, by the label's days as they stand in the book. Read the label or ask your vet."
        )
        yield CalendarEvent(f"clear:{animal}:{last.row}", clear.day, title, details)
