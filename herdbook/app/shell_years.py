"""The shell command `years`: the herd run forward under policies, compared year by year."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from herdbook.app.shell import Told
from herdbook.husbandry.years import BAND, Spread, Turn, YearsAfter
from herdbook.services.book import Book
from herdbook.services.queries.sort import SortAsk
from herdbook.services.queries.years import (
    USUAL,
    Beginning,
    beginning,
    policy_of,
    run_years,
    settings_of,
)
from herdbook.words import say


def years(options: Namespace) -> Told:
    """What each policy leads to."""
    for words in options.policy:
        policy_of(words)  # what cannot be read is said before the book is
    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        begin = beginning(conn, options.on, SortAsk(limit=options.limit))
    policies = [policy_of(words, begin) for words in options.policy or USUAL]
    told = run_years(begin, policies, years=options.years, repeats=options.repeats, seed=options.seed)
    return Told(_answer(begin, told, options), tuple(_lines(begin, told, options)))


def _answer(begin: Beginning, told: list[YearsAfter], options: Namespace) -> dict[str, Any]:
    """Return the whole answer; a year is that of bull in, its calves are born later."""
    return {
        "on": begin.on,
        "bull_in": begin.bull_in,
        "limit": begin.limit,
        "held": begin.held,
        "years": [year for year, _ in told[0].by_year],
        "repeats": options.repeats,
        "seed": options.seed,
        "band": list(BAND),
        "rates": asdict(begin.rates),
        "policies": [
            {
                "name": each.policy.name,
                "settings": settings_of(each.policy),
                "by_year": [
                    {"year": year, **{name: asdict(figure) for name, figure in figures.items()}}
                    for year, figures in each.by_year
                ],
                "no_place_year": asdict(each.no_place_year),
                "idle_bull_year": asdict(each.idle_bull_year),
                "bulls_bought": asdict(each.bulls_bought),
            }
            for each in told
        ],
    }


def _lines(begin: Beginning, told: list[YearsAfter], options: Namespace) -> Iterator[str]:
    yield say(
        "{repeats} runs by chance from bull in on {day}, limit {limit:.2%}, seed {seed}; "
        "behind each middle figure the band of 8 runs in 10",
        repeats=options.repeats,
        day=begin.bull_in,
        limit=begin.limit,
        seed=options.seed,
    )
    for each in told:
        yield ""
        yield f"{each.policy.name}: {_need(each.no_place_year, options.repeats)}"
        yield say("bulls bought: {count}", count=_number(each.bulls_bought))
        for year, figures in each.by_year:
            yield say(
                "{year}  mean {mean}  worst {worst}  pairs over the limit {over}  founders {founders}  "
                "calves {calves}",
                year=year,
                mean=_share(figures["mean"]),
                worst=_share(figures["worst"]),
                over=_share(figures["over_limit"]),
                founders=_number(figures["founders"]),
                calves=_number(figures["calves"]),
            )


def _need(turn: Turn, repeats: int) -> str:
    """Say when the bulls can no longer be placed without breaking the limit."""
    if turn.median is None:
        return say("the bulls can be placed within the limit in every year")
    return say(
        "in {n} of {of} runs ({share:.0%}) a bull has places that only pairs over the limit could fill, "
        "first in {year} (middle run)",
        n=round(turn.share * repeats),
        of=repeats,
        share=turn.share,
        year=turn.median,
    )


def _share(figure: Spread) -> str:
    if figure.median is None or figure.low is None or figure.high is None:
        return say("no calves")
    return f"{figure.median:.2%} ({figure.low:.2%}-{figure.high:.2%})"


def _number(figure: Spread) -> str:
    if figure.median is None or figure.low is None or figure.high is None:
        return "-"
    return f"{figure.median:.1f} ({figure.low:.1f}-{figure.high:.1f})"
