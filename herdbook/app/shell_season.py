"""The shell command `season`: what each breeding season gave, with the counts behind every percentage."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from herdbook.app.shell import Told
from herdbook.husbandry.reasons import Reason
from herdbook.services.book import Book
from herdbook.services.registry import Refused
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.husbandry.seasonmeasures import Days, PeriodCount, Share, Starts
    from herdbook.services.queries.season_measures import SeasonOfGroup
    from herdbook.services.settings import BookSettings

SHARES = ("pregnancy", "loss", "calving", "live", "deaths_of_born", "deaths", "weaning")


def season(options: Namespace) -> Told:
    """What each season that has begun gave, the latest first."""
    from herdbook.husbandry.seasonmeasures import Starts
    from herdbook.services.queries.season_measures import season_measures
    from herdbook.services.settings import load_settings

    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        settings = load_settings(conn)
        rule = Starts(options.starts or settings.calving_starts)
        rows = season_measures(conn, options.on, rule)
    answer: dict[str, Any] = {
        "on": options.on,
        "starts": rule.value,
        "groups": [_answer(row) for row in rows],
    }
    if options.out is not None:
        _write(options, rows, rule, settings)
        answer["file"] = str(options.out)
    lines = [line for row in rows for line in _lines(row)]
    return Told(answer, tuple(lines) or (say("No female has been with a bull or served yet."),))


def _write(options: Namespace, rows: Sequence[SeasonOfGroup], rule: Starts, settings: BookSettings) -> None:
    """Write the paper as the book's settings have it."""
    from herdbook.papers.season_summary import season_summary_paper

    how: dict[str, Any] = {"page": settings.paper, "herd": settings.herd_words}
    try:
        season_summary_paper(options.out, rows, rule, on=options.on, **how)
    except OSError as error:
        values = {"file": options.out, "why": error.strerror or type(error).__name__}
        raise Refused(Reason("not_written", "{file}: {why}. Choose another place", values)) from error


def _answer(row: SeasonOfGroup) -> dict[str, Any]:
    run, rates = row.run, row.rates
    return {
        "name": run.name if run else None,
        "bulls": list(dict.fromkeys(bull.tag for bull in run.bulls)) if run else [],
        "first": row.first,
        "last": row.last,
        "exposed": rates.exposed,
        "left": rates.left,
        "of": rates.whole,
        "with_other_bulls_too": row.shared,
        "rolled_in": row.rolled_in,
        **{name: _share(getattr(rates, name)) for name in SHARES},
        "more_calves_than_females": rates.twins_above_all,
        "still_in_calf": rates.in_calf,
        "not_known": rates.not_known,
        "calves_without_weaning": rates.at_foot,
        "weaned_kg": rates.weaned_kg,
        "weaned_kg_of": rates.weighed,
        "kg_weaned_per_exposed": rates.kg_per_exposed,
        "first_21_days_from": row.starts,
        "cows": [_period(period) for period in row.cows],
        "first_calvers": [_period(period) for period in row.first_calvers],
        "calving_interval": _days(row.interval),
        "found_open_between": row.open_years,
        "days_open": _days(row.open_days),
        "age_at_first_calving": _days(row.first_age),
    }


def _share(share: Share) -> dict[str, Any]:
    return {"n": share.n, "of": share.of, "percent": share.percent}


def _period(period: PeriodCount) -> dict[str, Any]:
    return {
        "from": period.first,
        "to": period.last,
        "calved": period.calved,
        "so_far": period.so_far,
        "of": period.of,
        "percent": 100 * period.calved / period.of,
        "percent_so_far": 100 * period.so_far / period.of,
    }


def _days(days: Days | None) -> dict[str, Any]:
    if days is None:
        return {"n": 0, "mean": None, "least": None, "most": None}
    return {"n": days.n, "mean": days.mean, "least": days.least, "most": days.most}


def _lines(row: SeasonOfGroup) -> list[str]:
    """Return a season in a few lines, with a count beside every percentage."""
    from herdbook.services.seasonwords import (
        besides,
        bulls_text,
        no_start_text,
        not_the_last_word,
        share_text,
    )

    rates, until = row.rates, row.last or say("still in")
    told = [
        say("{n} exposed, {left} left out; the rest count", n=rates.exposed, left=rates.left),
        say(
            "in calf {held}; lost since {lost}", held=share_text(rates.pregnancy), lost=share_text(rates.loss)
        ),
        say(
            "calves born {born}; alive {live}; weaned {weaned}; dead before weaning {dead}",
            born=share_text(rates.calving),
            live=share_text(rates.live),
            weaned=share_text(rates.weaning),
            dead=share_text(rates.deaths_of_born),
        ),
        not_the_last_word(row),
        no_start_text(row),
    ]
    if row.cows:
        told.append(say("cows by 21 days from {day}: {n}", day=row.starts, n=_periods(row.cows)))
    if row.first_calvers:
        told.append(say("first-calvers from {day}: {n}", day=row.starts, n=_periods(row.first_calvers)))
    told += besides(row)
    head = say("{first} - {last}  {who}", first=row.first, last=until, who=bulls_text(row))
    return [head, *(f"  {line}" for line in told if line)]


def _periods(periods: Sequence[PeriodCount]) -> str:
    return ", ".join(
        say("{n} of {of} ({share:.1%})", n=p.calved, of=p.of, share=p.calved / p.of) for p in periods
    )
