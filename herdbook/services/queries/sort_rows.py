"""What the sort is asked and what it answers, as plain rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from herdbook.husbandry.bullpower import BullInGroup, young_with_old
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
class AskedBull:
    """A bull to be used; what is left empty is taken from the book and the season."""

    animal: int
    capacity: int | None = None
    bull_in: date | None = None
    bull_out: date | None = None


@dataclass(frozen=True)
class AskedGroup:
    """Bulls that share one group of females: together, or one after the other by their days.

    Parameters
    ----------
    bulls : tuple of AskedBull
    capacity : int, optional
        Most females of the group by the keeper's hand; by its bulls when not given.
    paddock : int, optional
        Most females that its paddock holds.
    """

    bulls: tuple[AskedBull, ...]
    capacity: int | None = None
    paddock: int | None = None


def each_alone(bulls: Iterable[int | AskedBull]) -> tuple[AskedGroup, ...]:
    """Return a group for each bull."""
    return tuple(AskedGroup((bull if isinstance(bull, AskedBull) else AskedBull(bull),)) for bull in bulls)


@dataclass(frozen=True)
class WantedLook:
    """A look that the calves are to have, by its gene's key, and what it costs if a calf has another."""

    trait: str
    look: str
    price: float


@dataclass(frozen=True)
class Prices:
    """What the keeper weighs beside inbreeding, each in its unit: 0.01 counts as much as one point of it.

    Parameters
    ----------
    risk : float, optional
        What an affected calf costs: a marked mating costs it times its chance of one, and may then be made.
        None leaves the book's rule, which makes no mating from its limit on that chance.
    same_group : float
        What it costs that a female leaves the bulls she ran with last season, if she may have one of them.
    looks : tuple of WantedLook
        Each costs its price times the chance that the calf has another look.
    """

    risk: float | None = None
    same_group: float = 0.0
    looks: tuple[WantedLook, ...] = ()


@dataclass(frozen=True)
class PairPrice:
    """What one thing beside inbreeding adds to the cost of a pair; `kind` is risk, same_group or look."""

    kind: str
    amount: float
    reason: Reason


@dataclass(frozen=True)
class SortAsk:
    """What is asked: empty answers take the book's settings and all the grown bulls that are here.

    Parameters
    ----------
    limit : float, optional
        No calf more inbred than this.
    bull_in, bull_out : date, optional
        First and last day of the season, both counted.
    groups : tuple of AskedGroup, optional
        The bulls to use, in their groups.
    heifer_bulls : tuple of int, optional
        Bulls fit for heifers, beside those so marked.
    not_for_heifers : tuple of int
        Bulls that get no heifers this time, though they are so marked.
    choices : mapping of animal to Choice
        What was decided by hand; kept whatever the rules say.
    apart : mapping of (female, group) to str
        Pairs that must not be, each with its reason ("" without one); a group is named by its first bull.
    most_groups : int, optional
        No more groups of bulls than this are used.
    least_group : int
        A group that is used has at least so many females.
    prices : Prices, optional
        What is weighed beside inbreeding.
    held : {"worst", "expected"}, optional
        What counts where a sire is doubtful, for this sort; as the book says when not given.
    """

    limit: float | None = None
    bull_in: date | None = None
    bull_out: date | None = None
    groups: tuple[AskedGroup, ...] | None = None
    heifer_bulls: tuple[int, ...] | None = None
    not_for_heifers: tuple[int, ...] = ()
    choices: Mapping[int, Choice] = field(default_factory=dict)
    apart: Mapping[tuple[int, int], str] = field(default_factory=dict)
    most_groups: int | None = None
    least_group: int = 0
    prices: Prices | None = None
    held: str | None = None


@dataclass(frozen=True)
class SortBull:
    """A bull of the sort: how many females he is given by himself, on which days he is in, both counted.

    `guide` says what his number rests on, `notes` what else to know before relying on it.
    """

    animal: int
    tag: str
    name: str | None
    months: int | None
    capacity: int
    fit_for_heifers: bool
    bull_in: date
    bull_out: date
    known_generations: float = 0.0
    trust: Trust = Trust.NOTHING
    guide: Reason | None = None
    notes: tuple[Reason, ...] = ()


def in_group(bulls: Iterable[SortBull]) -> list[BullInGroup]:
    """Return the bulls as the rules for bulls together take them."""
    return [BullInGroup(bull.capacity, bull.bull_in, bull.bull_out, bull.months) for bull in bulls]


@dataclass(frozen=True)
class BullGroup:
    """A column of the sort: one bull, or more that run together or follow one another with one group.

    Nobody knows which of several bulls will be the sire, so the group stands for the least favourable: it is
    fit for heifers when each of them is, and known as far as the one of whom least is known.
    """

    bulls: tuple[SortBull, ...]
    capacity: int
    paddock: int | None = None

    @property
    def animal(self) -> int:
        """The key of the group: its first bull."""
        return self.bulls[0].animal

    @property
    def tag(self) -> str:
        """The tags of its bulls."""
        return " + ".join(bull.tag for bull in self.bulls)

    @property
    def name(self) -> str | None:
        """The names of its bulls; None where none has one."""
        return " + ".join(bull.name for bull in self.bulls if bull.name) or None

    @property
    def months(self) -> int | None:
        """The age of its youngest bull at the season's beginning; None where one is not known."""
        known = [bull.months for bull in self.bulls if bull.months is not None]
        return min(known) if len(known) == len(self.bulls) else None

    @property
    def fit_for_heifers(self) -> bool:
        """Whether every one of its bulls is."""
        return all(bull.fit_for_heifers for bull in self.bulls)

    @property
    def bull_in(self) -> date:
        """The first day with a bull."""
        return min(bull.bull_in for bull in self.bulls)

    @property
    def bull_out(self) -> date:
        """The last day with a bull."""
        return max(bull.bull_out for bull in self.bulls)

    @property
    def known_generations(self) -> float:
        """The least of its bulls'."""
        return min(bull.known_generations for bull in self.bulls)

    @property
    def trust(self) -> Trust:
        """The word of the bull that is known least."""
        return weaker(bull.trust for bull in self.bulls)

    @property
    def notes(self) -> tuple[Reason, ...]:
        """What is to be said of its bulls, and of their being together."""
        mixed = young_with_old(in_group(self.bulls))
        each = tuple(note for bull in self.bulls for note in bull.notes)
        return each if mixed is None else (*each, mixed)

    @property
    def places(self) -> int:
        """The most females that it is given: its capacity, or what its paddock holds."""
        return self.capacity if self.paddock is None else min(self.capacity, self.paddock)


@dataclass(frozen=True)
class SortFemale:
    """A female of the sort, with the inbreeding of her calf by each group, in the order of the groups.

    With several bulls in a group each figure is that of the bull who is worst for her.

    `calves` are the figures that the limit is held against. Where a sire is doubtful they are the `worst` or
    the `expected` ones, as the book says; `exact` is False where the worst is no more than that. `close` has
    the word for each: "very close", "close" or "". `risks` are what marks each mating, the chances of an
    affected calf, and `barred` says which matings the sort does not make by itself; both are empty where
    nothing marks any. `alerts` cannot wait: too young and with an entire male, or mated too young. `priced`
    says what else is weighed in each pair; it is empty where nothing is.
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
    alerts: tuple[Reason, ...] = ()
    priced: tuple[tuple[PairPrice, ...], ...] = ()

    def cost(self, column: int) -> float:
        """Return what the pair with a group costs: the calf's figure, and what else is weighed."""
        return self.calves[column] + self.extra(column)

    @property
    def costs(self) -> tuple[float, ...]:
        """The `cost` of the pair with each group."""
        return tuple(self.cost(at) for at in range(len(self.calves))) if self.priced else self.calves

    def extra(self, column: int) -> float:
        """Return what is weighed beside inbreeding in the pair with a group, in its unit."""
        return sum(price.amount for price in self.prices_of(column))

    def prices_of(self, column: int) -> tuple[PairPrice, ...]:
        """Return what is weighed beside inbreeding in the pair with a group."""
        return self.priced[column] if self.priced else ()


def trust_of(female: SortFemale, bull: SortBull | BullGroup) -> Trust:
    """Return how far the figure of a pair can be trusted: the word of its weaker side."""
    return weaker((female.trust, bull.trust))


def nothing_known(female: SortFemale, bull: SortBull | BullGroup, figure: float) -> bool:
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

    @property
    def known(self) -> bool:
        """Whether her calf's figure rests on anything, which a nil may not: see `nothing_known`."""
        return self.inbreeding != 0 or self.trust is not Trust.NOTHING


@dataclass(frozen=True)
class Group:
    """A group of bulls, named by its first, and the females placed with it."""

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
class Gathered:
    """All that a sort needs of the book: who is sorted to whom by which rules; no reading after this.

    `clashes` are heritable conditions of which nothing is said, because their results contradict each other.
    `breeds` and `gestation_days`, the book's own figure if it has one, say how long a calf is carried. `held`
    is what counts where a sire is doubtful: "worst" or "expected".
    """

    females: tuple[SortFemale, ...]
    bull_groups: tuple[BullGroup, ...]
    limit: float
    season: tuple[date, date]
    apart: Mapping[tuple[int, int], str] = field(default_factory=dict)
    most_groups: int | None = None
    least_group: int = 0
    clashes: tuple[Reason, ...] = ()
    breeds: Mapping[int, str | None] = field(default_factory=dict)
    gestation_days: int | None = None
    prices: Prices | None = None
    held: str = "worst"

    @property
    def bulls(self) -> tuple[SortBull, ...]:
        """Every bull of every group."""
        return tuple(bull for group in self.bull_groups for bull in group.bulls)

    @cached_property
    def by_animal(self) -> dict[int, SortFemale]:
        """The females by their keys."""
        return {female.animal: female for female in self.females}

    def column_of(self, group: int) -> int:
        """Return where the group named by a bull stands; raises StopIteration when it is not here."""
        return next(at for at, one in enumerate(self.bull_groups) if one.animal == group)


@dataclass(frozen=True)
class SortResult:
    """The answer, with everything that a page needs to try another placing.

    `mean_inbreeding` is that of all who are placed, a nil that rests on nothing among them; what people are
    told is `known_mean`, and how many are `not_known`.

    `gap` is by how much of its whole cost the answer might be too dear; 0 where it is proven best. No answer
    gives more than `most_placed` a bull; None where nothing was solved. `clash` are females whose choices by
    hand cannot all stand with the rules; then nobody is placed.
    """

    ready: Gathered
    choices: Mapping[int, Choice]
    groups: tuple[Group, ...]
    not_bred: tuple[NotBred, ...]
    mean_inbreeding: float | None
    worst_inbreeding: float | None
    proven_optimal: bool
    gap: float = 0.0
    clash: tuple[int, ...] = ()
    most_placed: int | None = None

    @cached_property
    def _known(self) -> tuple[float, ...]:
        return tuple(one.inbreeding for group in self.groups for one in group.females if one.known)

    @property
    def known_mean(self) -> float | None:
        """The mean of those calves whose figure rests on something; None where none does."""
        return sum(self._known) / len(self._known) if self._known else None

    @property
    def known_worst(self) -> float | None:
        """The worst of those calves; None where no figure rests on anything."""
        return max(self._known, default=None)

    @property
    def not_known(self) -> int:
        """How many of those placed have a figure of nil that rests on nothing."""
        return sum(not one.known for group in self.groups for one in group.females)

    @property
    def limit(self) -> float:
        """No calf is to be more inbred than this."""
        return self.ready.limit

    @property
    def bull_in(self) -> date:
        """The season's first day."""
        return self.ready.season[0]

    @property
    def bull_out(self) -> date:
        """The season's last day, counted."""
        return self.ready.season[1]

    @property
    def females(self) -> tuple[SortFemale, ...]:
        """Everyone who was asked about."""
        return self.ready.females

    @property
    def bull_groups(self) -> tuple[BullGroup, ...]:
        """The columns, in the order of each female's figures."""
        return self.ready.bull_groups

    @property
    def bulls(self) -> tuple[SortBull, ...]:
        """Every bull of every group."""
        return self.ready.bulls
