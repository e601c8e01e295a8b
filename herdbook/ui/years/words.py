"""What the years after are called in the window: policies, figures, and the table of one figure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from herdbook.husbandry.years import PRESETS, Policy, Spread, YearsAfter
from herdbook.services.queries.sort import SortAsk
from herdbook.services.queries.years import USUAL, Beginning, beginning, run_years
from herdbook.services.registry import Refused
from herdbook.ui.jobs import Progress
from herdbook.ui.tables.columns import Column, number, percent
from herdbook.words import say


@dataclass(frozen=True)
class Figure:
    """One of the figures that can be looked at: its name, its words, how its numbers are written."""

    name: str
    words: str
    show: Callable[[Any], str]
    share: bool


@dataclass(frozen=True)
class Wanted:
    """What the keeper asks of the years after; no `keep` holds the number of females."""

    policies: tuple[str, ...]
    years: int = 10
    repeats: int = 200
    cull_years: int = Policy("").cull_years
    keep: float | None = None

    @classmethod
    def usual(cls, settings: Any) -> Wanted:
        """Return what is asked at first: the book's own cull age and share of heifers kept."""
        cull = getattr(settings, "cull_age_years", cls.cull_years)
        return cls(USUAL, cull_years=cull, keep=getattr(settings, "heifers_kept", None))

    def made(self) -> list[Policy]:
        """Return the policies with what is asked of all of them."""
        return [replace(PRESETS[name], cull_years=self.cull_years, keep=self.keep) for name in self.policies]


@dataclass(frozen=True)
class Line:
    """A year with the spread of one figure under each policy."""

    year: int
    figures: dict[str, Spread]


def figures() -> tuple[Figure, ...]:
    """Return the figures in the order in which they are shown."""
    return (
        Figure("mean", say("Mean inbreeding"), percent(2), True),
        Figure("worst", say("Worst calf"), percent(2), True),
        Figure("over_limit", say("Pairs over the limit"), percent(1), True),
        Figure("founders", say("Founders"), number(0), False),
        Figure("calves", say("Calves"), number(0), False),
    )


def policy_words(name: str) -> str:
    """Return what a policy is called."""
    return {
        "every-3-years": say("a bought bull for each after 3 seasons"),
        "keep-home-bred": say("a home-bred bull for each after 3 seasons"),
        "swap-one": say("one bull swapped every year"),
        "keep-bulls": say("the bulls kept as long as they last"),
    }[name]


def short_words(name: str) -> str:
    """Return the heading of a policy's column."""
    return {
        "every-3-years": say("bought, 3 seasons"),
        "keep-home-bred": say("home-bred, 3 seasons"),
        "swap-one": say("one swapped a year"),
        "keep-bulls": say("kept"),
    }[name]


def held_words(begin: Beginning) -> str:
    """Say which figure counts where sires are doubtful; nothing where none is."""
    if not begin.doubtful:
        return ""
    if begin.held == "worst":
        return say(" · the worst of possible sires counts")
    return say(" · possible sires count by their chances")


def outcome_words(told: YearsAfter, repeats: int) -> str:
    """Say when a new bull is needed under a policy, in how many of the runs, and how many are bought."""
    turn, bought = told.no_place_year, told.bulls_bought.median or 0.0
    bulls = say("{n} bulls bought", n=number(0)(bought))
    if turn.median is None:
        return say("{bulls}; every bull's places can be filled within the limit", bulls=bulls)
    return say(
        "{bulls}; in {n} of {of} runs ({share}) a bull's places can no longer be filled within the limit, "
        "first in {year} (middle run)",
        bulls=bulls,
        n=round(turn.share * repeats),
        of=repeats,
        share=percent(0)(turn.share),
        year=turn.median,
    )


def spread_words(figure: Figure, spread: Spread) -> str:
    """Write a middle figure with its band."""
    if spread.median is None:
        return say("no calves")
    return say(
        "{middle}  ({low} to {high})",
        middle=figure.show(spread.median),
        low=figure.show(spread.low).removesuffix(" %"),
        high=figure.show(spread.high),
    )


def lines_of(told: Sequence[YearsAfter], figure: Figure) -> list[Line]:
    """Return a line for each year."""
    by_year: dict[int, dict[str, Spread]] = {}
    for each in told:
        for year, found in each.by_year:
            by_year.setdefault(year, {})[each.policy.name] = found[figure.name]
    return [Line(year, found) for year, found in by_year.items()]


def columns(told: Sequence[YearsAfter], figure: Figure) -> tuple[Column, ...]:
    """Return the columns: the year, and each policy."""

    def of(name: str) -> Column:
        return Column(
            name,
            short_words(name),
            get=lambda row: row.figures[name],
            show=lambda spread: spread_words(figure, spread),
            order=lambda spread: -1.0 if spread.median is None else spread.median,
            figures=True,
            width=23,
            least=21,
            gives=0,
        )

    year = Column("year", say("bull in"), figures=True, width=8, gives=0)
    return (year, *(of(each.policy.name) for each in told))


@dataclass(frozen=True)
class Answer:
    """What came of it, and what it began with."""

    begin: Beginning
    told: tuple[YearsAfter, ...]
    wanted: Wanted


def try_years(book: Any, ask: SortAsk, on: date, wanted: Wanted, progress: Progress) -> Answer | Refused:
    """Run the years after beside the window, or return why they cannot be run."""
    progress(say("The years after: reading the herd and its kinship"))
    try:
        with book.read() as conn:
            begin = beginning(conn, on, ask)
        told = run_years(
            begin,
            wanted.made(),
            years=wanted.years,
            repeats=wanted.repeats,
            going=progress.go_on,
            progress=lambda done, of: progress(say("Run {done} of {of}", done=done, of=of), done, of),
        )
    except Refused as refusal:
        return refusal
    return Answer(begin, tuple(told), wanted)
