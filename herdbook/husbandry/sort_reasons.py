"""Why a sort put each female where she is, and the smallest change that would place one who has no bull.

Everything is told of the answer's own bulls: those that are used stay used, every group keeps its least,
hand-made choices stay. Where she would go elsewhere, the others may be moved to make room, and as many are
placed as before; for one who has no bull nobody else is put out.

What the others' moves cost is a shortest way over the few groups in the graph of single moves, which no round
of exchanges makes cheaper in the best answer; the least limit is the way whose worst pair is least. (Ahuja,
Magnanti & Orlin 1993, "Network Flows", chapters 5 and 9; Floyd 1962, Communications of the ACM 5:345; from
memory.)
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from herdbook.husbandry.exchange_rounds import Exchange
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.sort_task import whole_numbers
from herdbook.husbandry.sorting import CLASH, OTHER, Sorted
from herdbook.husbandry.transport import NEVER, Flags, Ints, Reals

BY_HAND = "by_hand"
BARRED = "barred"
HEIFERS = "not_fit_for_heifers"
OVER_LIMIT = "over_limit"
NOT_USED = "not_used"
NO_BETTER = "no_better"
FULL = "full"
LEAST_GROUP = "least_group"
ROOM = "room"


@dataclass(frozen=True)
class WhyNot:
    """Another bull for a placed female, and why she is not with him.

    Attributes
    ----------
    bull : int
    cost, figure : float
        Of the pair.
    code : str
        ``by_hand`` (she was placed by hand), ``barred`` (the keeper's rules), ``not_fit_for_heifers``,
        ``over_limit``, ``not_used``, ``no_better`` (he costs no less than hers), ``full``, ``least_group``
        (he has a place, but her own group would fall below the least), ``room`` (he has a place: only told
        of an answer that is not the best).
    rise : float or None
        By how much the total of the costs rises at the least when she is with him, where the rules let her
        be; None where somebody would have to be put out for her.
    """

    bull: int
    cost: float
    figure: float
    code: str
    rise: float | None = None


@dataclass(frozen=True)
class Placement:
    """Why a female is with her bull.

    Attributes
    ----------
    female, bull : int
    cost, figure : float
        Of the pair.
    by_hand : bool
    next_best : WhyNot or None
        The cheapest other bull that the keeper's rules let her have, whether or not the limit does.
    better : WhyNot or None
        The bull that suits her best, where he costs less than hers.
    """

    female: int
    bull: int
    cost: float
    figure: float
    by_hand: bool
    next_best: WhyNot | None
    better: WhyNot | None


@dataclass(frozen=True)
class Unplaced:
    """What would place a female who has no bull: each of these alone is enough, and puts nobody out.

    Attributes
    ----------
    female : int
    reason : str
        Why she has none, as in `Sorted.reason`.
    room : bool
        There is a place for her as things stand: only of an answer that is not the best.
    limit : float or None
        The least limit at which she has a place; None where no limit helps.
    place_with : tuple of int
        Bulls with whom one more place is enough, the cheapest first.
    adds : tuple of float
        What placing her adds to the total with each of these.
    bull_no_closer : float or None
        One more bull is enough if her calf by him has no higher figure than this; None without a limit: any.
    heifer : bool
        That bull must be fit for heifers.
    bull_group : int
        That bull needs at least so many females, she among them; 1 where there is no least group.
    bull_beyond : int or None
        Beside those who have females he would be one more than this number that may be used; None: he may be.
    fit_for_heifers : tuple of int
        Bulls who need only be marked fit for heifers.
    allow : tuple of int
        Bulls that she need only be allowed.
    use : tuple of int
        Bulls that need only be used too.
    clash : tuple of int
        Hand-made choices that clash: one of these must be taken back before anybody is placed.
    """

    female: int
    reason: str
    room: bool = False
    limit: float | None = None
    place_with: tuple[int, ...] = ()
    adds: tuple[float, ...] = ()
    bull_no_closer: float | None = None
    heifer: bool = False
    bull_group: int = 1
    bull_beyond: int | None = None
    fit_for_heifers: tuple[int, ...] = ()
    allow: tuple[int, ...] = ()
    use: tuple[int, ...] = ()
    clash: tuple[int, ...] = ()


class Explained:
    """The explanations of an answer, worked out when asked: one female, or all.

    Parameters
    ----------
    answer : Sorted
        What costs are told is told of the best division with these bulls and choices; an answer whose
        division is not the best (stopped, or changed by hand afterwards) is held against that.
    """

    def __init__(self, answer: Sorted) -> None:
        self.answer, self.task = answer, answer.task
        task = self.task
        self._open, self._under = task.open_pair, task.under
        self._whole, self._power = whole_numbers(task.cost)
        self._bulls = task.cost.shape[1]
        self._free = task.free
        self._at = {int(row): at for at, row in enumerate(self._free)}
        here = answer.bull_of[self._free]
        self._here = np.where(here >= 0, here, self._bulls)
        self._held = np.bincount(self._here, minlength=self._bulls + 1)
        self._used: Flags = answer.used | (self._held[:-1] > 0)
        self._room = np.where(self._used, np.maximum(task.capacity - task.taken, 0), 0)
        self._least = np.where(self._used, np.maximum(task.least_group - task.taken, 0), 0)
        self._spare: Flags = self._held[:-1] < self._room

    @cached_property
    def _swaps(self) -> tuple[Ints, Ints]:
        """What ways between all nodes add, "no bull" among them, and the best division they are told of."""
        nothing = np.zeros((len(self._free), 1), dtype=np.int64)
        may = np.column_stack([self._open[self._free], nothing == 0])
        price = np.where(may, np.column_stack([self._whole[self._free], nothing]), NEVER)
        without = self._held[-1]  # as many are placed as before
        least = np.append(np.minimum(self._least, self._held[:-1]), without)
        return _ways(price, may, least, np.append(self._room, without), self._here)

    @cached_property
    def _moves(self) -> tuple[Ints, Ints]:
        """What ways between the bulls add while all that are placed keep a bull, and that best division."""
        placed = self._here < self._bulls
        may = self._open[self._free][placed]
        price = np.where(may, self._whole[self._free][placed], NEVER)
        least, here = np.minimum(self._least, self._held[:-1]), self._here[placed]
        ways, group = _ways(price, may, least, self._room, here)
        return ways[:-1, :-1], group

    @cached_property
    def _least_limits(self) -> Reals:
        """For each bull the least limit at which one more female with him leads to a free place."""
        far = np.where(self._spare, -np.inf, np.inf)
        may = (self.task.allowed & ~self.task.bar)[self._free] & self._used
        figure = np.where(may, self.task.figure[self._free], np.inf)
        worst = np.full((self._bulls, self._bulls), np.inf)
        for bull in np.flatnonzero(self._held[:-1]).tolist():
            worst[bull] = figure[self._here == bull].min(axis=0)
        while True:
            nearer = np.minimum(far, np.maximum(worst, far).min(axis=1, initial=np.inf))
            if (nearer == far).all():
                return np.asarray(far)
            far = nearer

    @cached_property
    def _ends(self) -> Flags:
        """The used bulls from whom moves within the limit lead to a free place."""
        ways, _ = self._moves
        return np.asarray(self._used & (ways[:, self._spare] < NEVER // 2).any(axis=1))

    # A placed female.

    def placement(self, female: int) -> Placement:
        """Return why a female is with her bull; raises ValueError when she has none."""
        bull = int(self.answer.bull_of[female])
        if bull < 0:
            raise ValueError("She has no bull.")
        cost, task = self.task.cost[female], self.task
        may = task.allowed[female] & ~task.bar[female]
        may[bull] = False
        first = task.first_bull
        other = int(first[np.where(may, cost, np.inf)[first].argmin()])
        best = int(first[cost[first].argmin()])
        return Placement(
            female,
            bull,
            float(cost[bull]),
            float(task.figure[female, bull]),
            female in task.fixed,
            self.why_not(female, other) if may[other] else None,
            self.why_not(female, best) if cost[best] < cost[bull] else None,
        )

    def why_not(self, female: int, bull: int) -> WhyNot:
        """Return why a placed female is not with another bull, and what it would cost to send her there."""
        task = self.task
        cost, figure = float(task.cost[female, bull]), float(task.figure[female, bull])
        code = self._hindered(female, bull)
        if code is not None:
            return WhyNot(bull, cost, figure, code)
        own = int(self.answer.bull_of[female])
        if own >= 0 and cost >= task.cost[female, own]:
            code = NO_BETTER
        elif not self._spare[bull]:
            code = FULL
        else:
            code = LEAST_GROUP if own >= 0 and self._held[own] <= self._least[own] else ROOM
        return WhyNot(bull, cost, figure, code, self.rise(female, bull))

    def _hindered(self, female: int, bull: int) -> str | None:
        """Return which rule keeps a female from a bull, None where none does."""
        task = self.task
        if female in task.fixed:
            return BY_HAND
        if not task.allowed[female, bull]:
            return BARRED
        if task.bar[female, bull]:
            return HEIFERS
        if not self._under[female, bull]:
            return OVER_LIMIT
        return None if self._used[bull] else NOT_USED

    def rise(self, female: int, bull: int) -> float | None:
        """Return by how much the total rises at the least when she is with this bull; None if never."""
        if self._hindered(female, bull) is not None or self.answer.bull_of[female] < 0:
            return None
        ways, best = self._swaps
        here = int(best[self._at[female]])
        way = int(ways[bull, here])
        if way >= NEVER // 2:
            return None
        back = int(self._whole[female, here]) if here < self._bulls else 0
        return math.ldexp(int(self._whole[female, bull]) - back + way, -self._power)

    # A female without a bull.

    def unplaced(self, female: int) -> Unplaced:
        """Return what would place a female who has no bull; raises ValueError when she has one."""
        if self.answer.bull_of[female] >= 0:
            raise ValueError("She has a bull.")
        task, reason = self.task, self.answer.reason[female] or OTHER
        if reason == CLASH:
            return Unplaced(female, reason, clash=self.answer.clash)
        adds = self._adds(female)
        reached = adds < NEVER // 2
        more = reached & self._used & (task.taken <= task.capacity)
        bulls = _in_order(more, adds, task.first_bull)
        with_heifers = self._open_but_for_heifers[female] | self._heifers_beside(reached & self._used)
        only_barred = ~task.allowed[female] & ~task.bar[female] & self._under[female]
        could = ~self._used & (task.capacity > 0) & ~task.rivals[:, self._used].any(axis=1)
        could &= task.least_group <= 1
        return Unplaced(
            female,
            reason,
            room=bool((reached & self._spare).any()),
            limit=self._limit(female),
            place_with=tuple(bulls),
            adds=tuple(math.ldexp(int(adds[bull]), -self._power) for bull in bulls),
            bull_no_closer=task.limit,
            heifer=bool(task.bar[female].any()),
            bull_group=max(task.least_group, 1),
            bull_beyond=task.most_bulls if self._as_many_as_may_be else None,
            fit_for_heifers=tuple(_in_order(with_heifers & self._ends, self._whole[female], task.first_bull)),
            allow=tuple(_in_order(only_barred & self._ends, self._whole[female], task.first_bull)),
            use=tuple(_in_order(reached & could, adds, task.first_bull)),
        )

    @property
    def _as_many_as_may_be(self) -> bool:
        """Whether as many bulls have females as may be used."""
        most = self.task.most_bulls
        return most is not None and int((self._held[:-1] + self.task.taken > 0).sum()) >= most

    def _adds(self, female: int) -> Ints:
        """Return what placing her adds at the least if one more may be with each bull, nobody put out."""
        direct = np.where(self._open[female], self._whole[female], NEVER)
        if not len(direct):
            return direct
        ways, _ = self._moves
        enters = np.where(self._used, direct, NEVER)
        return np.asarray(np.minimum((enters[:, np.newaxis] + ways).min(axis=0), direct))

    @cached_property
    def _open_but_for_heifers(self) -> Flags:
        return np.asarray(self.task.allowed & self._under & self.task.bar)

    def _heifers_beside(self, reached: Flags) -> Flags:
        """Return the bulls that a heifer within her reach could have if they were fit for heifers."""
        there = self._free[np.append(reached, False)[self._here]]
        return np.asarray(self._open_but_for_heifers[there].any(axis=0))

    def _limit(self, female: int) -> float | None:
        """Return the least limit at which there is a place for her and all that are placed now."""
        task = self.task
        may = task.allowed[female] & ~task.bar[female] & self._used
        if task.limit is None or not may.any():
            return None
        least = float(np.maximum(task.figure[female], self._least_limits)[may].min())
        return max(least, task.limit) if math.isfinite(least) else None

    # In words.

    def sentences(
        self, female: int, tags: Sequence[str], unknown: Collection[int] = ()
    ) -> tuple[Reason, ...]:
        """Return in words why a female is where she is, or what would place her.

        Parameters
        ----------
        female : int
        tags : sequence of str
            What the bulls are called.
        unknown : collection of int
            Bulls whose figure with her rests on nothing, and is not told as nil.
        """
        if self.answer.bull_of[female] >= 0:
            return _placed_words(self.placement(female), tags, unknown)
        return _unplaced_words(self.unplaced(female), tags)


def _ways(price: Ints, may: Flags, least: Ints, places: Ints, group: Ints) -> tuple[Ints, Ints]:
    """Return what the cheapest way between any two nodes adds (Floyd), and the best division.

    About `NEVER` where there is no way. The last node is the spare places, as in `Exchange`.
    """
    exchange = Exchange(price, may, least, places, group)
    exchange.finish()
    far = exchange.arcs()
    np.fill_diagonal(far, 0)
    for node in range(len(far)):
        far = np.minimum(far, far[:, node, np.newaxis] + far[node])
    return far, exchange.group


def _in_order(wanted: Flags, price: Ints, first: Ints) -> list[int]:
    """Return the bulls that are marked, the cheapest first, then as ranked."""
    ranked = first[wanted[first]]
    return [int(bull) for bull in ranked[np.argsort(price[ranked], kind="stable")]]


_WHY_NOT = {
    BY_HAND: "chosen by hand; with {tag} she would give {f:.1%}",
    BARRED: "with {tag} she would give {f:.1%}, but she is kept from him",
    HEIFERS: "with {tag} she would give {f:.1%}, but he is not marked fit for heifers",
    OVER_LIMIT: "{tag} would suit her better, but with {f:.1%} he is above the limit",
    NOT_USED: "with {tag} she would give {f:.1%}, but he is not used this season",
    FULL: "with {tag} she would give {f:.1%}, but he is full: with her there the figures of all calves "
    "would add up to {rise:.1%} more",
    LEAST_GROUP: "with {tag} she would give {f:.1%}, but her own group would be too small without her: with "
    "her there the figures of all calves would add up to {rise:.1%} more",
    NO_BETTER: "with {tag} she would give {f:.1%}, which is no better",
    ROOM: "{tag} has a place for her, and she would give {f:.1%}: sort again",
}
_UNKNOWN = {
    BY_HAND: "chosen by hand; how she is related to {tag} is not known",
    BARRED: "how she is related to {tag} is not known; she is kept from him",
    HEIFERS: "how she is related to {tag} is not known; he is not marked fit for heifers",
    OVER_LIMIT: "how she is related to {tag} is not known; he is above the limit",
    NOT_USED: "how she is related to {tag} is not known; he is not used this season",
    NO_BETTER: "how she is related to {tag} is not known",
    FULL: "how she is related to {tag} is not known; he is full",
    LEAST_GROUP: "how she is related to {tag} is not known; her own group would be too small without her",
    ROOM: "how she is related to {tag} is not known; he has a place for her",
}
_EVEN = "with {tag} she would give {f:.1%}; a sort with her there would be as good as this one"
_NEVER_THERE = "with {tag} she would give {f:.1%}, but he is full, and nobody there can make room for her"


def _placed_words(told: Placement, tags: Sequence[str], unknown: Collection[int]) -> tuple[Reason, ...]:
    """Say where she is, who comes next, and why she is not with the bull that suits her best."""
    beside, better = told.next_best, told.better
    values: dict[str, object] = {"here": told.figure, "own": tags[told.bull]}
    template = "{here:.1%} with {own}"
    if told.bull in unknown:
        template = "not known with {own}: no parent is in the book on one side, ask"
    elif beside and not (better and better.bull == beside.bull):
        values |= {"tag": tags[beside.bull], "f": beside.figure}
        template = "{here:.1%} with {own}; next best {tag} with {f:.1%}"
        if beside.bull in unknown:
            template = "{here:.1%} with {own}; with {tag} not known"
    here = Reason("here", template, values)
    if better is None:
        return (here,)
    shown = {"tag": tags[better.bull], "f": better.figure, "rise": better.rise}
    if better.bull in unknown:
        return here, Reason(better.code, _UNKNOWN[better.code], shown)
    template = _WHY_NOT[better.code]
    if better.code in (FULL, LEAST_GROUP) and better.rise is None:
        template = _NEVER_THERE
    elif better.code in (FULL, LEAST_GROUP) and not better.rise:
        template = _EVEN
    return here, Reason(better.code, template, shown)


def _unplaced_words(told: Unplaced, tags: Sequence[str]) -> tuple[Reason, ...]:
    """Say what would place her, each change by itself."""
    if told.reason == CLASH:
        return (Reason("clash", "the choices made by hand clash: take one of them back"),)
    words = []
    if told.room:
        words.append(Reason("room", "there is a place for her: sort again"))
    if told.place_with:
        words.append(_with(told.place_with, "place_with", "one more place with {tag} would be enough", tags))
    if told.use:
        words.append(_with(told.use, "use", "she would have a place if {tag} were used too", tags))
    words += _one_more_bull(told)
    if told.limit is not None and not told.room:
        words.append(Reason("limit", "a limit of {limit:.2%} would be enough", {"limit": told.limit}))
    if told.allow:
        template = "she would have a place if what keeps her from {tag} were lifted"
        words.append(_with(told.allow, "allow", template, tags))
    if told.fit_for_heifers:
        template = "she would have a place if {tag} were fit for heifers: only if his calves come easily"
        words.append(_with(told.fit_for_heifers, "fit_for_heifers", template, tags))
    return tuple(words)


def _with(bulls: tuple[int, ...], code: str, template: str, tags: Sequence[str]) -> Reason:
    return Reason(code, template, {"tag": tags[bulls[0]]})


def _one_more_bull(told: Unplaced) -> Iterator[Reason]:
    values = {"limit": told.bull_no_closer}
    if told.bull_no_closer is None:
        if told.heifer:
            yield Reason("bull", "one more bull fit for heifers would be enough", values)
        else:
            yield Reason("bull", "one more bull would be enough", values)
    elif told.heifer:
        template = (
            "one more bull would be enough, fit for heifers and no more related to her than {limit:.2%}"
        )
        yield Reason("bull", template, values)
    else:
        template = "one more bull would be enough, no more related to her than {limit:.2%}"
        yield Reason("bull", template, values)
    if told.bull_group > 1:
        template = "that bull would need {n} females, the least for a group"
        yield Reason("bull_group", template, {"n": told.bull_group})
    if told.bull_beyond is not None:
        template = "beside the bulls that have females he would be one more than the {n} that may be used"
        yield Reason("bull_beyond", template, {"n": told.bull_beyond})
