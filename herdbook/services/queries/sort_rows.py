"""What the sort is asked and what it answers, as plain rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Readiness
from herdbook.husbandry.trust import Trust, weaker
from herdbook.services.queries.risks import MatingRisk


@dataclass(frozen=True)
class Choice:
    """A choice made by hand for one female: with a bull, or not bred, finishing or to sell, and why."""

    place: str
    bull: int | None = None
    reason: str = ""


@dataclass(frozen=True)
class SortAsk:
    """What is asked: empty answers take the book's settings and all the grown bulls that are here.

    Parameters
    ----------
    limit : float, optional
        No calf more inbred than this.
    bull_in, bull_out : date, optional
        First and last day of the season, both counted.
    bulls : tuple of (animal, capacity or None), optional
        The bulls to use; no capacity means by his age.
    heifer_bulls : tuple of int, optional
        Bulls fit for heifers, beside those so marked.
    not_for_heifers : tuple of int
        Bulls that get no heifers this time, though they are so marked.
    choices : mapping of animal to Choice
        What was decided by hand; kept whatever the rules say.
    """

    limit: float | None = None
    bull_in: date | None = None
    bull_out: date | None = None
    bulls: tuple[tuple[int, int | None], ...] | None = None
    heifer_bulls: tuple[int, ...] | None = None
    not_for_heifers: tuple[int, ...] = ()
    choices: Mapping[int, Choice] = field(default_factory=dict)


@dataclass(frozen=True)
class SortBull:
    """A bull of the sort."""

    animal: int
    tag: str
    name: str | None
    months: int | None
    capacity: int
    fit_for_heifers: bool
    known_generations: float = 0.0
    trust: Trust = Trust.NOTHING


@dataclass(frozen=True)
class SortFemale:
    """A female of the sort, with the inbreeding of her calf by each bull, in the order of the bulls.

    `calves` are the figures that the limit is held against. Where a sire is doubtful they are the `worst` or
    the `expected` ones, as the book says; `exact` is False where the worst is no more than that. `close` has
    the word for each: "very close", "close" or "". `risks` are what marks each mating, the chances of an
    affected calf, and `barred` says which matings the sort does not make by itself; both are empty where
    nothing marks any.
    """

    animal: int
    tag: str
    name: str | None
    class_: str
    care: str | None
    heifer: bool
    calves: tuple[float, ...]
    readiness: Readiness
    known_generations: float
    trust: Trust = Trust.NOTHING
    expected: tuple[float, ...] = ()
    worst: tuple[float, ...] = ()
    exact: tuple[bool, ...] = ()
    close: tuple[str, ...] = ()
    risks: tuple[tuple[MatingRisk, ...], ...] = ()
    barred: tuple[bool, ...] = ()


def trust_of(female: SortFemale, bull: SortBull) -> Trust:
    """Return how far the figure of a pair can be trusted: the word of its weaker side."""
    return weaker((female.trust, bull.trust))


def nothing_known(female: SortFemale, bull: SortBull, figure: float) -> bool:
    """Return whether her calf's figure of nil rests on nothing: no parent is known on one side."""
    return figure == 0 and trust_of(female, bull) is Trust.NOTHING


@dataclass(frozen=True)
class InGroup:
    """A female placed with a bull: her calf's inbreeding, how far it can be trusted, the next best bull."""

    animal: int
    tag: str
    name: str | None
    inbreeding: float
    by_hand: bool
    notes: tuple[Reason, ...]
    trust: Trust = Trust.NOTHING


@dataclass(frozen=True)
class Group:
    """A bull and the females placed with him."""

    bull: int
    tag: str
    name: str | None
    capacity: int
    females: tuple[InGroup, ...]


@dataclass(frozen=True)
class NotBred:
    """A female without a bull this season: the code, the reason in words, and where she goes."""

    animal: int
    tag: str
    name: str | None
    class_: str
    code: str
    reason: Reason
    place: str = "not_bred"


@dataclass(frozen=True)
class SortResult:
    """The answer, with everything that a page needs to try another placing."""

    limit: float
    bull_in: date
    bull_out: date
    bulls: tuple[SortBull, ...]
    females: tuple[SortFemale, ...]
    choices: Mapping[int, Choice]
    groups: tuple[Group, ...]
    not_bred: tuple[NotBred, ...]
    mean_inbreeding: float | None
    worst_inbreeding: float | None
    proven_optimal: bool
