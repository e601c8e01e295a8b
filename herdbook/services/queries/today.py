"""Today: what wants doing, in order of need, each with the page where it is done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from sqlalchemy import Connection, or_, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import age_days
from herdbook.husbandry.duedates import Stage
from herdbook.services.facts import AnimalFacts, load_herd
from herdbook.services.queries.clear import booking_cautions, clear_of
from herdbook.services.queries.company import rules_of, too_young_heifers
from herdbook.services.queries.diary import booked_days
from herdbook.services.queries.due import DueRow, due_rows
from herdbook.services.queries.errands import SOON, URGENCIES, Day, Errand, Stamp, about
from herdbook.services.queries.errands_breeding import bulls, checks, next_day_of_year, no_bull, settle, sort
from herdbook.services.queries.errands_calving import (
    after_births,
    calf_dates,
    found_calves,
    losses,
    tonight,
)
from herdbook.services.queries.runs import runs
from herdbook.services.queries.settling import LOOK_BACK
from herdbook.services.saying import called, day_words, days_words, listed
from herdbook.services.settings import load_settings
from herdbook.store import tables as t
from herdbook.words import say

DIARY_AHEAD = 60
"""Days ahead. Common practice, no source."""
ASK_LABEL_FOR = 90
"""A treatment without meat days is asked after for so long."""

__all__ = ["Errand", "next_day_of_year", "today"]


def today(conn: Connection, on: date) -> list[Errand]:
    """Return what wants doing: what cannot wait first, then by kind, without what is done or put off.

    The kinds in order: calving now and to look at tonight, the first hours after a birth, losses, due within
    the days of close up (first-calvers first), past due, bulls in and out, how many should be settled, a bull
    after whom many come in heat, pregnancy checks, medicine periods, booked days, a calf's own dates,
    castration, weaning, heifers too young beside entire males, the sort.
    """
    herd = load_herd(conn, on, measured=False)
    settings = load_settings(conn)
    due = due_rows(conn, herd, on, settings)
    lately = runs(conn, first=on - timedelta(days=LOOK_BACK))
    now = [run for run in lately if run.state(on) != "over"]
    day = Day(on, herd, settings, due, now, lately, _put_off(conn, on))
    errands = [
        *tonight(conn, day), *after_births(conn, day), *losses(conn, day), *found_calves(conn, day),
        *_coming(day), *_past(day), *bulls(day), *no_bull(conn, day), *settle(conn, day), *checks(day),
        *_medicines(day), *_booked(conn, day),
        *calf_dates(conn, day), *_castrations(day), *_weanings(day), *_mishaps(day), *sort(conn, day),
    ]  # fmt: skip
    left = [e for e in errands if not (e.tasks and set(e.tasks) <= day.off)]
    return sorted(left, key=lambda errand: URGENCIES.index(errand.urgency))


def _put_off(conn: Connection, on: date) -> frozenset[str]:
    d = t.columns(t.TaskDone)
    query = select(d.task).where(d.day <= on, or_(d.ask_again.is_(None), d.ask_again > on))
    return frozenset(conn.scalars(query))


def _words(row: DueRow) -> str:
    """Return tag and name, and that it is her first calf."""
    words = called(row.tag, row.name)
    return say("{animal} (first calf)", animal=words) if row.first_calving else words


# ---------------------------------------------------------------- calving


def _coming(day: Day) -> Iterator[Errand]:
    near = [row for row in day.due if 0 <= row.days_to_expected <= day.settings.close_up_days]
    for row in sorted(near, key=lambda row: not row.first_calving):
        first, when, last = (day_words(d, day.on) for d in (row.watch[0], row.expected, row.watch[1]))
        text = say(
            "{animal} is due about {when} ({first} to {last})",
            animal=_words(row), when=when, first=first, last=last,
        )  # fmt: skip
        urgency = "act" if row.days_to_expected <= 2 else "soon"
        yield Errand(
            "due",
            urgency,
            text,
            "calving",
            (row.animal,),
            row.expected,
            (f"due:{row.animal}:{row.expected}",),
        )
    far = [
        r for r in day.due if r.days_to_expected > day.settings.close_up_days and r.stage is Stage.CLOSE_UP
    ]
    yield from _may_calve([row for row in far if day.on >= row.first_due])
    yield from _may_calve_early([row for row in far if day.on < row.first_due], day.on)


def _may_calve(later: list[DueRow]) -> Iterator[Errand]:
    if later:
        tags = listed([row.tag for row in later])
        text = say("{n} more may calve from now on, expected later: {tags}", n=len(later), tags=tags)
        yield Errand("window_open", "look", text, "calving", tuple(row.animal for row in later))


def _may_calve_early(later: list[DueRow], on: date) -> Iterator[Errand]:
    """Yield those who had a bull for a few days only, from the day on which a calf of those may come."""
    if later:
        tags, first = listed([row.tag for row in later]), min(row.first_due for row in later)
        text = say(
            "May calve from now on, after a few days with a bull; likeliest from {day}: {tags}",
            day=day_words(first, on), tags=tags,
        )  # fmt: skip
        yield Errand("brief_watch", "look", text, "calving", tuple(row.animal for row in later), first)


def _past(day: Day) -> Iterator[Errand]:
    for row in sorted((r for r in day.due if r.days_to_expected < 0), key=lambda row: not row.first_calving):
        urgency = "act" if row.stage in (Stage.LATE, Stage.LONG_PAST) or day.on > row.watch[1] else "soon"
        task = f"past_due:{row.animal}:{row.expected}:{row.stage.value}"
        text = _past_words(row, day.on)
        yield Errand("past_due", urgency, text, "calving", (row.animal,), row.expected, (task,))


def _past_words(row: DueRow, on: date) -> str:
    who, days = _words(row), days_words(-row.days_to_expected)
    if row.stage is Stage.LONG_PAST:
        return say(
            "{animal} is {days} past her day: was she served again? Have her looked at.",
            animal=who,
            days=days,
        )
    if row.stage is Stage.LATE or on > row.watch[1]:
        return say(
            "{animal} is {days} past her day: look at her; if in doubt ask your vet", animal=who, days=days
        )
    expected, last = day_words(row.expected, on), day_words(row.watch[1], on)
    return say("{animal} was due {expected}; usual until {last}", animal=who, expected=expected, last=last)


# ---------------------------------------------------------------- medicine and butcher


def _medicines(day: Day) -> Iterator[Errand]:
    """Yield the periods that run and the labels not read, one line for the animals that were dosed alike."""
    running: dict[tuple[str, date], list[AnimalFacts]] = defaultdict(list)
    unread: dict[tuple[str, date], list[AnimalFacts]] = defaultdict(list)
    for facts in day.herd.values():
        clear = clear_of(facts, day.settings)
        if clear.on(day.on) is False and clear.running_to is not None:
            given = [x.product for x in facts.treatments if _runs(x.last_day, x.meat_days, day.on)]
            running[_products(given), clear.running_to].append(facts)
        asked = [
            x
            for x in facts.treatments
            if x.meat_days is None and age_days(x.last_day, day.on) <= ASK_LABEL_FOR
        ]
        if asked:
            unread[_products(x.product for x in asked), asked[-1].last_day].append(facts)
    for (product, until), animals in running.items():
        text = say(
            "{animals}: {product}, medicine period through {until}",
            animals=_counted(animals), product=product, until=day_words(until, day.on),
        )  # fmt: skip
        yield about("medicine", "look", text, "register", animals, until, _always(until))
    for (product, last), animals in unread.items():
        text = say(
            "{animals}: days for meat of {product} not known; read the label or ask your vet",
            animals=_counted(animals), product=product,
        )  # fmt: skip
        yield about("medicine_days", "soon", text, "register", animals, last, _always(last))


def _always(value: object) -> Stamp:
    """Return a stamp that is the same for every animal."""
    return lambda _: value


def _products(names: Iterable[str]) -> str:
    return listed(list(dict.fromkeys(names)))


def _counted(animals: list[AnimalFacts]) -> str:
    """Return one animal by tag and name, several by their number and tags."""
    if len(animals) == 1:
        return animals[0].words
    return say("{n} animals ({tags})", n=len(animals), tags=listed([facts.tag for facts in animals]))


def _runs(last: date, days: float | None, on: date) -> bool:
    return days is not None and on <= last + timedelta(days=days)


def _booked(conn: Connection, day: Day) -> Iterator[Errand]:
    for booked in booked_days(conn, day.on, day.on + timedelta(days=DIARY_AHEAD)):
        where = booked.where or {"butcher": say("butcher"), "abattoir": say("abattoir")}.get(
            booked.kind, say("booked")
        )
        when = day_words(booked.day, day.on)
        tags = listed([b.tag for b in booked.booked]) or say("nobody yet")
        text = say("{when} {where}: {tags}", when=when, where=where, tags=tags)
        if booked.free > 0:
            text = say(
                "{booking} · {n} of {places} places free", booking=text, n=booked.free, places=booked.places
            )
        animals = tuple(b.animal for b in booked.booked)
        urgency = "soon" if (booked.day - day.on).days <= SOON else "look"
        yield Errand(
            "booked", urgency, text, "butcher", animals, booked.day, (f"booked:{booked.id}:{booked.free}",)
        )
        for b in booked.booked:
            facts = day.herd.get(b.animal)
            if facts is None:
                text = say("{tag} is booked for {when} but is not here any more", tag=b.tag, when=when)
                yield Errand("booked_gone", "act", text, "butcher", (b.animal,), booked.day)
                continue
            for reason in booking_cautions(booked.day, None, clear_of(facts, day.settings), None):
                if b.override is None:
                    text = say(
                        "{animal}, booked for {when}: {caution}",
                        animal=facts.words,
                        when=when,
                        caution=say(reason.template, **reason.values),
                    )
                    yield Errand(
                        "not_clear",
                        "act",
                        text,
                        "butcher",
                        (facts.id,),
                        booked.day,
                        (f"not_clear:{facts.id}:{booked.id}",),
                    )


# ---------------------------------------------------------------- calves and heifers


def _castrations(day: Day) -> Iterator[Errand]:
    entire = [
        facts
        for facts in day.herd.values()
        if facts.sex == "M" and facts.castrated is None and facts.born is not None
        and facts.class_on(day.on) is AnimalClass.CALF
    ]  # fmt: skip
    by = timedelta(days=day.settings.castrate_by_days)
    for late in (True, False):
        calves = [f for f in day.open_tasks("castrate", entire) if f.born and (f.born + by < day.on) is late]
        if not calves:
            continue
        tags, first = listed([f.words for f in calves]), min(f.born for f in calves if f.born) + by
        if late:
            text = say(
                "Past the day for castration: {tags}. Ask your vet; check the current rule where you farm.",
                tags=tags,
            )
        else:
            text = say("To castrate, the first by {day}: {tags}", day=day_words(first, day.on), tags=tags)
        urgency = "act" if late else "soon" if (first - day.on).days <= SOON else "look"
        yield about("castrate", urgency, text, "chores", calves, first)


def _weanings(day: Day) -> Iterator[Errand]:
    age = timedelta(days=day.settings.wean_days)
    ready = [
        f
        for f in day.herd.values()
        if f.born is not None
        and f.weaned is None
        and f.born + age <= day.on
        and f.class_on(day.on) is AnimalClass.CALF
    ]
    ready = day.open_tasks("wean", ready)
    if ready:
        first = min(f.born for f in ready if f.born) + age
        tags = listed([f.words for f in ready])
        text = say("{n} to wean, {days} days old or more: {tags}", n=len(ready), days=age.days, tags=tags)
        yield about("wean", "soon", text, "chores", ready, first)


def _mishaps(day: Day) -> Iterator[Errand]:
    beside = too_young_heifers(day.herd, day.on, rules_of(day.settings))

    def stamp(facts: AnimalFacts) -> str:  # another male is another danger
        return ",".join(map(str, sorted(beside[facts.id])))

    heifers = day.open_tasks("too_young", (day.herd[heifer] for heifer in beside), stamp)
    if heifers:
        males = listed(sorted({day.herd[male].tag for facts in heifers for male in beside[facts.id]}))
        text = say(
            "Too young to be bred and with an entire male ({males}): {tags}. Part them, or castrate; "
            "if one may have been served, ask your vet soon.",
            males=males, tags=listed([facts.words for facts in heifers]),
        )  # fmt: skip
        yield about("too_young", "act", text, "register", heifers, day.on, stamp)
