"""The sheets of a sort, to be taken to the yard: who goes into which group, from where, and to look out for.

Where an animal comes from is the group that the book has it in on the day, without what the plan itself has
moved: whoever prints the sheets after accepting a plan has yet to open the gates.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from sqlalchemy import Connection, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.services.facts import AnimalFacts, load_herd
from herdbook.services.queries.company import alerts_among
from herdbook.services.queries.season_placing import (
    BULL,
    FINISHING,
    NOT_BRED,
    PLACES,
    SELL,
    BullsTogether,
    PlacedFemale,
    SeasonPlacing,
    placing_of_plan,
    placing_of_result,
)
from herdbook.services.queries.sort_rows import SortResult
from herdbook.services.saying import called, reason_words
from herdbook.store import tables as t
from herdbook.words import say

Order = Literal["tag", "from"]
TOO_YOUNG = "too_young"


@dataclass(frozen=True)
class SheetAnimal:
    """An animal as a sheet names it.

    Parameters
    ----------
    animal : int
    tag : str
    name, electronic, care : str or None
        Its name, its electronic number, what to mind about it.
    class_ : str
    group : str or None
        The group it comes from; None where the book has it in none.
    here : bool
        Whether it is here on the day, by the book.
    alerts : tuple of str
        What cannot wait about a heifer: too young and with an entire male, or mated too young.
    """

    animal: int
    tag: str
    name: str | None
    electronic: str | None
    care: str | None
    class_: str
    group: str | None
    here: bool
    alerts: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)


@dataclass(frozen=True)
class SheetBull:
    """A bull of a sheet with his days in, first and last both counted."""

    who: SheetAnimal
    first: date
    last: date


@dataclass(frozen=True)
class SheetRow:
    """A female of a sheet: whether she stands there already, and what is to be said of her place."""

    who: SheetAnimal
    there: bool
    by_hand: bool
    reason: str


@dataclass(frozen=True)
class SortSheet:
    """The females that go to one place.

    Parameters
    ----------
    place : {"bull", "not_bred", "finishing", "sell"}
    to : str or None
        The group they go into; None where they stay.
    bulls : tuple of SheetBull
    places : int or None
        How many females the group may have.
    rows : tuple of SheetRow
    """

    place: str
    to: str | None
    bulls: tuple[SheetBull, ...]
    places: int | None
    rows: tuple[SheetRow, ...]


@dataclass(frozen=True)
class Gate:
    """How many go from one group to another; the bulls by name. `day` is when, None where it is not set."""

    came: str | None
    to: str
    females: int
    bulls: tuple[str, ...]
    day: date | None


@dataclass(frozen=True)
class SortSheets:
    """Every sheet of a season; those of bulls first, then who is not bred, to be finished and to be sold.

    `gates` tell who moves from where to where, `staying` how many females stand where they are to be, and
    `too_young` has the tags of the females that are too young to be bred, calves left out.
    """

    name: str
    on: date
    accepted: date | None
    kept: date | None
    first: date
    last: date
    sheets: tuple[SortSheet, ...]
    gates: tuple[Gate, ...]
    staying: int
    too_young: tuple[str, ...]


def sheets_of_result(conn: Connection, result: SortResult, on: date, order: Order = "tag") -> SortSheets:
    """Return the sheets of a sort as it stands on the page."""
    return sort_sheets(conn, placing_of_result(result), on, order)


def sheets_of_plan(conn: Connection, plan: int, on: date, order: Order = "tag") -> SortSheets:
    """Return the sheets of a plan that was kept; raises `Refused` when there is no such plan."""
    return sort_sheets(conn, placing_of_plan(conn, plan), on, order)


def sort_sheets(conn: Connection, placing: SeasonPlacing, on: date, order: Order = "tag") -> SortSheets:
    """Return the sheets of a season.

    Parameters
    ----------
    conn : Connection
    placing : SeasonPlacing
    on : date
        The day as of which they are printed.
    order : {"tag", "from"}
        Females by tag, or by the group they come from and then by tag.
    """
    who, shown = animals_of(conn, placing, on)
    names = _group_names(conn, placing, who)
    sheets = [_bull_sheet(placing, group, names, who, order) for group in placing.groups]
    for place in PLACES[1:]:
        rows = [one for one in shown if one.place == place]
        to = None if place == NOT_BRED else names[place]
        sheets.append(SortSheet(place, to, (), None, _rows(rows, to, who, order)))
    young = [who[one.animal].tag for one in shown if one.place == NOT_BRED and one.code == TOO_YOUNG]
    return SortSheets(
        name=placing.name,
        on=on,
        accepted=placing.accepted,
        kept=placing.kept,
        first=placing.first,
        last=placing.last,
        sheets=tuple(sheets),
        gates=_gates(sheets),
        staying=sum(row.there for sheet in sheets for row in sheet.rows),
        too_young=tuple(young),
    )


def _bull_sheet(
    placing: SeasonPlacing,
    group: BullsTogether,
    names: Mapping[int | str, str],
    who: Mapping[int, SheetAnimal],
    order: Order,
) -> SortSheet:
    bulls = tuple(SheetBull(who[bull.animal], bull.first, bull.last) for bull in group.bulls)
    to = names[group.key]
    return SortSheet(BULL, to, bulls, group.places, _rows(placing.of_group(group.key), to, who, order))


def _rows(
    females: Iterable[PlacedFemale], to: str | None, who: Mapping[int, SheetAnimal], order: Order
) -> tuple[SheetRow, ...]:
    rows = [
        SheetRow(who[one.animal], to is None or who[one.animal].group == to, one.by_hand, one.reason)
        for one in females
    ]
    if order == "from":  # the order within is that of tags already
        rows.sort(key=lambda row: (row.who.group is None, row.who.group or ""))
    return tuple(rows)


def _gates(sheets: Sequence[SortSheet]) -> tuple[Gate, ...]:
    """Count who goes from where to where, in the order of the sheets and then of where they come from."""
    found = []
    for sheet in sheets:
        if sheet.to is None or not sheet.rows:
            continue
        day = min((bull.first for bull in sheet.bulls), default=None)
        females = Counter(row.who.group for row in sheet.rows if not row.there)
        bulls = {bull.who.group: tuple[str, ...]() for bull in sheet.bulls if bull.who.group != sheet.to}
        for bull in sheet.bulls:
            if bull.who.group in bulls:
                bulls[bull.who.group] += (bull.who.words,)
        for came in sorted({*females, *bulls}, key=lambda name: (name is None, name or "")):
            found.append(Gate(came, sheet.to, females[came], bulls.get(came, ()), day))
    return tuple(found)


# -- what the book knows of them ---


def animals_of(
    conn: Connection, placing: SeasonPlacing, on: date
) -> tuple[dict[int, SheetAnimal], list[PlacedFemale]]:
    """Return every animal of a season, and its females in order of tags, without calves too young to sort."""
    facts = facts_of(conn, placing, on)
    numbers, groups = _electronic(conn, facts, on), _came_from(conn, facts, placing.plan, on)
    alerts = alerts_among(conn, on, facts)
    told = {key: tuple(reason_words(alert) for alert in each) for key, each in alerts.items()}
    who = {
        key: _animal(one, numbers.get(key), groups.get(key), told.get(key, ()), on)
        for key, one in facts.items()
    }
    return who, _shown(placing, facts, alerts, on)


def facts_of(conn: Connection, placing: SeasonPlacing, on: date) -> dict[int, AnimalFacts]:
    """Return what the book knows of every animal of a season, in order of tags."""
    bulls = {bull.animal for group in placing.groups for bull in group.bulls}
    return load_herd(conn, on, [*bulls, *(one.animal for one in placing.females)], measured=False)


def _shown(
    placing: SeasonPlacing, facts: Mapping[int, AnimalFacts], alerts: Container[int], on: date
) -> list[PlacedFemale]:
    """Return the females in order of tags, without calves that nobody has placed and no alert is about."""
    of = {one.animal: one for one in placing.females}
    return [
        of[key]
        for key, one in facts.items()
        if key in of
        if of[key].place != NOT_BRED
        or of[key].by_hand
        or key in alerts
        or one.class_on(on) is not AnimalClass.CALF
    ]


def _animal(
    facts: AnimalFacts, electronic: str | None, group: str | None, alerts: tuple[str, ...], on: date
) -> SheetAnimal:
    return SheetAnimal(
        facts.id,
        facts.tag,
        None if facts.name == facts.tag else facts.name,
        electronic,
        facts.care,
        facts.class_on(on).value,
        group,
        facts.here_since is not None,
        alerts,
    )


def _electronic(conn: Connection, animals: Iterable[int], on: date) -> dict[int, str]:
    """Return the electronic number that each animal bears, the latest if it has been given another."""
    i = t.columns(t.Identity)
    query = (
        select(i.animal_id, i.value)
        .where(i.scheme == "electronic", i.animal_id.in_(list(animals)))
        .where(i.to_day.is_(None) | (i.to_day > on))
        .order_by(i.from_day, i.id)
    )
    numbers: dict[int, str] = {}
    for animal, value in conn.execute(query):
        numbers[animal] = value
    return numbers


def _came_from(conn: Connection, animals: Iterable[int], plan: int | None, on: date) -> dict[int, str]:
    """Return the group of each animal on a day, as if the plan had moved nobody yet."""
    m, g = t.columns(t.Membership), t.columns(t.Group)
    query = (
        select(m.animal_id, m.from_day, m.to_day, m.plan_id, g.name)
        .where(g.id == m.group_id, m.animal_id.in_(list(animals)), m.from_day <= on)
        .order_by(m.from_day, m.id)
    )
    found: dict[int, str] = {}
    left: dict[int, tuple[str, date]] = {}
    for animal, first, last, of_plan, name in conn.execute(query):
        if of_plan is not None and of_plan == plan:
            if animal in left and left[animal][1] == first:
                found[animal] = left[animal][0]
            continue
        if last is None or last > on:
            found[animal] = name
        else:
            left[animal] = (name, last)
    return found


def _group_names(
    conn: Connection, placing: SeasonPlacing, who: Mapping[int, SheetAnimal]
) -> dict[int | str, str]:
    """Return the name of the group that each place means: those in the book, else as they will be named."""
    names: dict[int | str, str] = {FINISHING: say("Finishing"), SELL: say("To sell")}
    g, r, b = t.columns(t.Group), t.columns(t.BullRun), t.columns(t.BullRunBull)
    for place, purpose in ((FINISHING, "finishing"), (SELL, "sale")):
        query = select(g.name).where(g.purpose == purpose, g.ended.is_(None)).order_by(g.id).limit(1)
        names[place] = conn.scalar(query) or names[place]
    for group in placing.groups:
        names[group.key] = say("With {bulls}", bulls=" + ".join(who[bull.animal].tag for bull in group.bulls))
    if placing.accepted is not None:
        run = select(b.animal_id, g.name).where(
            r.plan_id == placing.plan, b.run_id == r.id, g.id == r.group_id
        )
        names |= {bull: name for bull, name in conn.execute(run) if bull in names}
    return names
