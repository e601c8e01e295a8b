"""A herd on its way forward, one season after another, as `years` runs it many times.

The animals are rows of some short arrays; those that leave are dropped. The coancestry of the living is
held whole and grown by the tabular rule: a calf has with every animal the mean of what its parents have with
it, and with itself ``(1 + F) / 2``, `F` the coancestry of its parents (Emik & Terrill 1949, J. Hered.
40:51-55; from memory). Shares of founders are halves of the parents' in the same way.

Of bulls that share their females the worse counts for each female, as in the sort, and each is as likely to
be the sire; the calf's kinship is then that with its sire. A new bull takes the place of one that leaves.

A year has 365 days and days count from the first bull-in. Twins are left out.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.founders import effective_founders
from herdbook.husbandry.placing import place_small
from herdbook.husbandry.years import HOME, NEVER, Company, Policy, Rates, Start

Ints = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

YEAR = 365
GROWN_MONTHS = 24
YOUNGEST_BULL_MONTHS = 12


class HerdAhead:
    """One repeat: today's herd, its policy and its chances.

    Parameters
    ----------
    start : Start
    policy : Policy
    rates : Rates
    limit : float
    years : int
        Most seasons that will be asked for.
    chance : numpy.random.Generator
    """

    def __init__(
        self,
        start: Start,
        policy: Policy,
        rates: Rates,
        limit: float,
        years: int,
        chance: np.random.Generator,
    ) -> None:
        self.policy, self.rates, self.limit, self.chance = policy, rates, limit, chance
        self.bulls_wanted = policy.bulls or max(1, int(start.bull.sum()))
        self.founders = start.shares.shape[1]
        room = (years + 1) * (self.bulls_wanted + 1)  # a column of shares for each bull that is bought
        self.shares: Reals = np.hstack([start.shares, np.zeros((len(start.born), room))])
        self.kinship: Reals = start.kinship
        self.female, self.bull, self.cow = start.female, start.bull, start.cow
        self.ready, self.fit = start.ready, start.fit
        self.born, self.calved, self.served = start.born, start.calved, start.served
        self.by_hand = start.by_hand
        alone = np.where(start.bull, np.cumsum(start.bull) - 1, -1)
        self.group: Ints = alone if start.group is None else start.group
        self.turn: Ints = np.zeros(len(start.born), dtype=np.int64) if start.turn is None else start.turn
        self.companies = dict(enumerate(start.companies))
        self.slots = list(zip(self.group[start.bull].tolist(), self.turn[start.bull].tolist(), strict=True))
        self.open: Flags = np.zeros(len(start.born), dtype=bool)
        self.bought = 0
        self._coming(start)
        self.size = policy.size or int((self.female & (self.cow | self.ready)).sum())

    # -- the rows --

    _OF_ANIMALS = (
        "female", "bull", "cow", "ready", "fit", "born", "calved", "served", "by_hand", "group", "turn",
        "open", "shares",
    )  # fmt: skip

    def _keep(self, stays: Flags) -> None:
        """Let all others go."""
        if stays.all():
            return
        for name in self._OF_ANIMALS:
            setattr(self, name, getattr(self, name)[stays])
        self.kinship = self.kinship[np.ix_(stays, stays)]

    def _add(
        self, kinship: Reals, among: Reals, shares: Reals, female: Flags, born: Ints, bull: bool
    ) -> None:
        """Add animals: `kinship` with those here, shape (new, n), and `among` themselves."""
        new = len(born)
        no, nothing = np.zeros(new, dtype=bool), np.zeros(new, dtype=np.int64)
        values = {
            "female": female, "bull": no | bull, "cow": no, "ready": no, "fit": ~female, "born": born,
            "calved": nothing + NEVER, "served": nothing, "by_hand": nothing - 1, "group": nothing - 1,
            "turn": nothing, "open": no, "shares": shares,
        }  # fmt: skip
        for name in self._OF_ANIMALS:
            setattr(self, name, np.concatenate([getattr(self, name), values[name]]))
        self.kinship = np.block([[self.kinship, kinship.T], [kinship, among]])

    def _calve(self, dams: Ints, sires: Ints, born: Ints) -> None:
        """Add a calf of each pair that has a part in what follows; a sire of -1 is not known.

        A heifer calf that is not kept is sold, and so are steers where no bull is home-bred.
        """
        lots = self.chance.random((2, len(dams)))
        female = lots[0] < self.rates.heifers
        part = np.where(female, lots[1] < self._kept_share(), self.policy.source == HOME)
        dams, sires, born, female = dams[part], sires[part], born[part], female[part]
        kinship, among = of_calves(self.kinship, dams, sires)
        fathers = np.where((sires >= 0)[:, np.newaxis], self.shares[sires], 0.0)
        self._add(kinship, among, 0.5 * (self.shares[dams] + fathers), female, born, bull=False)

    def _coming(self, start: Start) -> None:
        """Let the calves on their way be born, then leave out who is no part of the herd."""
        draws = self.chance.random((len(start.coming), 2))
        dams, sires, born = [], [], []
        for calf, (comes, whose) in zip(start.coming, draws.tolist(), strict=True):
            if comes < calf.chance * self.rates.rearing:
                dams.append(calf.dam)
                sires.append(_drawn(calf.sires, whose))
                born.append(calf.due)
        here = len(start.born)
        young = start.female & ~start.cow & ~start.ready
        kept = start.stays & (~young | (self.chance.random(here) < self._kept_share()))
        self._calve(*(np.array(each, dtype=np.int64) for each in (dams, sires, born)))
        self._keep(np.append(kept, np.ones(len(self.born) - here, dtype=bool)))

    def _kept_share(self) -> float:
        return 1.0 if self.policy.keep is None else self.policy.keep

    # -- a season --

    def season(self, year: int) -> tuple[float, ...]:
        """Run one season and return its figures, in the order of `years.FIGURES`.

        Raises
        ------
        ValueError
            If more bulls are bought than there is room for: seasons beyond the `years` given.
        """
        day, bought = YEAR * year, self.bought
        if year:
            self._leave()
        self._keep(~(self.female & (day - self.born >= YEAR * self.policy.cull_years)))
        self._change_bulls(year, day)
        self._choose_heifers(year, day)
        females, bulls = np.flatnonzero(self._may_be_bred(year, day)), np.flatnonzero(self.bull)
        teams = self._teams(bulls)
        cost = self._worst(females, teams)
        fit = np.array([self.fit[team].all() for team in teams], dtype=bool)
        allowed = self.cow[females, np.newaxis] | fit[np.newaxis, :]
        room = self._room(teams, bulls, day)
        bull_of, within = self._place(cost, allowed, room)
        placed = np.flatnonzero(bull_of >= 0)
        inbred = cost[placed, bull_of[placed]]
        founders, effective = self._founders(np.concatenate([females, bulls]))
        reared = self._breed(females, self._sires(teams, bull_of), day)
        calves = inbred[reared[placed]]
        working = room > 0
        return (
            float(calves.mean()) if len(calves) else np.nan,
            float(calves.max()) if len(calves) else np.nan,
            float((cost > self.limit).mean()) if cost.size else 0.0,
            float((inbred > self.limit).mean()) if len(inbred) else 0.0,
            founders,
            effective,
            len(calves),
            len(females),
            most_placed(allowed, room) - within,
            _bulls_of(teams, working & ~(allowed & (cost <= self.limit)).any(axis=0))
            if len(females)
            else 0.0,
            self.bought - bought,
        )

    def _leave(self) -> None:
        """Let chance take who leaves before the season: open females, other reasons, lost bulls."""
        lots = self.chance.random((2, len(self.born)))
        grown = self.female & (self.cow | self.open)
        gone = grown & (lots[0] < self.rates.other_leaves)
        gone |= self.open & (lots[1] < self.rates.open_leaves)
        gone |= self.bull & (lots[0] < self.rates.bull_leaves)
        self._keep(~gone)
        self.open = np.zeros(len(self.born), dtype=bool)

    def _months(self, rows: Ints | Flags, day: int) -> Ints:
        return (day - self.born[rows]) * 12 // YEAR

    def _may_be_bred(self, year: int, day: int) -> Flags:
        """Return the females that may go to the bull: grown, and in heat before he leaves."""
        if not year:
            return self.female & self.ready
        grown = (day - self.born) * 12 // YEAR >= self.rates.breeding_months
        again = self.calved + self.rates.first_heat[0] < day + self.rates.season_days
        return np.asarray(self.female & (self.cow | grown) & again)

    def _choose_heifers(self, year: int, day: int) -> None:
        """Keep as many heifers of the age as hold the herd's size, those first for which there is a bull."""
        if self.policy.keep is not None:
            return
        heifers = np.flatnonzero(self._may_be_bred(year, day) & ~self.cow)
        lots = self.chance.random(len(heifers))
        spare = len(heifers) - max(0, self.size - int((self.female & self.cow).sum()))
        if spare <= 0:
            return
        teams = [team for team in self._teams(np.flatnonzero(self.bull)) if self.fit[team].all()]
        suited = (self._worst(heifers, teams) <= self.limit).any(axis=1)
        order = np.lexsort((lots, ~suited))
        stays = np.ones(len(self.born), dtype=bool)
        stays[heifers[order[len(heifers) - spare :]]] = False
        self._keep(stays)

    def _place(self, cost: Reals, allowed: Flags, room: Ints) -> tuple[Ints, int]:
        """Return each female's bull, and how many have one within the limit."""
        bull_of = place_small(cost, allowed, room, self.limit)
        within = int((bull_of >= 0).sum())
        left = np.flatnonzero(bull_of < 0)
        if not self.policy.strict and len(left):
            taken = np.bincount(bull_of[bull_of >= 0], minlength=len(room))
            bull_of[left] = place_small(cost[left], allowed[left], room - taken)
        return bull_of, within

    def _breed(self, females: Ints, sires: Ints, day: int) -> Flags:
        """Let who is placed conceive and calve; return which females rear a calf."""
        rates = self.rates
        conceived = self._conceived(females, day)
        lots = self.chance.random((2, len(females)))
        held = (sires >= 0) & (conceived >= 0)
        calves = held & (lots[0] < rates.calving)
        reared = calves & (lots[1] < rates.rearing)
        due = conceived + rates.gestation
        self.open[females] = ~calves
        self.cow = self.cow.copy()
        self.cow[females[calves]] = True
        self.calved = self.calved.copy()
        self.calved[females[calves]] = due[calves]
        self.served = self.served + self.bull
        self._calve(females[reared], sires[reared], due[reared])
        return np.asarray(reared)

    def _conceived(self, females: Ints, day: int) -> Ints:
        """Return the day on which each female conceives with a bull at her side, -1 where she does not.

        The law of `paternity.conception_by_day`, with the rest after calving before it.
        """
        rates = self.rates
        begins = day + self.chance.integers(0, rates.cycle, len(females))
        low, high = rates.first_heat
        heat = self.calved[females] + self.chance.integers(low, high + 1, len(females))
        heat = np.where(heat < day, begins, heat)
        if rates.conception <= 0.0:
            return np.full(len(females), -1)
        heat += rates.cycle * (self.chance.geometric(rates.conception, len(females)) - 1)
        return np.where(heat < day + rates.season_days, heat, -1)

    # -- bulls --

    def _teams(self, bulls: Ints) -> list[Ints]:
        """Return the rows of the bulls that share their females, in the order in which they stand."""
        teams: dict[int, list[int]] = {}
        for row, group in zip(bulls.tolist(), self.group[bulls].tolist(), strict=True):
            teams.setdefault(group, []).append(row)
        return [np.array(team, dtype=np.int64) for team in teams.values()]

    def _worst(self, females: Ints, teams: list[Ints]) -> Reals:
        """Return the inbreeding of each female's calf with each team: by its bull who is worst for her."""
        cost: Reals = self.kinship[np.ix_(females, np.concatenate([*teams, np.empty(0, dtype=np.int64)]))]
        if all(len(team) == 1 for team in teams):
            return cost
        first = np.cumsum([0, *(len(team) for team in teams[:-1])])
        return np.asarray(np.maximum.reduceat(cost, first, axis=1))

    def _room(self, teams: list[Ints], bulls: Ints, day: int) -> Ints:
        """Return how many females each team may have, as `bullpower.group_capacity` counts."""
        capacity = np.zeros(len(self.born), dtype=np.int64)
        capacity[bulls] = self._capacity(bulls, day)
        return np.array([self._room_of(team, capacity[team]) for team in teams], dtype=np.int64)

    def _room_of(self, team: Ints, capacity: Ints) -> int:
        said = self.companies.get(int(self.group[team[0]]), Company())
        room = said.room
        if room is None:
            turns = self.turn[team]
            room = min(int(capacity[turns == turn].sum()) for turn in set(turns.tolist()))
        return room if said.paddock is None else min(room, said.paddock)

    def _sires(self, teams: list[Ints], bull_of: Ints) -> Ints:
        """Return the sire that each placed female's calf would have, -1 without a bull."""
        sires = np.full(len(bull_of), -1, dtype=np.int64)
        for at, team in enumerate(teams):
            there = np.flatnonzero(bull_of == at)
            lots = self.chance.integers(0, len(team), len(there)) if len(team) > 1 else 0
            sires[there] = team[lots]
        return sires

    def _capacity(self, bulls: Ints, day: int) -> Ints:
        """Return how many females each bull may have, as `bullpower.bull_capacity` counts."""
        months, by_hand = self._months(bulls, day), self.by_hand[bulls]
        by_age = np.where(months < GROWN_MONTHS, np.minimum(months, self.rates.ceiling), self.rates.ceiling)
        by_age[months < YOUNGEST_BULL_MONTHS] = 0
        self.by_hand = self.by_hand.copy()
        # What was said of a young bull was said of that season.
        self.by_hand[bulls[months < GROWN_MONTHS]] = -1
        return np.where(by_hand >= 0, by_hand, by_age)

    def _change_bulls(self, year: int, day: int) -> None:
        """Let go the bulls whose time is over, and find those in their place."""
        bulls = np.flatnonzero(self.bull)
        bulls = bulls[np.lexsort((self.born[bulls], -self.served[bulls]))]  # longest served first
        over = self._over(bulls, year, day)
        staying, leaving = bulls[~over], bulls[over]
        staying = staying[max(0, len(staying) - self.bulls_wanted) :]
        new = self.bulls_wanted - len(staying)
        home: list[int] = []
        if self.policy.source == HOME:
            home = self._home_bred(new, year, day)
            spare = new - len(home)
            staying = np.append(staying, leaving[max(0, len(leaving) - spare) :])
            new = 0 if len(staying) + len(home) else 1
        uses = np.append(staying, np.array(home, dtype=np.int64))
        places = self._places(staying, len(home) + new)
        for row, place in zip(home, places, strict=False):
            self.group[row], self.turn[row] = place
        stays = self.female | ((day - self.born) * 12 // YEAR < YOUNGEST_BULL_MONTHS)
        stays[bulls] = False
        stays[uses] = True
        self.bull = np.zeros(len(self.born), dtype=bool)
        self.bull[uses] = True
        self._keep(stays)
        for place in places[len(home) :]:
            self._buy(day)
            self.group[-1], self.turn[-1] = place

    def _places(self, staying: Ints, new: int) -> list[tuple[int, int]]:
        """Return the group and turn of each new bull: where one is missing, else a group of his own."""
        self.group, self.turn = self.group.copy(), self.turn.copy()
        filled = Counter(zip(self.group[staying].tolist(), self.turn[staying].tolist(), strict=True))
        free = sorted((Counter(self.slots) - filled).elements())[:new]
        for group, _ in free:  # what was said of the old bulls together is not said of the new ones
            self.companies[group] = replace(self.companies.get(group, Company()), room=None)
        first = 1 + max((group for group, _ in self.slots), default=-1)
        more = [(first + at, 0) for at in range(new - len(free))]
        self.slots += more
        return free + more

    def _over(self, bulls: Ints, year: int, day: int) -> Flags:
        """Return whose time is over, of bulls in the order in which they would leave."""
        policy = self.policy
        over = np.zeros(len(bulls), dtype=bool)
        if policy.bull_years is not None:
            over |= self.served[bulls] >= policy.bull_years
        if policy.bull_age is not None:
            over |= day - self.born[bulls] >= YEAR * policy.bull_age
        if policy.swap_every is not None and year and year % policy.swap_every == 0:
            over[:1] = True
        return over

    def _home_bred(self, wanted: int, year: int, day: int) -> list[int]:
        """Return the bull calves of the herd, grown, that are least kin to the females to be bred."""
        grown = self._months(np.arange(len(self.born)), day) >= YOUNGEST_BULL_MONTHS
        sons = np.flatnonzero(~self.female & ~self.bull & grown)
        females = np.flatnonzero(self._may_be_bred(year, day))
        if not len(sons) or not len(females):
            return []
        mean = self.kinship[np.ix_(sons, females)].mean(axis=1)
        order = np.lexsort((self.born[sons], mean))
        return [int(row) for row in sons[order[:wanted]]]

    def _buy(self, day: int) -> None:
        column = self.founders + self.bought
        if column >= self.shares.shape[1]:
            raise ValueError("The herd was made for fewer years than it is run.")
        self.bought += 1
        shares = np.zeros((1, self.shares.shape[1]))
        shares[0, column] = 1.0
        kinship = np.full((1, len(self.born)), self.policy.kin)
        born = np.array([day - -(-self.rates.bought_months * YEAR // 12)])
        self._add(kinship, np.array([[0.5]]), shares, np.zeros(1, dtype=bool), born, bull=True)

    def _founders(self, breeding: Ints) -> tuple[float, float]:
        """Return how many of today's founders have genes here, and the effective number of those bred."""
        here = int((self.shares[:, : self.founders] > 0).any(axis=0).sum())
        part = self.shares[breeding].sum(axis=0)
        return here, effective_founders(part[part > 0].tolist()) or 0.0


def _bulls_of(teams: list[Ints], marked: Flags) -> float:
    """Return how many bulls are in the teams that are marked."""
    return float(sum(len(team) for team, mark in zip(teams, marked.tolist(), strict=True) if mark))


def of_calves(kinship: Reals, dams: Ints, sires: Ints) -> tuple[Reals, Reals]:
    """Return the coancestry of calves with the animals here, and among themselves.

    Parameters
    ----------
    kinship : ndarray of float, shape (n, n)
        Coancestry of the animals here; on the diagonal (1 + F) / 2.
    dams, sires : ndarray of int, shape (m,)
        Rows of the parents; a sire of -1 is not known and kin to nobody.

    Returns
    -------
    tuple of ndarray of float, shapes (m, n) and (m, m)
    """
    known = sires >= 0
    fathers = np.where(known[:, np.newaxis], kinship[sires], 0.0)
    those = 0.5 * (kinship[dams] + fathers)
    among = 0.5 * (those[:, dams] + np.where(known, those[:, sires], 0.0))
    inbred = np.where(known, kinship[sires, dams], 0.0)
    np.fill_diagonal(among, 0.5 * (1.0 + inbred))
    return those, among


def most_placed(allowed: Flags, room: Ints) -> int:
    """Return how many females could have a bull without a limit.

    A bull that may have heifers may have cows too, so heifers go first, to the bulls that may have them.
    """
    cow = allowed.all(axis=1)
    heifers, cows = int((~cow).sum()), int(cow.sum())
    for_heifers = int(room[allowed[~cow].any(axis=0)].sum()) if heifers else 0
    first = min(heifers, for_heifers)
    return first + min(cows, int(room.sum()) - first)


def _drawn(sires: tuple[tuple[int, float], ...], lot: float) -> int:
    """Return the sire that a lot between 0 and 1 falls on; -1 on what the chances leave over."""
    for sire, chance in sires:
        lot -= chance
        if lot < 0:
            return sire
    return -1
