"""A season as it goes on paper: who is placed with whom, from a sort on the page or from a kept plan.

Figures of a kept plan are those that were kept with it; where a sire is doubtful is looked up anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.reasons import Reason
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.plans import KeptPlan, PlanRow, plan, plans
from herdbook.services.queries.sort_rows import AskedGroup, Choice, SortFemale, SortResult
from herdbook.services.registry import Refused
from herdbook.services.saying import day_words, reason_words
from herdbook.words import say

BULL, NOT_BRED, FINISHING, SELL = "bull", "not_bred", "finishing", "sell"
_DAY = re.compile(r"\b\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])\b")
PLACES = (BULL, NOT_BRED, FINISHING, SELL)


@dataclass(frozen=True)
class BullDays:
    """A bull with his days in, first and last both counted."""

    animal: int
    first: date
    last: date


@dataclass(frozen=True)
class BullsTogether:
    """The bulls of one group, together or one after the other, and how many females it may have."""

    bulls: tuple[BullDays, ...]
    places: int

    @property
    def key(self) -> int:
        """The group is named by its first bull."""
        return self.bulls[0].animal

    @property
    def first(self) -> date:
        """The first day with a bull."""
        return min(bull.first for bull in self.bulls)

    @property
    def last(self) -> date:
        """The last day with a bull."""
        return max(bull.last for bull in self.bulls)


@dataclass(frozen=True)
class PlacedFemale:
    """A female of the season.

    Parameters
    ----------
    animal : int
    place : {"bull", "not_bred", "finishing", "sell"}
    group : int or None
        The key of her group of bulls.
    inbreeding : float or None
        Her calf's.
    known : bool
        False where a figure of nil rests on nothing: no parent is known on one side.
    doubtful : bool
        Whether a sire behind the pair is doubtful, so that the figure is one of several.
    at_risk : bool
        Whether the mating is marked for a heritable condition.
    by_hand : bool
    code : str or None
        Why she has no bull, as a word.
    reason : str
        Why she has no bull, or why she was placed by hand; empty where nothing was said.
    """

    animal: int
    place: str
    group: int | None = None
    inbreeding: float | None = None
    known: bool = True
    doubtful: bool = False
    at_risk: bool = False
    by_hand: bool = False
    code: str | None = None
    reason: str = ""


@dataclass(frozen=True)
class SeasonPlacing:
    """Everyone's place in a season.

    Parameters
    ----------
    name : str
    plan : int or None
        The plan it was kept as.
    accepted, kept : date or None
        When that was accepted, and kept.
    first, last : date
        The season's days.
    limit : float
        No calf was to be more inbred.
    groups : tuple of BullsTogether
    females : tuple of PlacedFemale
    choices, apart
        What was decided by hand, as `SortAsk` has it.
    proven, gap
        Whether it is proven best, and else by how much it might be too dear, if that was worked out.
    held : {"worst", "expected"} or None
        Which figure was held against the limit where a sire is doubtful; None: as the book's settings say.
    clashes : tuple of str
        Heritable conditions of which nothing is said, because results contradict each other.
    """

    name: str
    plan: int | None
    accepted: date | None
    kept: date | None
    first: date
    last: date
    limit: float
    groups: tuple[BullsTogether, ...]
    females: tuple[PlacedFemale, ...]
    choices: Mapping[int, Choice]
    apart: Mapping[tuple[int, int], str]
    proven: bool
    gap: float
    held: str | None = None
    clashes: tuple[str, ...] = ()

    def of_group(self, key: int) -> tuple[PlacedFemale, ...]:
        """Return the females of a group of bulls."""
        return tuple(female for female in self.females if female.group == key)

    def at(self, place: str) -> tuple[PlacedFemale, ...]:
        """Return the females at a place."""
        return tuple(female for female in self.females if female.place == place)


# -- from the page ---


def placing_of_result(result: SortResult, name: str = "") -> SeasonPlacing:
    """Return a sort as it stands on the page."""
    return SeasonPlacing(
        name=name or say("Season {year}", year=result.bull_in.year),
        plan=None,
        accepted=None,
        kept=None,
        first=result.bull_in,
        last=result.bull_out,
        limit=result.limit,
        groups=tuple(
            BullsTogether(
                tuple(BullDays(bull.animal, bull.bull_in, bull.bull_out) for bull in group.bulls),
                group.places,
            )
            for group in result.bull_groups
        ),
        females=tuple(_of_result(result)),
        choices=result.choices,
        apart=result.ready.apart,
        proven=result.proven_optimal,
        gap=result.gap,
        held=result.ready.held,
        clashes=tuple(reason_words(clash) for clash in result.ready.clashes),
    )


def _of_result(result: SortResult) -> Iterator[PlacedFemale]:
    of = {female.animal: female for female in result.females}
    for column, group in enumerate(result.groups):
        for one in group.females:
            female, choice = of[one.animal], result.choices.get(one.animal)
            yield PlacedFemale(
                one.animal,
                BULL,
                group.bull,
                one.inbreeding,
                known=one.known,
                doubtful=_doubtful(female, column),
                at_risk=bool(female.risks and female.risks[column]),
                by_hand=one.by_hand,
                reason=choice.reason if choice else "",
            )
    for left in result.not_bred:
        yield PlacedFemale(
            left.animal,
            left.place,
            by_hand=left.animal in result.choices,
            code=left.code,
            reason=reason_words(left.reason),
        )


def _doubtful(female: SortFemale, column: int) -> bool:
    return bool(female.worst) and female.worst[column] > female.expected[column]


# -- from the book ---


def printable(conn: Connection, on: date) -> tuple[PlanRow, ...]:
    """Return the plans whose papers may be wanted, the likeliest first.

    The accepted ones first: the season that is on or comes next, the others from the latest on. Then drafts,
    the latest first; what another plan has replaced is left out.
    """
    rows = [row for row in plans(conn) if row.state != "replaced"]
    accepted = [row for row in rows if row.state == "accepted"]
    ahead = sorted((row for row in accepted if row.bull_out >= on), key=lambda row: row.bull_in)
    order = {row.id: at for at, row in enumerate([*ahead[:1], *accepted, *rows][::-1])}
    return tuple(sorted(rows, key=lambda row: -order[row.id]))


def placing_of_plan(conn: Connection, plan_id: int) -> SeasonPlacing:
    """Return a plan as it was kept.

    Raises
    ------
    Refused
        When there is no such plan.
    """
    kept = plan(conn, plan_id)
    if kept is None:
        raise Refused(Reason("no_plan", "There is no such plan in the book any more"))
    row = kept.row
    groups = tuple(_kept_group(kept, group) for group in kept.ask.groups or ())
    return SeasonPlacing(
        name=row.words,
        plan=row.id,
        accepted=row.accepted if row.state == "accepted" else None,
        kept=row.made.date(),
        first=row.bull_in,
        last=row.bull_out,
        limit=row.limit,
        groups=groups,
        females=tuple(_of_plan(kept, groups, load_pedigree(conn))),
        choices=kept.ask.choices,
        apart=kept.ask.apart,
        proven=kept.proven,
        gap=kept.gap,
        held=kept.held,
    )


def _kept_group(kept: KeptPlan, group: AskedGroup) -> BullsTogether:
    first, last, capacity = kept.row.bull_in, kept.row.bull_out, kept.capacities[group.bulls[0].animal]
    return BullsTogether(
        tuple(BullDays(bull.animal, bull.bull_in or first, bull.bull_out or last) for bull in group.bulls),
        capacity if group.paddock is None else min(capacity, group.paddock),
    )


def _of_plan(kept: KeptPlan, groups: tuple[BullsTogether, ...], pedigree: Pedigree) -> Iterator[PlacedFemale]:
    of = {group.key: group for group in groups}
    doubtful = _doubts(kept, of, pedigree)
    for each in kept.places:
        yield PlacedFemale(
            each.animal,
            each.place,
            each.group,
            each.inbreeding,
            known=each.known,
            doubtful=each.animal in doubtful,
            at_risk=each.affected is not None,
            by_hand=each.animal in kept.ask.choices,
            code=each.code,
            reason=_DAY.sub(lambda day: day_words(date.fromisoformat(day[0])), each.reason or ""),
        )


def _doubts(kept: KeptPlan, of: Mapping[int, BullsTogether], pedigree: Pedigree) -> set[int]:
    """Return the females whose figure with their group is one of several, as some sire is doubtful."""
    placed = [(each.animal, of[each.group]) for each in kept.places if each.group is not None]
    bulls = list(dict.fromkeys(bull.animal for _, group in placed for bull in group.bulls))
    if not placed:
        return set()
    expected, worst, _ = pedigree.figures([female for female, _ in placed], bulls)
    column = {bull: at for at, bull in enumerate(bulls)}
    return {
        female
        for row, (female, group) in enumerate(placed)
        if any(worst[row, at] > expected[row, at] for bull in group.bulls for at in (column[bull.animal],))
    }
