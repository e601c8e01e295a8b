"""The sort of the females to the bulls: who may be bred, how inbred each calf would be, the best placing."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import inf
from typing import TYPE_CHECKING

from sqlalchemy import Connection

from herdbook.husbandry.duedates import run_last_day
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Readiness
from herdbook.husbandry.trust import closeness, not_a_replacement
from herdbook.services.facts import Herd, load_herd
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.sort_bulls import bull_groups, bull_of, with_depth
from herdbook.services.queries.sort_due import with_breeds
from herdbook.services.queries.sort_place import place, result_of
from herdbook.services.queries.sort_prices import with_prices
from herdbook.services.queries.sort_ready import PAST_DUE, Standing, standings
from herdbook.services.queries.sort_risks import with_risks
from herdbook.services.queries.sort_rows import (
    AskedBull,
    AskedGroup,
    BullGroup,
    Choice,
    Gathered,
    Group,
    InGroup,
    NotBred,
    SortAsk,
    SortBull,
    SortFemale,
    SortResult,
    each_alone,
    nothing_known,
    trust_of,
)
from herdbook.services.registry import Refused
from herdbook.services.settings import BookSettings, load_settings

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

BREATH = 64
"""Females read at a time before whatever else waits has its turn."""

__all__ = [
    "PAST_DUE",
    "AskedBull",
    "AskedGroup",
    "BullGroup",
    "Choice",
    "Gathered",
    "Group",
    "InGroup",
    "NotBred",
    "SortAsk",
    "SortBull",
    "SortFemale",
    "SortResult",
    "bull_of",
    "each_alone",
    "gather",
    "nothing_known",
    "place",
    "result_of",
    "season_of",
    "solve",
    "trust_of",
]


def season_of(ask: SortAsk, settings: BookSettings, on: date) -> tuple[date, date]:
    """Return the season's first and last day: as asked, else the next usual bull-in and the usual length."""
    bull_in = ask.bull_in or _next_usual(settings.usual_bull_in, on)
    bull_out = ask.bull_out or run_last_day(bull_in, settings.season_days)
    if bull_out < bull_in:
        raise Refused(
            Reason(
                "out_before_in",
                "Bull out ({out}) is before bull in ({day})",
                {"out": bull_out, "day": bull_in},
            )
        )
    return bull_in, bull_out


def _next_usual(month_day: str, on: date) -> date:
    """Return the next such day, `on` or later; 29 February is 1 March in a common year."""
    month, day = (int(part) for part in month_day.split("-"))
    for year in (on.year, on.year + 1):
        try:
            usual = date(year, month, day)
        except ValueError:
            usual = date(year, 3, 1)
        if usual >= on:
            return usual
    return date(on.year + 1, month, day)


def solve(conn: Connection, ask: SortAsk, on: date) -> SortResult:
    """Sort the females here to the bulls: place as many as can be placed, then least mean inbreeding.

    Raises
    ------
    Refused
        When no bull is here or named, or the season ends before it begins.
    """
    return place(gather(conn, ask, on), ask.choices)


def gather(conn: Connection, ask: SortAsk, on: date) -> Gathered:
    """Read what the sort needs; raises `Refused` as `solve` does."""
    settings = load_settings(conn)
    season = season_of(ask, settings, on)
    limit = settings.inbreeding_limit if ask.limit is None else ask.limit
    herd = load_herd(conn, on)
    groups = bull_groups(conn, herd, ask, settings, season, on)
    pedigree = load_pedigree(conn)
    groups = with_depth(groups, pedigree)
    held, prices = ask.held or settings.inbreeding_held, ask.prices
    females = _females(conn, herd, groups, settings, season, on, pedigree, limit, held)
    barred_from = settings.affected_limit if prices is None or prices.risk is None else inf
    females, clashes = with_risks(conn, pedigree, females, groups, on, barred_from)
    if prices is not None:
        females = with_prices(conn, pedigree, females, groups, prices, limit, season[0], on)
    ready = Gathered(
        females,
        groups,
        limit,
        season,
        dict(ask.apart),
        ask.most_groups,
        ask.least_group,
        clashes,
        prices=prices,
        held=held,
    )
    return with_breeds(conn, ready, herd, settings.gestation_days)


def _females(
    conn: Connection,
    herd: Herd,
    groups: Sequence[BullGroup],
    settings: BookSettings,
    season: tuple[date, date],
    on: date,
    pedigree: Pedigree,
    limit: float,
    held: str,
) -> tuple[SortFemale, ...]:
    import numpy as np

    females = [facts for facts in herd.values() if facts.sex == "F"]
    table = _figures(pedigree, [f.id for f in females], groups, limit, held)
    close = _closeness(table.held, settings.close_from, settings.very_close_from)
    known = pedigree.known_generations
    standing = standings(conn, herd, settings, season, on)
    sure = (True,) * len(groups)
    found = []
    for row, facts in enumerate(females):
        if row % BREATH == 0:
            time.sleep(0)  # a large herd would hold the window up
        at = pedigree.row[facts.id]
        expected = tuple(table.expected[row].tolist())
        # One tuple where they are the same: a large herd has millions of pairs.
        same = table.worst is table.expected or np.array_equal(table.worst[row], table.expected[row])
        worst = expected if same else tuple(table.worst[row].tolist())
        stands = standing[facts.id]
        found.append(
            SortFemale(
                animal=facts.id,
                tag=facts.tag,
                name=facts.name,
                class_=facts.class_on(on).value,
                care=facts.care,
                heifer=stands.heifer,
                calves=expected if held == "expected" else worst,
                readiness=_as_kept(stands, float(pedigree.inbreeding[at]), settings),
                alerts=stands.alerts,
                known_generations=float(known[at]),
                trust=pedigree.depth(facts.id).trust,
                expected=expected,
                worst=worst,
                exact=sure if table.exact[row].all() else tuple(table.exact[row].tolist()),
                close=close[row],
            )
        )
    return tuple(found)


def _as_kept(stands: Standing, inbreeding: float, settings: BookSettings) -> Readiness:
    """Add the caution on a heifer of a very close mating: she is the replacement that was not to be kept."""
    caution = not_a_replacement(inbreeding, settings.very_close_from)
    if caution is None or not stands.heifer or not stands.readiness.ok:
        return stands.readiness
    return replace(stands.readiness, reasons=(*stands.readiness.reasons, caution))


def _closeness(
    table: npt.NDArray[np.float64], close_from: float, very_close_from: float
) -> list[tuple[str, ...]]:
    """Return the words of `trust.closeness` for a table of figures, row by row."""
    import numpy as np

    levels = (-np.inf, close_from, very_close_from)
    words = [closeness(figure, close_from, very_close_from) for figure in levels]
    each = (table >= close_from).astype(np.int8)
    each[table >= very_close_from] = 2
    far = (words[0],) * table.shape[1]
    return [tuple(map(words.__getitem__, row.tobytes())) if row.any() else far for row in each]


@dataclass(frozen=True, eq=False)
class _Figures:
    """Inbreeding of each possible calf, females by groups; of several bulls the worst for her counts."""

    held: npt.NDArray[np.float64]
    expected: npt.NDArray[np.float64]
    worst: npt.NDArray[np.float64]
    exact: npt.NDArray[np.bool_]


def _figures(
    pedigree: Pedigree, females: Sequence[int], groups: Sequence[BullGroup], limit: float, held: str
) -> _Figures:
    import numpy as np

    bulls = [bull.animal for group in groups for bull in group.bulls]
    expected, worst, exact = pedigree.figures(females, bulls, limit)
    if len(bulls) > len(groups):
        first = np.cumsum([0, *(len(group.bulls) for group in groups[:-1])])
        most = np.maximum.reduceat(worst, first, axis=1)
        of = np.repeat(np.arange(len(groups)), [len(group.bulls) for group in groups])
        exact = np.logical_or.reduceat(exact & (worst == most[:, of]), first, axis=1)
        expected, worst = np.maximum.reduceat(expected, first, axis=1), most
    return _Figures(expected if held == "expected" else worst, expected, worst, exact)
