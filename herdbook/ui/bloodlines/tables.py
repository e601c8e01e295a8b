"""The tables of the Bloodlines page: founders with their shares drawn, lines and measures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QModelIndex, QRect
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QStyleOptionViewItem

from herdbook.husbandry.measures import BirthYear
from herdbook.services.bloodlinewords import MeasureWords, living_words, measure_words
from herdbook.services.queries.bloodlines import OLD_FROM, Beast, Bloodlines, Founder, Line
from herdbook.ui import theme
from herdbook.ui.tables.columns import Column, Mark, number, percent
from herdbook.ui.tables.delegate import CellDelegate
from herdbook.ui.tables.models import RowsModel
from herdbook.words import say

BAR = "bar"
THICK = 3 * theme.STEP


@dataclass(frozen=True)
class MeasureRow:
    """A measure by its name, with its words."""

    name: str
    words: MeasureWords


def measure_rows(told: Bloodlines) -> list[MeasureRow]:
    """Return the measures in the order in which they are told."""
    return [MeasureRow(name, measure_words(name, measure)) for name, measure in told.measures.items()]


def founder_columns(able: int) -> tuple[Column, ...]:
    """Return the columns of the founders; `able` animals here can be bred from."""

    def carried(row: Founder) -> str:
        return say("{n} of {able}", n=row.carriers, able=able)

    return (
        Column("who", say("founder"), get=lambda row: row.who.words, mark=_gone, width=20),
        Column("of_herd", say("share"), show=percent(1), figures=True, width=8, gives=0),
        Column(BAR, say("drawn"), get=_no_value, width=15, least=7, sortable=False),
        Column("carriers", say("carried by"), get=carried, order=_leading, figures=True, width=11, gives=2),
        Column(
            "alone", say("hangs on"), get=_no_value, mark=_alone, width=28, least=16, gives=0, sortable=False
        ),
    )


def paper_columns() -> tuple[Column, ...]:
    """Return the columns of the founders on paper."""
    return (
        Column("who", say("founder"), get=lambda row: row.who.words, mark=_gone, width=22),
        Column("of_herd", say("share of the herd's genes"), show=percent(1), figures=True, width=16),
        Column("carriers", say("carried by, to breed from"), show=number(0), figures=True, width=16),
        Column("alone", say("hangs on"), get=_no_value, mark=_alone, width=26, sortable=False),
    )


def line_columns() -> tuple[Column, ...]:
    """Return the columns of the lines."""
    return (
        Column("first", say("line of"), get=lambda row: row.first.words, width=18),
        Column("kind", say("what"), show=_kind, width=11, gives=0),
        Column("living", say("to carry it on"), get=_living, width=13),
        Column("animals", say("all here"), get=_animals, show=number(0), figures=True, width=9, gives=2),
        Column(
            "through",
            say("hangs on"),
            get=lambda _: None,
            mark=_hangs,
            width=30,
            least=18,
            gives=0,
        ),
    )


def measure_columns() -> tuple[Column, ...]:
    """Return the columns of the measures."""
    return (
        Column("label", say("measure"), get=lambda row: row.words.label, width=33, least=30, sortable=False),
        Column(
            "value",
            say("value"),
            get=lambda row: row.words.value,
            figures=True,
            width=11,
            gives=0,
            sortable=False,
        ),
        Column(
            "counted",
            say("counted from"),
            get=_counted,
            width=40,
            least=20,
            gives=2,
            sortable=False,
        ),
    )


def year_columns() -> tuple[Column, ...]:
    """Return the columns of the birth years."""
    return (
        Column("year", say("born in"), width=10),
        Column("born", say("animals"), figures=True, width=10),
        Column("both_known", say("both parents known"), figures=True, width=18, gives=2),
        Column(
            "inbreeding", say("mean inbreeding"), get=_inbreeding, show=_or_unknown, figures=True, width=16
        ),
        Column("kinship", say("mean kinship"), show=percent(1), figures=True, width=14),
    )


def _inbreeding(row: BirthYear) -> float | None:
    """Return a year's mean inbreeding; nothing where of no animal both parents are known."""
    return row.inbreeding if row.both_known else None


def _or_unknown(share: float | None) -> str:
    return say("not known") if share is None else percent(1)(share)


def _no_value(_: object) -> None:
    """Return nothing: the column is drawn, or all of it is its mark."""


def _gone(row: Founder) -> Mark | None:
    return None if row.who.here else ("quiet", say("not here"))


def _alone(row: Founder) -> Mark | None:
    """Return the one animal that carries a founder's genes, or that none here can hand them on."""
    if row.carriers == 0:
        return "act", say("nobody to breed from")
    if row.alone is None:
        return None
    tone = "act" if (row.alone.years or 0) >= OLD_FROM else "soon"
    return tone, _who_alone(row.alone, row.who)


def _leading(text: str) -> int:
    return int(text.split()[0])


def _kind(kind: str) -> str:
    return {"alone": say("genes"), "female": say("female line"), "male": say("bull line")}[kind]


def _living(row: Line) -> str:
    return say("1 animal") if row.kind == "alone" else living_words(row)


def _animals(row: Line) -> int | None:
    return None if row.kind == "alone" else row.animals


def _hangs(row: Line) -> Mark | None:
    if row.through is None:
        return ("act", say("nobody to breed from")) if row.living == 0 else None
    tone = "act" if row.presses else "quiet" if row.kind == "male" else "soon"
    return tone, _who_alone(row.through, row.first)


def _who_alone(who: Beast, first: Beast) -> str:
    """Return the one animal that something hangs on, with its age, in few words."""
    words = say("itself") if who.animal == first.animal else who.words
    if who.years is None:
        return words
    if who.years < 1:
        return say("{animal}, a calf", animal=words)
    if who.years == 1:
        return say("{animal}, 1 year", animal=words)
    return say("{animal}, {n} years", animal=words, n=who.years)


def _counted(row: MeasureRow) -> str:
    return row.words.why_not or row.words.counted


class BarDelegate(CellDelegate):
    """Draws a row's share as a bar; the largest of the table fills the cell."""

    most = 1.0

    def _text(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex,
        box: QRect,
        look: theme.Colours,
    ) -> None:
        model = index.model()
        assert isinstance(model, RowsModel)
        row: Any = model.row_at(index.row())
        if row is None or self.most <= 0:
            return
        wide = max(1, round(box.width() * row.of_herd / self.most))
        top = box.center().y() - THICK // 2
        painter.fillRect(box.left(), top, wide, THICK, QColor(look.moss))
