"""The sort of the females to the bulls: who may be bred, how inbred each calf would be, the best placing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from typing import Any

from sqlalchemy import Connection

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.days import age_months, latest
from herdbook.husbandry.duedates import DueRules, run_last_day
from herdbook.husbandry.gestation import Expected
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Candidate, Rules, bull_capacity, may_be_bred
from herdbook.husbandry.trust import closeness
from herdbook.services.apart import apart
from herdbook.services.commands.season import AcceptSort, Placed, PlannedBull
from herdbook.services.facts import AnimalFacts, Herd, load_herd
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.butcher import weight_now
from herdbook.services.queries.due import breeds_of_bulls, expected_for
from herdbook.services.queries.sort_risks import barred_everywhere, risk_reasons, with_risks
from herdbook.services.queries.sort_rows import (
    Choice,
    Group,
    InGroup,
    NotBred,
    SortAsk,
    SortBull,
    SortFemale,
    SortResult,
    nothing_known,
    trust_of,
)
from herdbook.services.registry import Refused
from herdbook.services.settings import BookSettings, load_settings
from herdbook.words import say

PAST_DUE = timedelta(days=60)
"""A female this far past her expected day no longer counts as in calf for the sort."""

__all__ = [
    "Choice",
    "Gathered",
    "Group",
    "InGroup",
    "NotBred",
    "SortAsk",
    "SortBull",
    "SortFemale",
    "SortResult",
    "accept_command",
    "bull_of",
    "gather",
    "mature_weight",
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


@dataclass(frozen=True)
class Gathered:
    """All that the sort needs of the book."""

    females: tuple[SortFemale, ...]
    bulls: tuple[SortBull, ...]
    limit: float
    season: tuple[date, date]
    clashes: tuple[Reason, ...] = ()


def solve(conn: Connection, ask: SortAsk, on: date) -> SortResult:
    """Sort the females here to the bulls: place as many as can be placed, then least mean inbreeding.

    Raises
    ------
    Refused
        When no bull is here or named, or the season ends before it begins.
    """
    ready = gather(conn, ask, on)
    return place(ready.females, ready.bulls, ask.choices, ready.limit, ready.season)


def gather(conn: Connection, ask: SortAsk, on: date) -> Gathered:
    """Read what the sort needs; raises `Refused` as `solve` does."""
    settings = load_settings(conn)
    bull_in, bull_out = season_of(ask, settings, on)
    limit = settings.inbreeding_limit if ask.limit is None else ask.limit
    herd = load_herd(conn, on)
    bulls = _bulls(conn, herd, ask, settings, bull_in, on)
    if not bulls:
        raise Refused(
            Reason("no_bulls", "There is no bull to sort to: enter one, or name one known by name", {})
        )
    pedigree = load_pedigree(conn)
    known = pedigree.known_generations
    bulls = tuple(
        replace(
            b,
            known_generations=float(known[pedigree.row[b.animal]]),
            trust=pedigree.depth(b.animal).trust,
        )
        for b in bulls
    )
    females = _females(conn, herd, bulls, settings, (bull_in, bull_out), on, pedigree, limit)
    females, clashes = with_risks(conn, pedigree, females, bulls, on, settings.affected_limit)
    return Gathered(females, bulls, limit, (bull_in, bull_out), clashes)


def _bulls(
    conn: Connection, herd: Herd, ask: SortAsk, settings: BookSettings, bull_in: date, on: date
) -> tuple[SortBull, ...]:
    if ask.bulls is None:
        chosen: list[tuple[int, int | None]] = [
            (facts.id, None)
            for facts in herd.values()
            if facts.sex == "M" and facts.class_on(bull_in) is AnimalClass.BULL and not facts.do_not_breed
            if facts.leaves is None or facts.leaves > bull_in
        ]
    else:
        chosen = list(ask.bulls)
    named = [animal for animal, _ in chosen]
    missing = [animal for animal in (*named, *(ask.heifer_bulls or ())) if animal not in herd]
    known = herd | (load_herd(conn, on, missing) if missing else {})
    for animal in (*named, *(ask.heifer_bulls or ())):
        facts = known[animal]
        if facts.sex == "F":
            raise Refused(Reason("not_a_bull", "{tag} is a female", {"tag": facts.tag}))
        if facts.castrated is not None and not facts.entire_again:
            raise Refused(Reason("not_a_bull", "{tag} is castrated", {"tag": facts.tag}))
        if named.count(animal) > 1:
            raise Refused(Reason("bull_twice", "{tag} is named twice among the bulls", {"tag": facts.tag}))
        if animal not in named:
            raise Refused(
                Reason("not_among", "{tag} is not among the bulls of this sort", {"tag": facts.tag})
            )
    return tuple(bull_of(known[animal], capacity, ask, settings, bull_in) for animal, capacity in chosen)


def bull_of(
    facts: AnimalFacts, capacity: int | None, ask: SortAsk, settings: BookSettings, bull_in: date
) -> SortBull:
    """Return a bull as the sort sees him; no `capacity` means his own number, else by his age."""
    youngest = latest(facts.born, facts.born_precision) if facts.born else None
    by_hand = facts.capacity if capacity is None else capacity
    # None: his age is not known; the page says so, and that he is counted as grown.
    guide = bull_capacity(youngest, bull_in, ceiling=settings.bull_ceiling, by_hand=by_hand)
    return SortBull(
        animal=facts.id,
        tag=facts.tag,
        name=facts.name,
        months=age_months(youngest, bull_in) if youngest else None,
        capacity=settings.bull_ceiling if guide is None else guide,
        fit_for_heifers=(bool(facts.fit_for_heifers) or facts.id in (ask.heifer_bulls or ()))
        and facts.id not in ask.not_for_heifers,
    )


def _females(
    conn: Connection,
    herd: Herd,
    bulls: Sequence[SortBull],
    settings: BookSettings,
    season: tuple[date, date],
    on: date,
    pedigree: Pedigree,
    limit: float,
) -> tuple[SortFemale, ...]:
    females = [facts for facts in herd.values() if facts.sex == "F"]
    breeds = breeds_of_bulls(conn, females)
    pairs = ([f.id for f in females], [b.animal for b in bulls])
    expected, worst, exact = pedigree.figures(*pairs, limit)
    table = expected if pedigree.hold == "expected" else worst
    levels = (settings.close_from, settings.very_close_from)
    known = pedigree.known_generations
    mature = mature_weight(herd, on, settings)
    found = []
    for row, facts in enumerate(females):
        # A run that is only planned, as by a sort accepted today, puts nobody in calf yet.
        told = expected_for(replace(facts, planned=[]), on, settings, DueRules(), breeds)
        told = told if told and told.expected >= on - PAST_DUE else None
        candidate = _candidate(facts, told, season[0], settings, mature)
        calves = table[row].tolist()
        found.append(
            SortFemale(
                animal=facts.id,
                tag=facts.tag,
                name=facts.name,
                class_=facts.class_on(on).value,
                care=facts.care,
                heifer=not facts.has_calved and (told is None or told.expected > season[0]),
                calves=tuple(calves),
                readiness=may_be_bred(candidate, season, _rules(settings)),
                known_generations=float(known[pedigree.row[facts.id]]),
                trust=pedigree.depth(facts.id).trust,
                expected=tuple(expected[row].tolist()),
                worst=tuple(worst[row].tolist()),
                exact=tuple(exact[row].tolist()),
                close=tuple(closeness(f, *levels) for f in calves),
            )
        )
    return tuple(found)


def _candidate(
    facts: AnimalFacts, told: Expected | None, bull_in: date, settings: BookSettings, mature: float | None
) -> Candidate:
    now = weight_now(facts, bull_in, settings.usual_gain)
    calved = facts.calvings[-1].day if facts.calvings else None
    return Candidate(
        born=facts.born,
        precision=facts.born_precision,
        calvings=max(len(facts.calvings), int(facts.has_calved)),
        last_calved=calved,
        in_calf=told is not None,
        due=told.expected if told else None,
        weight_kg=now.kg if now else None,
        mature_weight_kg=mature,
        left_on=facts.leaves,
        kept_back=facts.do_not_breed,
        twin_to_male=facts.freemartin in ("probable", "confirmed"),
        open_last_season=facts.found_open is not None,
    )


MATURE_YEARS = (5, 10)
"""A mature cow is 5 to 10 years old: extension texts on heifer development."""


def mature_weight(herd: Herd, on: date, settings: BookSettings) -> float | None:
    """Return what the herd's grown cows weigh: the setting, else the mean of those weighed, else None."""
    if settings.mature_kg is not None:
        return settings.mature_kg
    weights = [
        facts.weighings[-1].kg
        for facts in herd.values()
        if facts.has_calved and facts.weighings and facts.born
        if MATURE_YEARS[0] <= age_months(facts.born, on) // 12 <= MATURE_YEARS[1]
    ]
    return sum(weights) / len(weights) if weights else None


def _rules(settings: BookSettings) -> Rules:
    return Rules(
        breeding_months=settings.breed_from_months,
        ready_share=settings.breed_from_share,
        acceptable_share=settings.breed_caution_share,
    )


APART_FROM = 200_000
"""Pairs from which the solver gets a process of its own; below, it is done sooner than a process starts."""


def place(
    females: Sequence[SortFemale],
    bulls: Sequence[SortBull],
    choices: Mapping[int, Choice],
    limit: float,
    season: tuple[date, date],
    going: Callable[[], object] = lambda: None,
) -> SortResult:
    """Place the females; no reading of the book, so that a page can ask again at every move.

    A sort of many pairs is solved in a process of its own; `going` is called while it works, and what it
    raises stops it.
    """
    import numpy as np

    free = [f for f in females if f.readiness.ok or _with_bull(choices.get(f.animal))]
    free = [f for f in free if f.animal not in choices or _with_bull(choices[f.animal])]
    column = {bull.animal: place for place, bull in enumerate(bulls)}
    cost = np.empty((len(free), len(bulls)))
    barred = np.zeros(cost.shape, dtype=bool)
    for row, f in enumerate(free):  # one by one: all at once would hold the window up in a large herd
        cost[row] = f.calves
        if f.barred:
            barred[row] = f.barred
    unfit = np.array([not bull.fit_for_heifers for bull in bulls], dtype=bool)
    bar = np.array([f.heifer for f in free], dtype=bool)[:, None] & unfit[None, :]
    fixed = {
        row: column[chosen]
        for row, f in enumerate(free)
        if (chosen := choices[f.animal].bull if f.animal in choices else None) in column
    }
    solve = partial(apart, _placed, going=going) if cost.size > APART_FROM else _placed
    bull_of, why, proven = solve(
        cost,
        ~barred,
        np.array([bull.capacity for bull in bulls], dtype=np.int64),
        fixed=fixed,
        limit=limit,
        heifer_bar=bar,
    )
    placed = {f.animal: int(b) for f, b in zip(free, bull_of, strict=True) if b >= 0}
    left = {f.animal: code for f, code in zip(free, why, strict=True) if code is not None}
    return result_of(females, bulls, choices, limit, season, placed, left, proven)


def _placed(*asked: Any, **rules: Any) -> tuple[list[int], tuple[str | None, ...], bool]:
    """Return the bull of each female, why those without have none, and whether it is proven."""
    from herdbook.husbandry import sorting

    answer = sorting.place(*asked, **rules)
    return answer.bull_of.tolist(), answer.reason, answer.proven


def _with_bull(choice: Choice | None) -> bool:
    return choice is not None and choice.place == "bull"


def result_of(
    females: Sequence[SortFemale],
    bulls: Sequence[SortBull],
    choices: Mapping[int, Choice],
    limit: float,
    season: tuple[date, date],
    placed: Mapping[int, int],
    left: Mapping[int, str],
    proven: bool,
) -> SortResult:
    """Return a placing as a result: `placed` has each female's column, `left` why others have none."""
    groups: list[list[InGroup]] = [[] for _ in bulls]
    not_bred = []
    for f in females:
        if f.animal in placed:
            bull = placed[f.animal]
            by_hand = f.animal in choices
            groups[bull].append(
                InGroup(
                    f.animal,
                    f.tag,
                    f.name,
                    f.calves[bull],
                    by_hand,
                    _notes(f, bulls, bull, limit),
                    trust_of(f, bulls[bull]),
                )
            )
        else:
            not_bred.append(_not_bred(f, bulls, choices.get(f.animal), left.get(f.animal), limit))
    inbred = [female.inbreeding for group in groups for female in group]
    return SortResult(
        limit=limit,
        bull_in=season[0],
        bull_out=season[1],
        bulls=tuple(bulls),
        females=tuple(females),
        choices=dict(choices),
        groups=tuple(
            Group(b.animal, b.tag, b.name, b.capacity, tuple(group))
            for b, group in zip(bulls, groups, strict=True)
        ),
        not_bred=tuple(not_bred),
        mean_inbreeding=sum(inbred) / len(inbred) if inbred else None,
        worst_inbreeding=max(inbred, default=None),
        proven_optimal=proven,
    )


def _notes(f: SortFemale, bulls: Sequence[SortBull], bull: int, limit: float) -> tuple[Reason, ...]:
    """Say why she is here: the next best bull, the cautions on her readiness, a limit passed by hand."""
    notes = list(f.readiness.reasons)
    if beside := _next_best(f, bulls, bull):
        notes.insert(0, beside)
    if f.calves[bull] > limit:
        values = {"f": f.calves[bull], "limit": limit}
        notes.append(
            Reason("over_by_hand", "{f:.1%} is above the limit of {limit:.2%}, chosen by hand", values)
        )
    if f.heifer and not bulls[bull].fit_for_heifers:
        notes.append(
            Reason(
                "unfit_by_hand",
                "{tag} is not marked fit for heifers, chosen by hand",
                {"tag": bulls[bull].tag},
            )
        )
    return (*notes, *risk_reasons(f, bull))


def _next_best(f: SortFemale, bulls: Sequence[SortBull], bull: int) -> Reason | None:
    """Say what she would give with another bull; a nil that rests on nothing is not told as nil."""
    others = [(f.calves[at], b.tag, at) for at, b in enumerate(bulls) if at != bull]
    here = f.calves[bull]
    if nothing_known(f, bulls[bull], here):
        return Reason("not_known_here", "not known here: no parent is in the book on one side, ask")
    if not others:
        return None
    worth, tag, at = min(others)
    template = "{f:.1%} here; next best {tag} {other:.1%}"
    if nothing_known(f, bulls[at], worth):
        template = "{f:.1%} here; with {tag} not known"
    elif worth < here:
        template = "{f:.1%} here; {tag} would give {other:.1%} but has no place for her"
    return Reason("next_best", template, {"f": here, "tag": tag, "other": worth})


def _not_bred(
    f: SortFemale, bulls: Sequence[SortBull], choice: Choice | None, code: str | None, limit: float
) -> NotBred:
    if choice is not None and choice.place != "bull":
        template = "chosen by hand: {reason}" if choice.reason else "chosen by hand"
        reason = Reason("chosen", template, {"reason": choice.reason})
        return NotBred(f.animal, f.tag, f.name, f.class_, "chosen", reason, choice.place)
    if not f.readiness.ok:
        why, because = f.readiness.code or "other", f.readiness.reasons[0]
        return NotBred(f.animal, f.tag, f.name, f.class_, why, because)
    because = _why_unplaced(f, bulls, code, limit)
    code = because.code if because.code == "affected_calf" else code or "other"
    return NotBred(f.animal, f.tag, f.name, f.class_, code, because)


def _why_unplaced(f: SortFemale, bulls: Sequence[SortBull], code: str | None, limit: float) -> Reason:
    fit = [p for p, b in enumerate(bulls) if b.fit_for_heifers or not f.heifer] or list(range(len(bulls)))
    within = [place for place in fit if f.calves[place] <= limit]
    if within and (reason := barred_everywhere(f, bulls, within)):
        return reason
    fit = [place for place in within if not (f.barred and f.barred[place])] or fit
    best = min((f.calves[place], bulls[place].tag) for place in fit)
    if code == "not_fit_for_heifers":
        template = "never calved, and no bull is marked fit for heifers; place her by hand with a reason"
        return Reason("not_fit_for_heifers", template)
    values = {"f": best[0], "tag": best[1], "limit": limit}
    if code == "over_limit":
        template = "every bull is above the limit of {limit:.2%}; the least is {tag} with {f:.1%}"
        return Reason("over_limit", template, values)
    template = "no place left; {tag} would give {f:.1%}, and needs one place more"
    return Reason("no_place", template, values)


def accept_command(result: SortResult, on: date, name: str = "") -> AcceptSort:
    """Return the command that accepts this placing and writes what follows from it."""
    places = [
        Placed(f.animal, "bull", group.bull, f.inbreeding, None, f.by_hand, _reason_of(result, f.animal))
        for group in result.groups
        for f in group.females
    ]
    places += [
        Placed(n.animal, n.place, None, None, n.code, n.code == "chosen", str(n.reason))
        for n in result.not_bred
    ]
    return AcceptSort(
        name=name or say("Season {year}", year=result.bull_in.year),
        bull_in=result.bull_in,
        bull_out=result.bull_out,
        limit=result.limit,
        bulls=tuple(PlannedBull(b.animal, b.capacity, b.fit_for_heifers) for b in result.bulls),
        places=tuple(places),
        accepted=on,
    )


def _reason_of(result: SortResult, animal: int) -> str | None:
    choice = result.choices.get(animal)
    return choice.reason or None if choice else None
