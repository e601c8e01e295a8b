"""Beginning a book from paper: the first animals with all that one line of a field book says, in one act."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select

from herdbook.husbandry.days import add_months, earliest, latest
from herdbook.husbandry.ids import tag_match
from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Work
from herdbook.services.commands.diary import put_setting
from herdbook.services.holdings import home
from herdbook.services.reading import drafted, write_draft
from herdbook.services.reading.herd import Bad, Beast, Draft
from herdbook.services.reading.rows import AnimalRow, At, ReadIn, RunRow
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t

SHEET = "paper"
"""What the rows are said to come from."""

# A heifer can hardly calve, nor a bull have calves, before these ages: common practice, no source.
_DAM_MONTHS, _SIRE_MONTHS = 15, 13
# The longest a due month can lie ahead: gestation is about 283 days, and a window has its slack.
_LONGEST_DAYS = 310

_Say = Callable[..., "Doubt"]


@dataclass(frozen=True)
class FirstRow:
    """One animal as paper has it.

    Parameters
    ----------
    number : int
        The row in the grid, from 1.
    tag, sex, name, born
        `sex` is "F", "M" or None; `born` may be a year.
    castrated, cow : bool
        Whether the keeper's word was one for a castrated male, or for a female that has calved.
    dam, sire : str or None
        Tags or names; a parent without a row of its own becomes known by name.
    last_calved : PartDay or None
    in_calf_to : str or None
        The bull she is, or may be, in calf to.
    bull_in, bull_out : date or None
        Her first and last day with him, both counted.
    due : PartDay or None
        The day or month for which she is expected, where the dates with the bull are not known.
    """

    number: int
    tag: str
    sex: str | None = None
    name: str | None = None
    born: PartDay | None = None
    castrated: bool = False
    cow: bool = False
    dam: str | None = None
    sire: str | None = None
    last_calved: PartDay | None = None
    in_calf_to: str | None = None
    bull_in: date | None = None
    bull_out: date | None = None
    due: PartDay | None = None

    @property
    def female(self) -> bool:
        """Whether she is a female by what is said of her."""
        return self.sex == "F" or (self.sex is None and self.carries)

    @property
    def carries(self) -> bool:
        """Whether anything is said that only a female can do."""
        return any((self.last_calved, self.in_calf_to, self.bull_in, self.bull_out, self.due))


@dataclass(frozen=True)
class Doubt:
    """What is wrong with a row of the grid, or asked about it.

    Parameters
    ----------
    number : int
        The row.
    field : str
        A field of `FirstRow`.
    reason : Reason
    wrong : bool
        Whether it stands in the way of saving; otherwise it is only worth a look.
    """

    number: int
    field: str
    reason: Reason
    wrong: bool


@dataclass(frozen=True)
class StartBook:
    """Begin a book: its settings, as (key, value), and the animals on paper."""

    rows: tuple[FirstRow, ...]
    settings: tuple[tuple[str, object], ...]
    on: date


@dataclass(frozen=True)
class NameSteers:
    """Say which males are castrated, nobody knows since when."""

    animals: tuple[int, ...]


# -- looking over the rows before they are saved ---


def look_over(rows: Sequence[FirstRow], on: date) -> tuple[Doubt, ...]:
    """Return what is wrong or doubtful in the rows of the grid, in the order of the rows."""
    by_word = _by_word(rows)
    found = [doubt for row in rows for doubt in _look(row, by_word, on)]
    return tuple(sorted(found, key=lambda doubt: doubt.number))


def _by_word(rows: Iterable[FirstRow]) -> dict[str, list[FirstRow]]:
    """Return the rows by what they can be called: by tag, else by name."""
    tags: dict[str, list[FirstRow]] = defaultdict(list)
    names: dict[str, list[FirstRow]] = defaultdict(list)
    for row in rows:
        tags[tag_match(row.tag)].append(row)
        if row.name:
            names[tag_match(row.name)].append(row)
    return {**names, **tags}


def _look(row: FirstRow, by_word: Mapping[str, list[FirstRow]], on: date) -> Iterable[Doubt]:
    def wrong(field: str, code: str, template: str, **values: object) -> Doubt:
        return Doubt(row.number, field, Reason(code, template, values), wrong=True)

    def ask(field: str, code: str, template: str, **values: object) -> Doubt:
        return Doubt(row.number, field, Reason(code, template, values), wrong=False)

    first = by_word[tag_match(row.tag)][0]
    if first is not row and first.number < row.number:
        yield wrong(
            "tag", "tag_twice", "Tag {tag} stands in row {row} already", tag=row.tag, row=first.number
        )
    for field, day in (("born", row.born), ("last_calved", row.last_calved)):
        if day is not None and day.day > on:
            yield wrong(field, "to_come", "{day} is still to come", day=day)
    if row.bull_in is None and row.bull_out is not None:
        yield wrong("bull_in", "no_bull_in", "When did the bull go in?")
    if row.bull_in and row.bull_out and row.bull_out < row.bull_in:
        yield wrong("bull_out", "out_before_in", "Bull out ({out}) is before bull in ({day})",
                    out=row.bull_out, day=row.bull_in)  # fmt: skip
    if row.bull_in is not None and row.in_calf_to is None:
        yield wrong("in_calf_to", "which_bull", "With which bull? Write his tag or name")
    if row.sex == "M" and row.carries:
        yield wrong(
            "sex", "male_in_calf", "{tag} is a male and cannot be in calf or have calved", tag=row.tag
        )
    if row.sex is None and not row.carries:
        yield ask("sex", "no_sex", "The sex of {tag} is not said", tag=row.tag)
    if row.born is None and row.last_calved is None:
        yield ask("born", "no_birth", "When was {tag} born? A year will do", tag=row.tag)
    yield from _look_at_parents(row, by_word, wrong, ask)
    yield from _look_at_calving(row, by_word, on, wrong, ask)


def _look_at_parents(
    row: FirstRow, by_word: Mapping[str, list[FirstRow]], wrong: _Say, ask: _Say
) -> Iterable[Doubt]:
    """Look at the parents that have a row of their own."""
    for field, months, sex in (("dam", _DAM_MONTHS, "F"), ("sire", _SIRE_MONTHS, "M")):
        word = getattr(row, field)
        parents = by_word.get(tag_match(word), []) if word else []
        if row in parents:
            yield wrong(field, "own_parent", "{tag} cannot be its own parent", tag=row.tag)
        elif len(parents) == 1:
            parent = parents[0]
            if parent.sex not in (None, sex):
                yield wrong(field, "parent_sex", "{parent} in row {row} is no {role}",
                            parent=parent.tag, row=parent.number, role=field)  # fmt: skip
            oldest = earliest(parent.born.day, parent.born.precision) if parent.born else None
            if row.born and oldest and latest(row.born.day, row.born.precision) < add_months(oldest, months):
                yield ask(field, "parent_young", "{parent} would have been under {months} months old",
                          parent=parent.tag, months=months)  # fmt: skip


def _look_at_calving(
    row: FirstRow, by_word: Mapping[str, list[FirstRow]], on: date, wrong: _Say, ask: _Say
) -> Iterable[Doubt]:
    """Look at her bull and at when she is due."""
    bulls = by_word.get(tag_match(row.in_calf_to), []) if row.in_calf_to else []
    if bulls and (bulls[0].sex == "F" or bulls[0].castrated):
        yield wrong("in_calf_to", "no_bull", "{tag} in row {row} is no bull",
                    tag=bulls[0].tag, row=bulls[0].number)  # fmt: skip
    if row.in_calf_to and row.bull_in is None and row.due is None:
        yield ask("bull_in", "when_due", "Bull in, or the month she is due? Without one nobody knows when")
    if row.due is not None:
        last = _due_days(row.due)[1]
        if last < on:
            yield wrong("due", "due_past", "{day} is past; the next calving is meant", day=row.due)
        elif row.due.day > on + timedelta(days=_LONGEST_DAYS):
            yield wrong("due", "due_far", "No calf that is on its way comes as late as {day}", day=row.due)
    oldest = earliest(row.born.day, row.born.precision) if row.born else None
    for field, day in (("last_calved", row.last_calved), ("due", row.due)):
        if day and oldest and latest(day.day, day.precision) < add_months(oldest, _DAM_MONTHS):
            yield ask(field, "dam_young", "{tag} would have been under {months} months old",
                      tag=row.tag, months=_DAM_MONTHS)  # fmt: skip


def known_by_name(rows: Sequence[FirstRow]) -> list[str]:
    """Return the parents and bulls that have no row, each once: they will be known by name only."""
    by_word = _by_word(rows)
    words = [word for row in rows for word in (row.dam, row.sire, row.in_calf_to) if word]
    strangers = {tag_match(word): word for word in reversed(words) if tag_match(word) not in by_word}
    return list(reversed(strangers.values()))


# -- writing them ---


def _due_days(due: PartDay) -> tuple[date, date]:
    """Return the first and the last day that are meant."""
    return due.day, latest(due.day, due.precision)


def _as_animal(row: FirstRow) -> AnimalRow:
    return AnimalRow(
        at=At(SHEET, row.number),
        tag=row.tag,
        name=row.name,
        sex="F" if row.female else row.sex,
        castrated=row.castrated,
        cow=row.cow,
        born=row.born,
        dam=row.dam,
        sire=row.sire,
        last_calved=row.last_calved,
    )


def _plan(rows: Sequence[FirstRow]) -> ReadIn:
    """Return the rows as a reading: the animals, and who was with which bull."""
    runs = [
        RunRow(At(SHEET, row.number), row.in_calf_to, row.tag, row.bull_in, row.bull_out)
        for row in rows
        if row.in_calf_to and row.bull_in
    ]
    return ReadIn(animals=tuple(map(_as_animal, rows)), runs=tuple(runs))


def _said_in_calf(draft: Draft, row: FirstRow, on: date) -> None:
    """Write the keeper's word that she is in calf, where no dates with the bull tell of it."""
    if row.due is None and (row.in_calf_to is None or row.bull_in is not None):
        return
    first, last = _due_days(row.due) if row.due else (None, None)
    dam = draft.herd.one(row.tag, "tag", on, "F")
    sire: Beast | None = draft.herd.named(row.in_calf_to, "M") if row.in_calf_to else None
    draft.rows[t.PregnancyCheck].append({
        "animal_id": dam, "day": on, "day_precision": "day", "method": "statement", "result": "pregnant",
        "sire_id": sire, "due_from": first, "due_to": last,
    })  # fmt: skip


@handles(StartBook)
def _start(work: Work, command: StartBook) -> int:
    """Write settings and animals; return how many animals there are."""
    for key, value in (*command.settings, ("book_began", command.on)):
        put_setting(work, key, value)
    for doubt in look_over(command.rows, command.on):
        if doubt.wrong:
            raise Refused(doubt.reason)
    holding = home(work.session)
    work.session.flush()
    if command.rows:
        draft = drafted(work.conn, _plan(command.rows), command.on)
        if draft.skipped:
            skipped = draft.skipped[0]
            why = {"row": skipped.row, "why": skipped.reason}
            raise Refused(Reason("row_refused", "Row {row}: {why}", why))
        try:
            for row in command.rows:
                _said_in_calf(draft, row, command.on)
        except Bad as error:
            raise Refused(
                Reason("row_refused", "Row {row}: {why}", {"row": row.number, "why": error})
            ) from None
        write_draft(draft, work.conn, holding)
    return len(command.rows)


@handles(NameSteers)
def _name_steers(work: Work, command: NameSteers) -> None:
    stays = select(t.Stay.animal_id, func.min(t.Stay.from_day)).where(t.Stay.animal_id.in_(command.animals))
    since = work.session.execute(stays.group_by(t.Stay.animal_id)).all()
    work.session.add_all(
        t.Castration(animal_id=animal, day=day, day_precision="before", method="unknown")
        for animal, day in since
    )
