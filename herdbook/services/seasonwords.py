"""A season's measures in words, the same in the shell, on the page and on paper."""

from __future__ import annotations

from collections.abc import Iterator

from herdbook.husbandry.seasonmeasures import Share, Starts
from herdbook.services.queries.season_measures import SeasonOfGroup
from herdbook.words import say


def share_text(share: Share) -> str:
    """Return a share as its count and its percentage; of nobody there is none."""
    if share.percent is None:
        return say("of none")
    return say("{n} of {of} ({percent:.1f}%)", n=share.n, of=share.of, percent=share.percent)


def bulls_text(row: SeasonOfGroup) -> str:
    """Return the bulls of a season."""
    return row.run.bull_words if row.run else say("served without a bull run")


def rule_text(rule: Starts) -> str:
    """Return when the first 21 days begin."""
    return {
        Starts.AFTER_283: say("283 days after bull in"),
        Starts.AFTER_285: say("285 days after bull in"),
        Starts.THIRD_COW: say("the day on which the third cow of 3 years or older calves"),
    }[rule]


def not_the_last_word(row: SeasonOfGroup) -> str:
    """Return what of a season is not known yet; empty where all is."""
    rates = row.rates
    if not (rates.in_calf or rates.not_known or rates.at_foot):
        return ""
    return say(
        "not the last word: {in_calf} in calf still, of {unknown} nothing is known, "
        "{calves} calves without a weaning",
        in_calf=rates.in_calf,
        unknown=rates.not_known,
        calves=rates.at_foot,
    )


def besides(row: SeasonOfGroup) -> Iterator[str]:
    """Yield what else is told of a season: who counts elsewhere too, kg weaned, days between calvings."""
    rates = row.rates
    if row.rolled_in:
        yield say("{n} of them had been found open after the time before", n=row.rolled_in)
    if row.shared:
        yield say("{n} of them were with another run's bulls in the same time", n=row.shared)
    if rates.kg_per_exposed is not None:
        yield say(
            "{kg:.0f} kg weaned for each female that counts, by {n} weighed",
            kg=rates.kg_per_exposed,
            n=rates.weighed,
        )
    if row.interval is not None and row.open_days is not None:
        yield say(
            "{days:.0f} days from calving to calving, {open:.0f} of them open, of {n} cows "
            "({years} found open in between left out)",
            days=row.interval.mean,
            open=row.open_days.mean,
            n=row.interval.n,
            years=row.open_years,
        )
    if row.first_age is not None:
        yield say(
            "{days:.0f} days old at the first calving, of {n}", days=row.first_age.mean, n=row.first_age.n
        )


def no_start_text(row: SeasonOfGroup) -> str:
    """Return why calvings are not told by 21 days; empty where they are, or nobody has calved."""
    if row.starts is None and row.rates.calving.n:
        return say("by 21 days: not before the third cow of 3 years or older has calved")
    return ""
