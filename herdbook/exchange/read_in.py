"""Sheets into rows: a cell is understood or its row is skipped and named. The book is not asked here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from herdbook.exchange.headings import DATE_FIELDS, Columns, lay_out, missing, recognise
from herdbook.exchange.sheets import Row, Sheet, read_sheets
from herdbook.exchange.values import (
    SexSaid,
    blank,
    column_order,
    read_date,
    read_ease,
    read_leaving,
    read_number,
    read_result,
    read_sex,
)
from herdbook.husbandry.ids import read_electronic
from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.units import Weight, parse_weight
from herdbook.services.reading.rows import (
    AnimalRow,
    Ask,
    At,
    CalvingRow,
    CheckRow,
    Question,
    ReadIn,
    RunRow,
    ServiceRow,
    Skipped,
    TreatmentRow,
    WeightRow,
)
from herdbook.words import say

Dates = str | Mapping[tuple[str, str], str] | None
_UNIT_WORDS = {"kg", "lb"}


class _Bad(Exception):
    """A cell that cannot be read: its field and why."""

    def __init__(self, field_name: str, why: str) -> None:
        super().__init__(why)
        self.field = field_name


@dataclass
class _Reading:
    """One sheet being read: where its columns stand and how its dates are ordered."""

    sheet: Sheet
    columns: Columns
    orders: dict[str, str | None]
    on: date
    default_unit: str
    doubts: list[Question] = field(default_factory=list)

    def text(self, row: Row, name: str, *, zero: bool = False) -> str | None:
        """Return a cell's text, None for a blank one or where there is no such column."""
        at = self.columns.place.get(name)
        if at is None or blank(row.cells[at], zero=zero):
            return None
        return " ".join(row.cells[at].split())

    def raw(self, row: Row, name: str) -> str:
        at = self.columns.place.get(name)
        return "" if at is None else row.cells[at]

    def need(self, row: Row, name: str, *, zero: bool = True) -> str:
        """Return a cell's text; a blank one makes the row bad."""
        text = self.text(row, name, zero=zero)
        if text is None:
            raise _Bad(name, say("Nothing stands here."))
        return text

    def read(self, name: str, reader: Callable[[str], Any], text: str) -> Any:
        """Read a text, naming the column where it cannot be read."""
        try:
            return reader(text)
        except ValueError as error:
            raise _Bad(name, str(error.args[0] if error.args else error)) from None

    def part_day(self, row: Row, name: str) -> PartDay | None:
        text = self.text(row, name, zero=True)
        if text is None:
            return None
        found: PartDay = self.read(name, lambda t: read_date(t, self.orders.get(name), self.on), text)
        if found.day > self.on and name not in ("in", "out"):
            self.doubt(row, name, "future_date", say("{day} is still to come.", day=found))
        return found

    def need_day(self, row: Row, name: str) -> PartDay:
        self.need(row, name)
        found = self.part_day(row, name)
        assert found is not None
        return found

    def full_day(self, row: Row, name: str) -> date | None:
        found = self.part_day(row, name)
        if found is not None and found.precision != "day":
            raise _Bad(name, say("The day is wanted, not only {part}.", part=found))
        return found.day if found else None

    def heading(self, name: str) -> str:
        return self.sheet.header[self.columns.place[name]]

    def at(self, row: Row) -> At:
        return At(self.sheet.name, row.number)

    def doubt(self, row: Row, name: str, code: str, text: str, tag: str | None = None) -> None:
        tag = tag or self.text(row, "tag", zero=True) or self.text(row, "dam", zero=True)
        tags = (tag,) if tag else ()
        self.doubts.append(Question(code, text, tags, self.sheet.name, row.number, self.heading(name)))


def plan_read_in(
    paths: Iterable[Path],
    *,
    on: date,
    dates: Dates = None,
    headings: Mapping[str, str] | None = None,
    kinds: Mapping[str, str] | None = None,
    default_unit: str = "kg",
) -> ReadIn:
    """Read files of sheets and return what they say.

    Parameters
    ----------
    paths : iterable of Path
        CSV files and spreadsheets.
    on : date
        The day of reading.
    dates : {"dmy", "mdy", "ymd"} or Mapping[(sheet, heading), order], optional
        The order of day and month where the column does not tell it.
    headings : Mapping[str, str], optional
        The keeper's matches of headings to fields ("" passes a column over).
    kinds : Mapping[str, str], optional
        What the keeper says that a sheet is, by its name.
    default_unit : {"kg", "lb"}
        What a weight without a unit means.

    Raises
    ------
    SheetUnreadable
        For the first file that is no sheet.
    """
    sheets = [sheet for path in paths for sheet in read_sheets(path)]
    return plan_sheets(sheets, on=on, dates=dates, headings=headings, kinds=kinds, default_unit=default_unit)


def plan_sheets(
    sheets: Sequence[Sheet],
    *,
    on: date,
    dates: Dates = None,
    headings: Mapping[str, str] | None = None,
    kinds: Mapping[str, str] | None = None,
    default_unit: str = "kg",
) -> ReadIn:
    """Return what sheets say; see `plan_read_in`."""
    rows: dict[str, list[Any]] = {kind: [] for kind in _READERS}
    skipped: list[Skipped] = []
    questions: list[Question] = []
    asks: list[Ask] = []
    columns: dict[str, dict[str, str]] = {}
    for sheet in sheets:
        told = (kinds or {}).get(sheet.name)
        fits = recognise(sheet.header, headings, told)
        if len(fits) != 1:
            asks.append(_wanting(sheet, told, headings) if told else _which_kind(sheet, fits))
            continue
        reading = _Reading(sheet, fits[0], {}, on, default_unit)
        columns[sheet.name] = {name: reading.heading(name) for name in fits[0].place}
        asks.extend(_order_dates(reading, dates))
        questions.extend(_unknown_headings(sheet, fits[0]))
        if not asks:
            read, bad = _rows(reading)
            rows[fits[0].kind].extend(read)
            skipped.extend(bad)
            questions.extend(reading.doubts)
    if asks:
        return ReadIn(asks=tuple(asks), columns=columns)
    made = {kind: tuple(read) for kind, read in rows.items()}
    return ReadIn(**made, skipped=tuple(skipped), questions=tuple(questions), columns=columns)


def _which_kind(sheet: Sheet, kinds: Sequence[Columns]) -> Ask:
    if kinds:
        text = say(
            "{sheet} could be a sheet of {kinds}; the headings do not tell.",
            sheet=sheet.name,
            kinds=" / ".join(columns.kind for columns in kinds),
        )
    else:
        text = say(
            "The headings of {sheet} ({headings}) do not tell what it is.",
            sheet=sheet.name,
            headings=", ".join(sheet.header),
        )
    return Ask("kind", sheet.name, None, sheet.header, text)


def _wanting(sheet: Sheet, told: str, headings: Mapping[str, str] | None) -> Ask:
    wanted = missing(lay_out(told, sheet.header, headings))
    text = say("Which column of {sheet} is {fields}?", sheet=sheet.name, fields=", ".join(wanted))
    return Ask("kind", sheet.name, None, sheet.header, text)


def _unknown_headings(sheet: Sheet, columns: Columns) -> list[Question]:
    return [
        Question(
            "column_not_read",
            say("The column “{heading}” is not known and was not read in.", heading=heading),
            sheet=sheet.name,
            column=heading,
        )
        for heading in columns.unknown
    ]


def _order_dates(reading: _Reading, dates: Dates) -> list[Ask]:
    """Decide the order of day and month in each column of dates; return what nothing decides."""
    asks = []
    for name in sorted(DATE_FIELDS & reading.columns.place.keys()):
        heading, sheet = reading.heading(name), reading.sheet.name
        told = dates if isinstance(dates, str) or dates is None else dates.get((sheet, heading))
        at = reading.columns.place[name]
        order = column_order((row.cells[at] for row in reading.sheet.rows), reading.on)
        reading.orders[name] = order.order or told
        if order.doubtful and told is None:
            text = say(
                "Is the day or the month first in “{heading}” of {sheet}? {example} could be either.",
                heading=heading,
                sheet=sheet,
                example=order.doubtful[0],
            )
            asks.append(Ask("dates", sheet, heading, order.doubtful[:5], text))
    return asks


def _rows(reading: _Reading) -> tuple[list[Any], list[Skipped]]:
    """Read the rows that can be read; name the others."""
    read_row = _READERS[reading.columns.kind]
    read, bad = [], []
    for row in reading.sheet.rows:
        doubts = len(reading.doubts)
        try:
            if row.number in reading.sheet.too_long:
                why = say("The row has more cells than there are headings; a value may hold the delimiter.")
                bad.append(Skipped(reading.sheet.name, row.number, None, why))
                continue
            read.append(read_row(reading, row))
        except _Bad as error:
            del reading.doubts[doubts:]
            heading = reading.heading(error.field) if error.field in reading.columns.place else None
            bad.append(Skipped(reading.sheet.name, row.number, heading, str(error)))
    return read, bad


def _animal(r: _Reading, row: Row) -> AnimalRow:
    tag = r.need(row, "tag")
    said = r.read("sex", read_sex, r.raw(row, "sex"))
    electronic = r.text(row, "electronic_id", zero=True)
    if electronic is not None:
        number = r.read("electronic_id", read_electronic, electronic)
        electronic = number.digits
        for warning in number.warnings:
            r.doubt(row, "electronic_id", warning.code, str(warning), tag)
    reason = r.text(row, "reason_left", zero=True)
    born, entered, left = (r.part_day(row, name) for name in ("born", "entered", "left"))
    return AnimalRow(
        at=r.at(row),
        tag=tag,
        name=r.text(row, "name"),
        sex=said.sex,
        castrated=said.castrated,
        entire=said.entire,
        cow=said.cow,
        dead=said.dead,
        born=born,
        dam=r.text(row, "dam", zero=True),
        sire=r.text(row, "sire", zero=True),
        breed=r.text(row, "breed", zero=True),
        colour=r.text(row, "colour", zero=True),
        electronic=electronic,
        official=r.text(row, "official", zero=True),
        registration=r.text(row, "registration", zero=True),
        entered=entered,
        left=left,
        leaving=read_leaving(reason) if reason else None,
        reason_left=reason,
        last_calved=r.part_day(row, "last_calved"),
        note=r.text(row, "note"),
    )


def _weight_of(r: _Reading, name: str, text: str, written: str | None) -> Weight:
    unit = r.columns.unit or r.default_unit
    if written is not None and written.casefold() not in _UNIT_WORDS:
        # Any word for a unit that a typed weight may carry is understood in a column of units too.
        unit = r.read("unit", lambda u: parse_weight(f"1 {u}", "kg").unit, written)
    elif written is not None:
        unit = written.casefold()
    weight: Weight = r.read(name, lambda t: parse_weight(t, unit), text)
    return weight


def _weight(r: _Reading, row: Row) -> WeightRow:
    tag, day = r.need(row, "tag"), r.need_day(row, "date")
    weight = _weight_of(r, "weight", r.need(row, "weight", zero=False), r.text(row, "unit"))
    return WeightRow(r.at(row), tag, day, weight.kg, weight.unit)


def _service(r: _Reading, row: Row) -> ServiceRow:
    return ServiceRow(
        r.at(row),
        r.need(row, "dam"),
        r.text(row, "sire", zero=True),
        r.need_day(row, "date"),
        r.text(row, "note"),
    )


def _run(r: _Reading, row: Row) -> RunRow:
    sire, dam = r.need(row, "sire"), r.need(row, "dam")
    r.need(row, "in")
    first, last = r.full_day(row, "in"), r.full_day(row, "out")
    assert first is not None
    if last is not None and last < first:
        raise _Bad("out", say("Bull out ({out}) is before bull in ({day}).", out=last, day=first))
    return RunRow(r.at(row), sire, dam, first, last)


def _check(r: _Reading, row: Row) -> CheckRow:
    result = r.raw(row, "result")
    if not result:
        raise _Bad("result", say("Nothing stands here."))
    days = r.read("days", lambda text: read_number(text, 0, 320), r.raw(row, "days"))
    return CheckRow(
        r.at(row),
        r.need(row, "dam"),
        r.need_day(row, "date"),
        r.read("result", read_result, result),
        None if days is None else round(days),
        r.text(row, "note"),
    )


def _calving(r: _Reading, row: Row) -> CalvingRow:
    dam, day = r.need(row, "dam"), r.need_day(row, "date")
    calf = r.text(row, "calf", zero=True)
    said = r.read("sex", read_sex, r.raw(row, "sex"))
    dead, stillborn = said.dead, said.stillborn
    if calf is not None and (told := _only_dead(calf)):
        calf, dead, stillborn = None, True, stillborn or told.stillborn
    weight, written = None, r.text(row, "weight", zero=True)
    if written is not None:
        weight = _weight_of(r, "weight", written, None)
    return CalvingRow(
        at=r.at(row),
        dam=dam,
        day=day,
        ease=r.read("ease", read_ease, r.raw(row, "ease")),
        calf=calf,
        sex=said.sex,
        castrated=said.castrated,
        dead=dead,
        stillborn=stillborn,
        kg=weight.kg if weight else None,
        unit=weight.unit if weight else "kg",
        sire=r.text(row, "sire", zero=True),
        note=r.text(row, "note"),
    )


def _only_dead(word: str) -> SexSaid | None:
    """Return what a word in the column of calves says where it is no tag and says that the calf died."""
    try:
        said = read_sex(word)
    except ValueError:
        return None
    return said if said.dead else None


def _treatment(r: _Reading, row: Row) -> TreatmentRow:
    return TreatmentRow(
        at=r.at(row),
        tag=r.need(row, "tag"),
        day=r.need_day(row, "date"),
        product=r.need(row, "product"),
        meat_days=r.read("days_meat", lambda text: read_number(text, 0, 3650), r.raw(row, "days_meat")),
        dose=r.text(row, "dose"),
        batch=r.text(row, "batch"),
        reason=r.text(row, "reason"),
    )


_READERS: dict[str, Callable[[_Reading, Row], Any]] = {
    "animals": _animal,
    "runs": _run,
    "services": _service,
    "checks": _check,
    "calvings": _calving,
    "weights": _weight,
    "treatments": _treatment,
}
