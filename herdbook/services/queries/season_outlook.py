"""A season's plan in figures: its days, groups, who is left out and why, and the calves to be expected."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy import Connection

from herdbook.husbandry.calvingspread import (
    RULES,
    CalvingSpread,
    Exposed,
    Period,
    SpreadRules,
    WithBull,
    calving_spread,
)
from herdbook.husbandry.duedates import run_window
from herdbook.husbandry.gestation import Expected
from herdbook.services.breeds import days_for
from herdbook.services.facts import AnimalFacts
from herdbook.services.kinwords import percent_words
from herdbook.services.queries.due import breeds_of_bulls, due_rules, expected_for
from herdbook.services.queries.errands_breeding import CHECK_AFTER
from herdbook.services.queries.season_placing import (
    BULL,
    PLACES,
    BullsTogether,
    PlacedFemale,
    SeasonPlacing,
    placing_of_plan,
    placing_of_result,
)
from herdbook.services.queries.season_sheets import SheetAnimal, SheetBull, animals_of, facts_of
from herdbook.services.queries.sort_ready import PAST_DUE
from herdbook.services.queries.sort_rows import SortResult
from herdbook.services.saying import day_words, listed
from herdbook.services.settings import BookSettings, load_settings
from herdbook.words import say

SMALL = 0.05
"""Weeks at either end with fewer calvings than would be written as 0.1 are told with those beside them."""


@dataclass(frozen=True)
class OutlookGroup:
    """A group of bulls of the season.

    Parameters
    ----------
    bulls : tuple of SheetBull
    females, places : int
        How many it has, and how many it may have.
    heifers : int
        Of them have never calved.
    mean, worst : float or None
        The calves' inbreeding, over those of whom anything is known.
    unknown, doubtful, over_limit, at_risk : int
        Figures that rest on nothing; figures with a doubtful sire behind them; calves above the season's
        limit; matings marked for a heritable condition.
    check_from : date
        The first day on which a check finds any calf of its last day.
    due : (date, date) or None
        First and last calving by plain count of days; None where it has no females.
    spread : CalvingSpread
    cycles : tuple of Period
        Its calvings by 21 days from its first due day.
    """

    bulls: tuple[SheetBull, ...]
    females: int
    places: int
    heifers: int
    mean: float | None
    worst: float | None
    unknown: int
    doubtful: int
    over_limit: int
    at_risk: int
    check_from: date
    due: tuple[date, date] | None
    spread: CalvingSpread
    cycles: tuple[Period, ...]

    @property
    def words(self) -> str:
        """Its bulls by tag and name."""
        return " + ".join(bull.who.words for bull in self.bulls)

    @property
    def first(self) -> date:
        """The first day with a bull."""
        return min(bull.first for bull in self.bulls)

    @property
    def last(self) -> date:
        """The last day with a bull."""
        return max(bull.last for bull in self.bulls)


@dataclass(frozen=True)
class LeftOut:
    """A female without a bull this season, and why; `why` is empty where nothing was said."""

    who: SheetAnimal
    place: str
    why: str


@dataclass(frozen=True)
class Decided:
    """A choice made by hand: of whom, what, and why."""

    who: SheetAnimal
    what: str
    why: str


@dataclass(frozen=True)
class SeasonOutlook:
    """A season's plan.

    `rests_on` says what the expected calvings rest on, `doubts` what is not known or not certain of the plan,
    each in a sentence. `weeks` and `cycles` are those of the whole herd, weeks beginning on Mondays.
    """

    name: str
    on: date
    accepted: date | None
    kept: date | None
    first: date
    last: date
    limit: float
    groups: tuple[OutlookGroup, ...]
    left_out: tuple[LeftOut, ...]
    decided: tuple[Decided, ...]
    mean: float | None
    worst: float | None
    check: tuple[date, date] | None
    due: tuple[date, date] | None
    spread: CalvingSpread
    weeks: tuple[Period, ...]
    cycles: tuple[Period, ...]
    rests_on: tuple[str, ...]
    doubts: tuple[str, ...]

    def at(self, place: str) -> tuple[LeftOut, ...]:
        """Return who has no bull and goes to a place."""
        return tuple(one for one in self.left_out if one.place == place)


def outlook_of_result(conn: Connection, result: SortResult, on: date) -> SeasonOutlook:
    """Return the outlook of a sort as it stands on the page."""
    return season_outlook(conn, placing_of_result(result), on)


def outlook_of_plan(conn: Connection, plan: int, on: date) -> SeasonOutlook:
    """Return the outlook of a plan that was kept; raises `Refused` when there is no such plan."""
    return season_outlook(conn, placing_of_plan(conn, plan), on)


def season_outlook(conn: Connection, placing: SeasonPlacing, on: date) -> SeasonOutlook:
    """Return the outlook of a season, as of a day."""
    settings = load_settings(conn)
    facts = facts_of(conn, placing, on)
    who, shown = animals_of(conn, placing, on)
    calved = _calvings(conn, placing, facts, settings, on)
    groups = tuple(_group(placing, group, who, facts, calved, settings) for group in placing.groups)
    used = [group for group in groups if group.females]
    due = _ends([group.due for group in used if group.due])
    spread = calving_spread(
        (one for group in placing.groups for one in _exposed(placing, group, facts, calved, settings)),
        rules_of(settings),
    )
    placed = placing.at(BULL)
    mean, worst = _mean_and_worst(placed)
    return SeasonOutlook(
        name=placing.name,
        on=on,
        accepted=placing.accepted,
        kept=placing.kept,
        first=placing.first,
        last=placing.last,
        limit=placing.limit,
        groups=groups,
        left_out=tuple(
            LeftOut(who[one.animal], place, " ".join((*who[one.animal].alerts, one.reason)))
            for place in PLACES[1:]
            for one in shown
            if one.place == place
        ),
        decided=tuple(_decided(placing, who)),
        mean=mean,
        worst=worst,
        check=_ends([(group.check_from, group.check_from) for group in used]),
        due=due,
        spread=spread,
        weeks=spread.periods(_monday(spread), 7, SMALL) if due else (),
        cycles=spread.periods(due[0], RULES.cycle) if due else (),
        rests_on=tuple(_rests_on(placed, facts, calved, settings)),
        doubts=tuple(_doubts(placing, groups, settings.inbreeding_held)),
    )


def rules_of(settings: BookSettings) -> SpreadRules:
    """Return the law of the expected calvings by the keeper's figures."""
    return SpreadRules(per_heat=settings.settled_share, cycling=settings.cycling_share)


def _ends(spans: Sequence[tuple[date, date]]) -> tuple[date, date] | None:
    return (min(first for first, _ in spans), max(last for _, last in spans)) if spans else None


def _monday(spread: CalvingSpread) -> date:
    first = next(iter(spread.by_day), date.min)
    return first - timedelta(days=first.weekday())


# -- groups ---


def _group(
    placing: SeasonPlacing,
    group: BullsTogether,
    who: Mapping[int, SheetAnimal],
    facts: Mapping[int, AnimalFacts],
    calved: Mapping[int, date],
    settings: BookSettings,
) -> OutlookGroup:
    females = placing.of_group(group.key)
    exposed = _exposed(placing, group, facts, calved, settings)
    spread = calving_spread(exposed, rules_of(settings))
    spans = {bull for one in exposed for bull in one.bulls}
    due = _ends([run_window(bull.first, bull.last, bull.gestation) for bull in spans])
    mean, worst = _mean_and_worst(females)
    return OutlookGroup(
        bulls=tuple(SheetBull(who[bull.animal], bull.first, bull.last) for bull in group.bulls),
        females=len(females),
        places=group.places,
        heifers=sum(not facts[one.animal].has_calved and one.animal not in calved for one in females),
        mean=mean,
        worst=worst,
        unknown=sum(not one.known for one in females),
        doubtful=sum(one.doubtful for one in females),
        over_limit=sum((one.inbreeding or 0.0) > placing.limit for one in females),
        at_risk=sum(one.at_risk for one in females),
        check_from=group.last + timedelta(days=CHECK_AFTER),
        due=due,
        spread=spread,
        cycles=spread.periods(due[0], RULES.cycle) if due else (),
    )


def _mean_and_worst(females: Sequence[PlacedFemale]) -> tuple[float | None, float | None]:
    figures = [one.inbreeding for one in females if one.known and one.inbreeding is not None]
    return (sum(figures) / len(figures), max(figures)) if figures else (None, None)


def _exposed(
    placing: SeasonPlacing,
    group: BullsTogether,
    facts: Mapping[int, AnimalFacts],
    calved: Mapping[int, date],
    settings: BookSettings,
) -> list[Exposed]:
    """Return each female of a group with her bulls' days, the calf's gestation by the breeds of both."""

    def days(female: int, bull: int) -> int:
        return days_for(facts[female].breed, facts[bull].breed, settings.gestation_days)

    return [
        Exposed(
            tuple(WithBull(b.first, b.last, days(one.animal, b.animal)) for b in group.bulls),
            calved.get(one.animal),
        )
        for one in placing.of_group(group.key)
    ]


def _calvings(
    conn: Connection,
    placing: SeasonPlacing,
    facts: Mapping[int, AnimalFacts],
    settings: BookSettings,
    on: date,
) -> dict[int, date]:
    """Return the calving after which each female is to conceive: the last one, or the one she is due for.

    What was conceived with the bulls of this season, if it has begun, is no calving before it.
    """
    group_of = {one.animal: group for group in placing.groups for one in placing.of_group(group.key)}
    breeds = breeds_of_bulls(conn, [facts[key] for key in group_of])
    found = {}
    for key, group in group_of.items():
        one = facts[key]
        due = expected_for(replace(one, planned=[]), on, settings, due_rules(settings), breeds)
        before = [calving.day for calving in one.calvings if calving.day <= group.last]
        if due is not None and due.conceived_first < group.first and _still_to_calve(due, on):
            found[key] = max(due.expected, on)
        elif before:
            found[key] = before[-1]
    return found


def _still_to_calve(due: Expected, on: date) -> bool:
    """Whether the sort would count her as in calf."""
    return not due.hardly and due.expected >= on - PAST_DUE


# -- in words ---


def place_words(place: str) -> str:
    """Return what a place without a bull is called."""
    return {
        "not_bred": say("not bred this season"),
        "finishing": say("to the finishing group"),
        "sell": say("to sell"),
    }[place]


def _decided(placing: SeasonPlacing, who: Mapping[int, SheetAnimal]) -> Iterator[Decided]:
    """Tell what was decided by hand, in order of tags."""
    bulls = {
        group.key: " + ".join(who[bull.animal].words for bull in group.bulls) for group in placing.groups
    }
    at = {key: row for row, key in enumerate(who)}
    for animal, choice in sorted(placing.choices.items(), key=lambda item: at.get(item[0], -1)):
        if animal not in who:
            continue
        if choice.bull is None:
            yield Decided(who[animal], place_words(choice.place), choice.reason)
        elif choice.bull in bulls:
            yield Decided(who[animal], say("with {bulls}", bulls=bulls[choice.bull]), choice.reason)
    for (animal, key), why in sorted(placing.apart.items(), key=lambda item: at.get(item[0][0], -1)):
        if animal in who and key in bulls:
            yield Decided(who[animal], say("not with {bulls}", bulls=bulls[key]), why)


def _rests_on(
    placed: Sequence[PlacedFemale],
    facts: Mapping[int, AnimalFacts],
    calved: Mapping[int, date],
    settings: BookSettings,
) -> Iterator[str]:
    """Say what the expected calvings rest on."""
    low, high = RULES.first_heat
    yield say(
        "A heat with the bull settles {rate} of females; who does not hold is in heat again after {cycle} "
        "days. At bull in {share} of those past their rest are cycling, the others a cycle later; after a "
        "calving the first heat comes {low} to {high} days on. The two shares are settings.",
        rate=percent_words(settings.settled_share), share=percent_words(settings.cycling_share),
        cycle=RULES.cycle, low=low, high=high,
    )  # fmt: skip
    if settings.gestation_days is None:
        yield say(
            "Gestation by breed, else 283 days, and {sd:.0f} days more or less (standard deviation).",
            sd=RULES.gestation_sd,
        )
    else:
        yield say(
            "Gestation of {days} days by the settings, and {sd:.0f} days more or less (standard deviation).",
            days=settings.gestation_days, sd=RULES.gestation_sd,
        )  # fmt: skip
    silent = [facts[one.animal] for one in placed]
    silent = [one for one in silent if one.has_calved and one.id not in calved]
    if silent:
        tags = listed([one.tag for one in silent])
        yield say("No calving day is in the book of {tags}: counted as cycling at bull in.", tags=tags)
    yield say(
        "Left out: calves lost before birth, twins, heats and checks written since. A plan's figures, not a "
        "promise: the due list tells what is known of each female later."
    )


def _doubts(placing: SeasonPlacing, groups: Sequence[OutlookGroup], held: str) -> Iterator[str]:
    """Say what of the plan is not known or not certain."""
    unknown, doubtful = (sum(getattr(group, name) for group in groups) for name in ("unknown", "doubtful"))
    placed = sum(group.females for group in groups)
    if unknown:
        yield say(
            "Kinship is not known of {n} of {of} pairs, no parent being in the book on one side: they are in "
            "no mean. Not known is not unrelated.",
            n=unknown, of=placed,
        )  # fmt: skip
    if doubtful and (placing.held or held) == "worst":
        yield say(
            "A doubtful sire stands behind {n} of {of} figures: each is the worst that it could be.",
            n=doubtful, of=placed,
        )  # fmt: skip
    elif doubtful:
        yield say(
            "A doubtful sire stands behind {n} of {of} figures: each is what is to be expected, and could be "
            "worse.",
            n=doubtful, of=placed,
        )  # fmt: skip
    if over := sum(group.over_limit for group in groups):
        limit = percent_words(placing.limit)
        yield say("{n} of {of} are above the limit of {limit}, by hand.", n=over, of=placed, limit=limit)
    yield from placing.clashes
    if not placing.proven:
        yield (
            say("Not proven the best placing; good to within {gap}.", gap=percent_words(placing.gap))
            if placing.gap
            else say("Placed as moved by hand: whether another placing would be better was not worked out.")
        )
    if placing.kept is not None:
        yield say(
            "Kinship and risks are the figures of {day}, when it was kept.", day=day_words(placing.kept)
        )
