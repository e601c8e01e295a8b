"""The years after: today's herd as the book has it, run forward under policies.

The herd begins with everybody here, their kinship as the sort holds it (the worst of the possible sires, or
the expected one), the calves on their way, and the first season of the sort: who may be bred in it, and with
which bulls in which groups. Doubts about today's animals are carried on: calves are held as related as their
parents on the mean, so that a worst figure is no more than that. Heritable conditions are not followed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.breeds import DEFAULT_DAYS
from herdbook.husbandry.bullpower import together
from herdbook.husbandry.days import latest
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.years import (
    BOUGHT,
    HOME,
    NEVER,
    PRESETS,
    Coming,
    Company,
    Policy,
    Rates,
    Start,
    YearsAfter,
    run_repeats,
    years_after,
)
from herdbook.services.apart import apart_each
from herdbook.services.facts import AnimalFacts, Herd, load_herd
from herdbook.services.pedigree import Pedigree, load_pedigree
from herdbook.services.queries.due import DueRow, due_rows
from herdbook.services.queries.sort import PAST_DUE, BullGroup, Gathered, SortAsk, gather
from herdbook.services.queries.sort_rows import in_group
from herdbook.services.registry import Refused
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

if TYPE_CHECKING:
    import numpy.typing as npt

YEARS, REPEATS, SEED = 10, 200, 1
USUAL = ("every-3-years", "keep-home-bred", "swap-one")
"""The policies that are compared where none is named."""
MOST_YEARS, MOST_REPEATS = 100, 10_000
"""No more is run: it would take hours. Our choice."""
AT_ONCE = 10
"""Repeats after which progress is told."""
_YEAR = 365
_CYCLES_NOT_CHECKED = 3
"""A female that was served and not checked counts as having had so many heats with the bull."""


@dataclass(frozen=True)
class Beginning:
    """All that the years after need of the book.

    Parameters
    ----------
    on : date
    bull_in : date
        First day of the first season.
    limit : float
    start : Start
    rates : Rates
    animals : tuple of int
        Id of each row of `start`.
    held : {"worst", "expected"}
        What the limit is held against, and what is counted, where a sire is doubtful.
    doubtful : bool
        Whether any sire in the book is.
    cull_years : int
        The book's age at which a cow is looked at.
    keep : float or None
        The book's share of heifer calves kept; None as many as hold the number of females.
    """

    on: date
    bull_in: date
    limit: float
    start: Start
    rates: Rates
    animals: tuple[int, ...]
    held: str = "expected"
    doubtful: bool = False
    cull_years: int = Policy("").cull_years
    keep: float | None = None

    def usual(self, name: str) -> Policy:
        """Return a policy of `PRESETS` with the book's own cull age and share of heifers kept."""
        return replace(PRESETS[name], cull_years=self.cull_years, keep=self.keep)


def beginning(conn: Connection, on: date, ask: SortAsk | None = None) -> Beginning:
    """Read today's herd as the years after begin with it.

    Raises
    ------
    Refused
        When no bull is here or named, or the season ends before it begins.
    """
    ask = ask or SortAsk()
    sort = gather(conn, ask, on)
    settings = load_settings(conn)
    rates = Rates(
        conception=settings.settled_share,
        calving=settings.calving_share,
        rearing=settings.rearing_share,
        open_leaves=settings.open_leaves,
        other_leaves=settings.other_leaves,
        bull_leaves=settings.bull_leaves,
        season_days=(sort.season[1] - sort.season[0]).days + 1,
        gestation=settings.gestation_days or DEFAULT_DAYS,
        breeding_months=settings.breed_from_months,
        ceiling=settings.bull_ceiling,
    )
    herd = load_herd(conn, on, measured=False)
    named = [bull.animal for bull in sort.bulls if bull.animal not in herd]
    if named:
        herd |= load_herd(conn, on, named, measured=False)
    due = {row.animal: row for row in due_rows(conn, herd, on, settings) if row.expected >= on - PAST_DUE}
    pedigree = load_pedigree(conn)
    served = _seasons_served(conn, [bull.animal for bull in sort.bulls], sort.season[0], on)
    start, animals = _start(herd, sort, ask, due, pedigree, served, rates)
    return Beginning(
        on,
        sort.season[0],
        sort.limit,
        start,
        rates,
        animals,
        sort.held,
        bool(len(pedigree.links)),
        settings.cull_age_years,
        settings.heifers_kept,
    )


def _seasons_served(conn: Connection, bulls: Sequence[int], bull_in: date, on: date) -> dict[int, int]:
    """Return in how many seasons each bull ran with females here; runs of one winter are one season."""
    b = t.columns(t.BullRunBull)
    query = select(b.animal_id, b.from_day).where(b.animal_id.in_(bulls), b.from_day <= on)
    seasons: dict[int, set[int]] = {}
    for bull, day in conn.execute(query):
        seasons.setdefault(bull, set()).add(round((day - bull_in).days / _YEAR))
    return {bull: len(each) for bull, each in seasons.items()}


def _start(
    herd: Herd,
    sort: Gathered,
    ask: SortAsk,
    due: Mapping[int, DueRow],
    pedigree: Pedigree,
    served: Mapping[int, int],
    rates: Rates,
) -> tuple[Start, tuple[int, ...]]:
    import numpy as np

    from herdbook.husbandry.founders import founder_table

    females = {f.animal: f for f in sort.females}
    bulls = {b.animal: b for b in sort.bulls}
    entire = [a for a, facts in herd.items() if facts.sex == "M" and _entire(facts)]
    here = [*females, *(bull for bull in entire if bull not in bulls), *bulls]
    sires = {s.animal for row in due.values() if row.animal in females for s in row.sires}
    animals = (*here, *sorted(sires.difference(here)))
    row_of = {animal: row for row, animal in enumerate(animals)}
    rows = [pedigree.row[animal] for animal in animals]
    _, shares = founder_table(pedigree.sire, pedigree.dam, rows, _doubtful(pedigree))
    by_hand = _numbers_by_hand(ask)
    group, turn = _groups(sort.bull_groups)

    def each(of: Callable[[int], Any], kind: type) -> npt.NDArray[Any]:
        return np.array([of(animal) for animal in animals], dtype=kind)

    def calved(animal: int) -> int:
        if animal in due:
            return (due[animal].expected - sort.season[0]).days
        last = herd[animal].calvings[-1:] if animal in females else []
        return (last[0].day - sort.season[0]).days if last else NEVER

    start = Start(
        kinship=_kinship(pedigree, animals, sort.held),
        shares=shares,
        stays=each(lambda a: a in bulls or (a in herd and _goes_on(herd[a], females.get(a))), bool),
        female=each(lambda a: a in females, bool),
        bull=each(lambda a: a in bulls, bool),
        cow=each(lambda a: a in females and (herd[a].has_calved or a in due), bool),
        ready=each(lambda a: a in females and females[a].readiness.ok, bool),
        fit=each(lambda a: a in bulls and bulls[a].fit_for_heifers, bool),
        born=each(lambda a: _born(herd.get(a), sort.season[0]), np.int64),
        calved=each(calved, np.int64),
        served=each(lambda a: served.get(a, 0), np.int64),
        by_hand=each(lambda a: by_hand.get(a, _by_hand(herd[a])) if a in bulls else -1, np.int64),
        coming=tuple(_coming(due[a], row_of, sort.season[0], rates) for a in females if a in due),
        group=each(lambda a: group.get(a, -1), np.int64),
        turn=each(lambda a: turn.get(a, 0), np.int64),
        companies=tuple(_company(one, ask) for one in sort.bull_groups),
    )
    return start, animals


def _kinship(pedigree: Pedigree, animals: Sequence[int], held: str) -> npt.NDArray[Any]:
    """Return the coancestry of the animals as the sort holds it."""
    import numpy as np

    if held == "expected" or not len(pedigree.links):
        return pedigree.expected(animals, animals)
    kinship: npt.NDArray[Any] = pedigree.worst(animals, animals).copy()
    own = pedigree.worst_inbreeding[[pedigree.row[animal] for animal in animals]]
    np.fill_diagonal(kinship, 0.5 * (1.0 + own))
    return np.asarray(np.maximum(kinship, kinship.T))


def _groups(groups: Sequence[BullGroup]) -> tuple[dict[int, int], dict[int, int]]:
    """Return each bull's group, and of the bulls in it, which follow one another by their days."""
    group: dict[int, int] = {}
    turn: dict[int, int] = {}
    for at, one in enumerate(groups):
        days = {
            (bull.first, bull.last): n
            for n, part in enumerate(together(in_group(one.bulls)))
            for bull in part
        }
        for bull in one.bulls:
            group[bull.animal], turn[bull.animal] = at, days[bull.bull_in, bull.bull_out]
    return group, turn


def _company(group: BullGroup, ask: SortAsk) -> Company:
    asked = {one.bulls[0].animal: one.capacity for one in ask.groups or () if one.bulls}
    return Company(asked.get(group.animal), group.paddock)


def _numbers_by_hand(ask: SortAsk) -> dict[int, int]:
    """Return the bulls' numbers that were typed for this sort."""
    bulls = [bull for group in ask.groups or () for bull in group.bulls]
    return {bull.animal: bull.capacity for bull in bulls if bull.capacity is not None}


def _doubtful(pedigree: Pedigree) -> dict[int, list[tuple[int, float]]]:
    found: dict[int, list[tuple[int, float]]] = {}
    links = pedigree.links
    for child, sire, chance in zip(
        links.child.tolist(), links.parent.tolist(), links.weight.tolist(), strict=True
    ):
        found.setdefault(child, []).append((sire, chance))
    return found


def _entire(facts: AnimalFacts) -> bool:
    return facts.castrated is None or facts.entire_again


def _goes_on(facts: AnimalFacts, female: Any) -> bool:
    """Return whether an animal is part of the herd that goes on: not kept back, not about to leave."""
    if facts.leaves is not None or facts.do_not_breed is not None:
        return False
    later = ("in_calf", "too_young", "medicine")
    return female is None or female.readiness.ok or female.readiness.code in later


def _by_hand(facts: AnimalFacts) -> int:
    return -1 if facts.capacity is None else facts.capacity


def _born(facts: AnimalFacts | None, bull_in: date) -> int:
    """Return the day of birth from bull-in, the youngest it can be.

    Who has no day of birth is taken for two years and one for each calving: enough to be grown.
    """
    if facts is None or facts.born is None:
        return -_YEAR * (2 + (len(facts.calvings) if facts else 0))
    return (latest(facts.born, facts.born_precision) - bull_in).days


def _coming(row: DueRow, row_of: Mapping[int, int], bull_in: date, rates: Rates) -> Coming:
    in_calf = 1.0 if row.confirmed else 1.0 - (1.0 - rates.conception) ** _CYCLES_NOT_CHECKED
    return Coming(
        dam=row_of[row.animal],
        due=(row.expected - bull_in).days,
        chance=in_calf * rates.calving,
        sires=tuple((row_of[sire.animal], sire.chance) for sire in row.sires),
    )


# -- running --


def run_years(
    begin: Beginning,
    policies: Sequence[Policy],
    *,
    years: int = YEARS,
    repeats: int = REPEATS,
    seed: int = SEED,
    going: Callable[[], object] = lambda: None,
    progress: Callable[[int, int], object] | None = None,
) -> list[YearsAfter]:
    """Run the herd forward under each policy, in a process of its own.

    Parameters
    ----------
    begin : Beginning
        From `beginning`.
    policies : sequence of Policy
    years, repeats, seed : int
    going : callable
        Called while the process works; what it raises ends the process and is raised here.
    progress : callable, optional
        Called with the repeats done and all there are, over all policies.

    Returns
    -------
    list of YearsAfter
        In the order of the policies.

    Raises
    ------
    Refused
        If there is no policy, year or repeat to run, there are more than `MOST_YEARS` or `MOST_REPEATS`, or
        the seed is below 0.
    """
    if min(years, repeats, len(policies)) < 1 or seed < 0:
        template = "Years and repeats are 1 or more, the seed is 0 or more, and a policy is named"
        raise Refused(Reason("nothing_to_run", template))
    if years > MOST_YEARS or repeats > MOST_REPEATS:
        template = "No more than {years} years and {repeats} repeats are run at once"
        raise Refused(Reason("too_much_to_run", template, {"years": MOST_YEARS, "repeats": MOST_REPEATS}))
    whole = repeats * len(policies)
    heard = apart_each(
        policy_by_policy, begin, tuple(policies), years=years, repeats=repeats, seed=seed, going=going
    )
    found = []
    for done, told in heard:
        if progress is not None:
            progress(done, whole)
        if told is not None:
            found.append(told)
    return found


def policy_by_policy(
    begin: Beginning, policies: Sequence[Policy], *, years: int, repeats: int, seed: int
) -> Iterator[tuple[int, YearsAfter | None]]:
    """Yield the repeats done so far, with what a policy leads to when its last repeat is done."""
    import numpy as np

    done = 0
    for policy in policies:
        parts = []
        for first in range(0, repeats, AT_ONCE):
            numbers = range(first, min(first + AT_ONCE, repeats))
            parts.append(
                run_repeats(
                    begin.start,
                    policy,
                    begin.rates,
                    limit=begin.limit,
                    years=years,
                    seed=seed,
                    repeats=numbers,
                )
            )
            done += len(numbers)
            if numbers[-1] < repeats - 1:
                yield done, None
        yield done, years_after(policy, np.concatenate(parts), begin.bull_in.year)


# -- policies in words --

_NONE = {"keep": "hold", "size": "today", "bulls": "today", "bull_years": "ever", "bull_age": "ever",
         "swap_every": "never"}  # fmt: skip
"""The word that stands for no number, by setting."""


def policy_of(words: str, begin: Beginning | None = None) -> Policy:
    """Return the policy that ``NAME[:key=value,...]`` describes: a known one, or a name and what it sets.

    What is not set is taken from the book that the years `begin` with.

    Raises
    ------
    Refused
        If the name is not known and nothing is set, or a setting cannot be read.
    """
    name, colon, settings = words.partition(":")
    if name not in PRESETS and not colon:
        values = {"name": name, "known": ", ".join(PRESETS)}
        raise Refused(
            Reason(
                "policy_not_known",
                "There is no policy {name}: known are {known}; another is written name:key=value,...",
                values,
            )
        )
    policy = PRESETS.get(name, Policy(name))
    if begin is not None:
        policy = replace(policy, cull_years=begin.cull_years, keep=begin.keep)
    for setting in filter(None, settings.split(",")):
        key, _, value = (part.strip() for part in setting.partition("="))
        try:
            changed: dict[str, Any] = {key: _value(key, value)}
            policy = replace(policy, **changed)
        except (KeyError, ValueError):
            keys = ", ".join(f.name for f in fields(Policy) if f.name != "name")
            values = {"setting": setting, "keys": keys}
            raise Refused(
                Reason("setting_not_read", "{setting} cannot be set of a policy; settings are {keys}", values)
            ) from None
    return policy


def _value(key: str, text: str) -> object:
    """Read a policy's setting; raises KeyError for one that there is not, ValueError for no such value."""
    if text == _NONE.get(key):
        return None
    if key == "source":
        return {"bought": BOUGHT, "home": HOME}[text]
    if key == "strict":
        return {"yes": True, "no": False}[text]
    if key in ("keep", "kin"):
        return float(text)
    if key in ("size", "cull_years", "bull_years", "bull_age", "bulls", "swap_every"):
        return int(text)
    raise KeyError(key)


def settings_of(policy: Policy) -> dict[str, Any]:
    """Return a policy's settings without its name."""
    return {key: value for key, value in asdict(policy).items() if key != "name"}
