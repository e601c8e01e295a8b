"""Which papers there are: what each holds, what it reads from the book, and its columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from herdbook.services.queries.bloodlines import founders_of
from herdbook.services.queries.butcher import cull_list, finishing_list
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.due import DueRow, due_list
from herdbook.services.queries.runs import InRun, RunRow, runs_now
from herdbook.services.queries.treatments import TreatmentRow, running, treatments
from herdbook.services.saying import called
from herdbook.ui.bloodlines import tables
from herdbook.ui.butcher import culls, finishing
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.measures import unit_of
from herdbook.ui.reasons import reason_text
from herdbook.ui.register.table import RegisterSource
from herdbook.ui.register.table import columns as register_columns
from herdbook.ui.tables.columns import Column, Mark, number
from herdbook.ui.tables.models import RowsModel
from herdbook.ui.tables.paged import PagedTable
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

EVEN = 0.01
"""Chances that differ by less are no reason to name one bull before another."""


@dataclass(frozen=True)
class Paper:
    """One paper.

    Parameters
    ----------
    key : str
    title : str
    holds : str
        What it holds, in a sentence; stands under its title too.
    empty : str
        What is said where there is nothing to list.
    page : str
        The page where its rows are made.
    go : str
        What the button that leads there says.
    columns : callable (desk) -> tuple of Column
    query : callable (conn, on) -> rows, optional
        None for the herd list, which is read a page at a time.
    row_key : callable (row) -> hashable
    """

    key: str
    title: str
    holds: str
    empty: str
    page: str
    go: str
    columns: Callable[[Desk], tuple[Column, ...]]
    query: Callable[..., Sequence[Any]] | None = None
    row_key: Callable[[Any], Any] = lambda row: row.animal

    def model(self, desk: Desk) -> RowsModel:
        """Return the model of the paper's table, still empty."""
        columns = self.columns(desk)
        if self.query is not None:
            return SimpleTable(columns, key=self.row_key)

        def keys(conn: Any, **ask: Any) -> Sequence[int]:
            return RegisterSource(desk.on).keys(conn, **ask)

        return PagedTable(desk, columns, keys, lambda conn, ids: RegisterSource(desk.on).rows(conn, ids))


def all_papers() -> tuple[Paper, ...]:
    """Return the papers in the order in which a year asks for them."""
    return (
        Paper(
            "due",
            say("Due list"),
            say("Every female that may be in calf, the soonest first, with room to write what came."),
            say("Nobody is known to be in calf."),
            "calving",
            say("Go to Calving"),
            _due,
            due_list,
        ),
        Paper(
            "herd",
            say("Herd list"),
            say("Every animal that is here, by tag."),
            say("No animal is in the book yet."),
            "register",
            say("Go to the Register"),
            _herd,
        ),
        Paper(
            "groups",
            say("Bull groups"),
            say("Each bull that is in or goes in, with his females and his days."),
            say("No bull is in, and none is set to go in."),
            "sort",
            say("Go to the Sort"),
            _groups,
            bull_groups,
            lambda row: (row.run, row.animal),
        ),
        Paper(
            "butcher",
            say("Butcher list"),
            say("The finishing animals: weight, ready day, clear of medicine, 30 months, booked day."),
            say("No steer is here, and nothing stands in a finishing group."),
            "butcher",
            say("Go to Butcher"),
            _butcher,
            finishing_list,
        ),
        Paper(
            "culls",
            say("Reasons to cull"),
            say("Each female with the reasons that the book gives, by tag; no order, no advice."),
            say("The book gives no reason to cull anybody."),
            "butcher",
            say("Go to Butcher"),
            _culls,
            cull_list,
        ),
        Paper(
            "bloodlines",
            say("Bloodlines"),
            say("The founders behind all animals here, and what hangs on one that can be bred from."),
            say("No animal is in the book yet."),
            "bloodlines",
            say("Go to Bloodlines"),
            _founders,
            founders_of,
            lambda row: row.who.animal,
        ),
        Paper(
            "running",
            say("Medicine running"),
            say("Animals here that are not clear yet, or of which the days are not known: ask your vet."),
            say("No medicine period runs, and none is unknown."),
            "register",
            say("Go to the Register"),
            _running,
            running,
            lambda row: row.row,
        ),
        Paper(
            "medicine",
            say("Medicine book"),
            say("Every treatment in the book, the latest first. The label, or your vet, has the last word."),
            say("No treatment is in the book yet."),
            "register",
            say("Go to the Register"),
            _medicine,
            treatments,
            lambda row: row.row,
        ),
    )


# -- bull groups, a line a female ---


@dataclass(frozen=True)
class GroupLine:
    """A female of a bull group, or its bull alone where no female is in it."""

    run: int
    bulls: str
    first: date
    last: date | None
    animal: int | None
    tag: str
    name: str | None
    state: str


def bull_groups(conn: Any, on: date) -> list[GroupLine]:
    """Return the bull groups that are under way or ahead, a line a female."""
    return [_line(run, female, on) for run in runs_now(conn, on) for female in run.females or (None,)]


def _line(run: RunRow, female: InRun | None, on: date) -> GroupLine:
    who = (female.animal, female.tag, female.name) if female else (None, "", None)
    days = (female.from_day, female.to_day or run.last) if female else (run.first, run.last)
    return GroupLine(run.id, run.bull_words, *days, *who, run.state(on))


# -- columns ---


def _day(desk: Desk) -> Callable[[Any], str]:
    return lambda day: day_text(day, desk.on)


def _care(row: Any) -> Mark | None:
    """Return what to mind about an animal, as it can be told from its name in black print."""
    return ("act", say("take care: {why}", why=row.care)) if row.care else None


def _who() -> Column:
    """Return the column of the animal; what to mind about it stands in full beside its name on paper."""
    return Column(
        "tag",
        say("animal"),
        get=lambda row: called(row.tag, row.name),
        mark=_care,
        tip=lambda row: row.care or "",
        width=14,
    )


def _due(desk: Desk) -> tuple[Column, ...]:
    def rests(row: DueRow) -> str:
        return reason_text(row.rests_on, desk.on)

    return (
        _who(),
        Column("class_", say("class"), show=class_label, width=10.5, gives=3),
        Column("expected", say("likeliest"), show=_day(desk), width=10, gives=0),
        Column("first_due", say("first due"), show=_day(desk), width=10),
        Column("last_due", say("last due"), show=_day(desk), width=10),
        Column("sires", say("sire"), get=_sires, width=11),
        Column("room", say("calved, calf, remarks"), get=lambda _: "", width=15, gives=4, sortable=False),
        Column("rests_on", say("rests on"), get=rests, width=40, hidden=True, sortable=False),
    )


def _sires(row: DueRow) -> str:
    """Return the possible sires; bulls between which the days say nothing stand without figures."""
    names = [called(sire.tag, sire.name) for sire in row.sires]
    chances = [sire.chance for sire in row.sires]
    if len(names) > 1 and max(chances) - min(chances) < EVEN:
        return say("{first} or {last}", first=", ".join(names[:-1]), last=names[-1])
    if len(names) > 1:
        names = [say("{bull} {chance:.0%}", bull=n, chance=c) for n, c in zip(names, chances, strict=True)]
    return ", ".join(names)


def _herd(desk: Desk) -> tuple[Column, ...]:
    return register_columns(desk.on, unit_of(desk))


def _groups(desk: Desk) -> tuple[Column, ...]:
    def state(row: GroupLine) -> Mark | None:
        return ("go", say("in")) if row.state == "in" else ("soon", say("ahead"))

    return (
        Column("bulls", say("bull"), mark=state, width=20),
        Column("tag", say("female"), get=lambda row: called(row.tag, row.name), width=16),
        Column("first", say("with him from"), show=_day(desk), width=14),
        Column("last", say("to"), show=_day(desk), width=12),
        Column("room", say("remarks"), get=lambda _: "", width=20, gives=4, sortable=False),
    )


def _butcher(desk: Desk) -> tuple[Column, ...]:
    wanted = [column for column in finishing.columns(desk) if column.key != finishing.RULER]
    return (_who(), *(replace(column, hidden=False) for column in wanted[1:]))


def _culls(desk: Desk) -> tuple[Column, ...]:
    return (_who(), *culls.columns(desk)[1:])


def _founders(_: Desk) -> tuple[Column, ...]:
    return tables.paper_columns()


def _running(desk: Desk) -> tuple[Column, ...]:
    columns = {column.key: column for column in _medicine(desk)}
    order = ("tag", "product", "last_day", "meat_days", "clear_on", "reason")
    return tuple(replace(columns[key], hidden=False) for key in order)


def _medicine(desk: Desk) -> tuple[Column, ...]:
    def unknown(row: TreatmentRow) -> Mark | None:
        return ("act", say("not known, ask")) if row.clear_on is None else None

    def gone(row: TreatmentRow) -> Mark | None:
        return _care(row) if row.here else ("quiet", say("left"))

    return (
        replace(_who(), mark=gone),
        Column("product", say("medicine"), width=16),
        Column("day", say("given"), show=_day(desk), width=10),
        Column("last_day", say("last dose"), show=_day(desk), width=10, hidden=True),
        Column("dose", say("dose"), width=8),
        Column("route", say("how"), width=10, hidden=True),
        Column("batch", say("batch"), width=6),
        Column("meat_days", say("meat days"), show=number(0), figures=True, width=8.5),
        Column("clear_on", say("clear from"), show=_day(desk), mark=unknown, width=11.5),
        Column("reason", say("for"), width=10),
        Column("by_whom", say("by"), width=7),
        Column("note", say("note"), width=16, hidden=True),
    )
