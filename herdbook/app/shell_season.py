"""The shell command `season`: what each breeding season gave, with the counts behind every percentage."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from herdbook.app.shell import Told
from herdbook.services.book import Book
from herdbook.words import say

if TYPE_CHECKING:
    from herdbook.husbandry.seasonmeasures import Days, PeriodCount, Share
    from herdbook.services.queries.season_measures import SeasonOfGroup

SHARES = ("pregnancy", "loss", "calving", "live", "deaths_of_born", "deaths", "weaning")


def season(options: Namespace) -> Told:
    """What each season that has begun gave, the latest first."""
    from herdbook.husbandry.seasonmeasures import Starts
    from herdbook.services.queries.season_measures import season_measures
    from herdbook.services.settings import load_settings

    with Book.open(options.file, read_only=True) as book, book.read() as conn:
        rule = Starts(options.starts or load_settings(conn).calving_starts)
        rows = season_measures(conn, options.on, rule)
    answer = {"on": options.on, "starts": rule.value, "groups": [_answer(row) for row in rows]}
    lines = [line for row in rows for line in season_lines(row)]
    return Told(answer, tuple(lines) or (say("No female has been with a bull or served yet."),))


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


def season_lines(row: SeasonOfGroup) -> list[str]:
    """Return a season in a few lines, with a count beside every percentage."""
    rates, run = row.rates, row.run
    who = run.bull_words if run else say("served without a bull run")
    lines = [
        say("{first} - {last}  {who}", first=row.first, last=row.last or say("still in"), who=who),
        say("  {n} exposed, {left} left out; the rest count", n=rates.exposed, left=rates.left),
        say(
            "  in calf {held}; lost since {lost}",
            held=_words(rates.pregnancy),
            lost=_words(rates.loss),
        ),
        say(
            "  calves born {born}; alive {live}; weaned {weaned}; dead before weaning {dead}",
            born=_words(rates.calving),
            live=_words(rates.live),
            weaned=_words(rates.weaning),
            dead=_words(rates.deaths_of_born),
        ),
    ]
    if rates.in_calf or rates.not_known or rates.at_foot:
        lines.append(
            say(
                "  not the last word: {in_calf} in calf still, of {unknown} nothing is known, "
                "{calves} calves without a weaning",
                in_calf=rates.in_calf,
                unknown=rates.not_known,
                calves=rates.at_foot,
            )
        )
    if row.rolled_in:
        lines.append(say("  {n} of them had been found open after the time before", n=row.rolled_in))
    if row.shared:
        lines.append(say("  {n} of them were with another run's bulls in the same time", n=row.shared))
    if rates.kg_per_exposed is not None:
        lines.append(
            say(
                "  {kg:.0f} kg weaned for each female that counts, by {n} weighed",
                kg=rates.kg_per_exposed,
                n=rates.weighed,
            )
        )
    return [*lines, *_calvings(row), *_between(row)]


def _calvings(row: SeasonOfGroup) -> list[str]:
    """Return the calvings by 21 days, cows and first-calvers apart."""
    lines = []
    if row.cows:
        cows = _periods(row.cows)
        lines.append(say("  cows by 21 days from {day}: {periods}", day=row.starts, periods=cows))
    if row.first_calvers:
        heifers = _periods(row.first_calvers)
        lines.append(say("  first-calvers from {day}: {periods}", day=row.starts, periods=heifers))
    if row.starts is None and row.rates.calving.n:
        lines.append(say("  by 21 days: not before the third cow of 3 years or older has calved"))
    return lines


def _between(row: SeasonOfGroup) -> list[str]:
    """Return the days from calving to calving and the age at the first."""
    lines = []
    if row.interval is not None and row.open_days is not None:
        lines.append(
            say(
                "  {days:.0f} days from calving to calving, {open:.0f} of them open, of {n} cows "
                "({years} found open in between left out)",
                days=row.interval.mean,
                open=row.open_days.mean,
                n=row.interval.n,
                years=row.open_years,
            )
        )
    if row.first_age is not None:
        lines.append(
            say(
                "  {days:.0f} days old at the first calving, of {n}",
                days=row.first_age.mean,
                n=row.first_age.n,
            )
        )
    return lines


def _periods(periods: Sequence[PeriodCount]) -> str:
    return ", ".join(
        say("{n} of {of} ({share:.1%})", n=p.calved, of=p.of, share=p.calved / p.of) for p in periods
    )


def _words(share: Share) -> str:
    if share.percent is None:
        return say("of none")
    return say("{n} of {of} ({percent:.1f}%)", n=share.n, of=share.of, percent=share.percent)
